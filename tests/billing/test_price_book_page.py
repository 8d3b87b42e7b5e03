"""The price book page: the owner changes it, the office reads it, bad figures are refused with the reason."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from billing.models import CallOutBand, LabourPrice, TaxRate
from billing.prices import current_book
from billing.pricing import PriceLine
from billing.taxes import add_up
from jobs.states import KindOfWork
from tests import cast
from tests.billing import make

pytestmark = pytest.mark.django_db
URL = "/prices"


@pytest.fixture(autouse=True)
def book() -> None:
    make.shop()
    make.price_book()


@pytest.fixture
def owner() -> Client:
    return cast.signed_in(cast.owner())


def bands(*rows: tuple[str, str]) -> dict[str, str]:
    typed = {"do": "bands", "form_key": str(uuid4())}
    for n, (km, price) in enumerate(rows):
        typed |= {f"band-{n}-up_to_km": km, f"band-{n}-price": price}
    return typed


def labour(**changed: str) -> dict[str, str]:
    typed = {"do": "labour", "form_key": str(uuid4())}
    for kind in KindOfWork:
        typed |= {f"labour-{kind}-price": "50.00", f"labour-{kind}-minutes": "40"}
    return typed | changed


def tax(**changed: str) -> dict[str, str]:
    usual = {"tax_class": "parts", "name": "Sales tax", "percent": "9.5", "holds_from": "2030-01-01"}
    return {"do": "tax", "form_key": str(uuid4()), **usual, **changed}


def test_price_book_is_read_by_the_office_and_changed_by_the_owner_only(owner: Client) -> None:
    office = cast.signed_in(cast.office())
    page = office.get(URL).content.decode()
    assert "110.00" in page
    assert "Keep call-out" not in page
    assert office.post(URL, bands(("10", "1"))).status_code == 403
    assert "Keep call-out" in owner.get(URL).content.decode()
    assert CallOutBand.objects.count() == 3


def test_price_book_refuses_other_methods_and_unknown_parts(owner: Client) -> None:
    assert owner.put(URL).status_code == 405
    assert owner.post(URL, {"do": "nonsense"}).status_code == 400
    assert owner.get("/prices/taxes/1/remove").status_code == 405
    assert owner.post("/prices/taxes/999999/remove").status_code == 404


def test_bands_are_written_anew_and_empty_rows_left_out(owner: Client) -> None:
    assert owner.post(URL, bands(("5", "30"), ("", ""), ("12,5", "50.50"))).status_code == 302
    assert list(CallOutBand.objects.values_list("up_to_km", "price")) == [
        (Decimal("5.0"), Decimal("30.00")),
        (Decimal("12.5"), Decimal("50.50")),
    ]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([("10", "30"), ("8", "50")], "more than 10 km"),
        ([("10", "30"), ("10", "50")], "more than 10 km"),
        ([("10", "-30")], "must not be below nothing"),
        ([("0", "30")], "At least 0.1."),
        ([("10", "")], "Which price?"),
        ([("", "30")], "Up to how many km?"),
        ([("far", "30")], "number"),
    ],
)
def test_bands_with_a_fault_are_refused_and_kept_as_typed(
    owner: Client, rows: list[tuple[str, str]], words: str
) -> None:
    answer = owner.post(URL, bands(*rows))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert CallOutBand.objects.count() == 3


def test_labour_is_changed_and_an_empty_price_leaves_the_book(owner: Client) -> None:
    changed = labour(**{"labour-rekey-price": "", "labour-rekey-minutes": "", "labour-lock_out-price": "99.90"})
    assert owner.post(URL, changed).status_code == 302
    assert LabourPrice.objects.get(kind_of_work=KindOfWork.LOCK_OUT).price == Decimal("99.90")
    assert not LabourPrice.objects.filter(kind_of_work=KindOfWork.REKEY).exists()


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"labour-rekey-price": "-1"}, "must not be below nothing"),
        ({"labour-rekey-minutes": ""}, "How long does it usually take?"),
        ({"labour-rekey-price": ""}, "Which price?"),
        ({"labour-rekey-minutes": "2"}, "At least 5."),
    ],
)
def test_labour_with_a_fault_is_refused(owner: Client, changed: dict[str, str], words: str) -> None:
    answer = owner.post(URL, labour(**changed))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert LabourPrice.objects.count() == 2


def test_after_hours_are_changed_or_refused(owner: Client) -> None:
    typed = {"do": "after_hours", "after_hours_from": "19:30", "after_hours_until": "07:00", "after_hours_price": "75"}
    assert owner.post(URL, typed).status_code == 302
    assert (current_book().after_hours_price, current_book().is_weekend_after_hours) == (Decimal("75.00"), False)
    answer = owner.post(URL, {**typed, "after_hours_until": "19:30"})
    assert answer.status_code == 422
    assert "another time than they begin" in answer.content.decode()


def test_tax_rate_holds_from_its_day_and_replaces_a_renamed_one(owner: Client) -> None:
    assert owner.post(URL, tax(name="Goods tax", percent="10", holds_from="2026-07-01")).status_code == 302
    line = PriceLine("item", "Blank", Decimal(1), Decimal("100.00"), "parts")
    # 8.25 % until the last day of June, 10 % from July on; never both.
    assert add_up([line], on=date(2026, 6, 30)).tax == Decimal("8.25")
    assert add_up([line], on=date(2026, 7, 1)).tax == Decimal("10.00")


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"holds_from": "2020-01-01"}, "begins on that day"),
        ({"percent": "-1"}, "A tax rate is not below nothing."),
        ({"percent": "101"}, "At most 100."),
        ({"tax_class": ""}, "Which class?"),
        ({"tax_class": "a<b"}, "Letters, digits and spaces only"),
        ({"holds_from": "someday"}, "valid date"),
    ],
)
def test_tax_rate_with_a_fault_is_refused(owner: Client, changed: dict[str, str], words: str) -> None:
    answer = owner.post(URL, tax(**changed))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert TaxRate.objects.count() == 2


def test_tax_rate_sent_twice_is_added_once(owner: Client) -> None:
    sent = tax()
    assert owner.post(URL, sent).status_code == owner.post(URL, sent).status_code == 302
    assert TaxRate.objects.count() == 3


def test_tax_rate_is_taken_back_only_before_it_held(owner: Client) -> None:
    held = TaxRate.objects.get(tax_class="parts")
    coming = TaxRate.objects.create(
        tax_class="parts", name="More", percent=9, holds_from=timezone.localdate() + timedelta(days=9)
    )
    for rate in (held, coming):
        owner.post(f"/prices/taxes/{rate.pk}/remove")
    assert list(TaxRate.objects.filter(tax_class="parts")) == [held]


@pytest.mark.parametrize("count", [1, 3])
def test_price_book_asks_the_same_queries_for_any_number_of_rates(
    owner: Client, count: int, django_assert_num_queries: Any
) -> None:
    for n in range(count):
        TaxRate.objects.create(tax_class="parts", name="More", percent=9, holds_from=date(2030, 1, n + 1))
    owner.get(URL)
    with django_assert_num_queries(6):
        owner.get(URL)


def test_items_are_found_by_two_letters_of_number_or_name() -> None:
    make.item("TB-100", name="Transponder blank, round head", price=Decimal("42.00"))
    make.item("C-9", name="Cell 2032")
    make.item("TB-200", name="Old blank", is_active=False)
    technician = cast.signed_in(cast.technician())
    page = technician.get("/prices/items", {"q": "tb"}).content.decode()
    assert "TB-100" in page
    assert "42.00" in page
    assert "TB-200" not in page
    assert "C-9" not in page
    assert "TB-100" in technician.get("/prices/items", {"q": "round"}).content.decode()
    assert technician.get("/prices/items", {"q": "t"}).content.decode().strip() == ""
