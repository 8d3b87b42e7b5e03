"""Amounts larger than the tables keep are refused in words, wherever one can be typed."""

from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client

from billing import actions as billing
from billing.lines import BillLine
from billing.pricing import PriceLine, PricingError
from jobs import actions as jobs
from shop.forms import MoneyField
from tests import cast
from tests.billing import make

pytestmark = pytest.mark.django_db
D = Decimal
WORDS = "more than can be kept"


@pytest.fixture
def boss() -> Client:
    make.shop()
    make.price_book()
    return cast.signed_in(cast.owner())


def test_field_takes_ten_digits_and_no_more(boss: Client) -> None:
    assert MoneyField().clean("99999999.99") == D("99999999.99")
    for typed in ("100000000", "-100000000"):
        with pytest.raises(ValidationError, match=WORDS):
            MoneyField(allow_negative=True).clean(typed)


ITEM = {"number": "X", "name": "X", "kind": "blank", "price": "1000000000", "tax_class": "parts"}
AFTER_HOURS = {"after_hours_from": "18:00", "after_hours_until": "08:00", "after_hours_price": "1000000000"}


@pytest.mark.parametrize(
    ("path", "typed"),
    [
        ("/stock/add", ITEM),
        ("/prices", {"do": "after_hours", **AFTER_HOURS}),
        ("/prices", {"do": "bands", "band-0-up_to_km": "10", "band-0-price": "1000000000"}),
    ],
)
def test_price_is_refused_beside_its_field(boss: Client, path: str, typed: dict[str, Any]) -> None:
    answer = boss.post(path, typed)
    assert answer.status_code == 422
    assert WORDS in answer.content.decode()


@pytest.mark.parametrize(("kind", "price"), [("other", "99999999"), ("discount", "99999999")])
def test_price_told_is_refused_when_quantity_makes_it_too_large(boss: Client, kind: str, price: str) -> None:
    rows = [("other", "99999999", "1000"), (kind, price, "1000")]
    typed = {"do": "tell"}
    for number, (each, amount, quantity) in enumerate(rows):
        typed |= {f"line-{number}-{name}": value for name, value in (("text", "Work"), ("kind", each))}
        typed |= {f"line-{number}-price": amount, f"line-{number}-quantity": quantity}
    answer = boss.post(f"/jobs/{make.job().number}/price", typed)
    assert answer.status_code == 422
    assert WORDS in answer.content.decode()


def test_draft_refuses_a_line_that_cannot_be_kept(boss: Client) -> None:
    job = jobs.close_job(make.job(), actor=None, state="called_off", reason="Found the key")
    invoice = billing.draft_invoice(job, actor=None)
    line = PriceLine("other", "Work", D(1000), D("99999999"), "labour")
    with pytest.raises(PricingError, match=WORDS):
        billing.change_draft(invoice, actor=None, lines=[BillLine(line)])
