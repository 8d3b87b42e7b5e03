"""Pages of stock: who may open which, what is shown to whom, what is refused beside which field."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from shop.stock.actions import receive, use
from shop.stock.models import Balance, Item, Movement, Place, Supplier
from tests.cast import office, once_key, owner, signed_in, technician
from tests.shop.stock.stock_rows import item, shelf, supplier, van

pytestmark = pytest.mark.django_db

FOR_OFFICE = ["items", "item", "receive", "move", "count", "spoil"]
FOR_OWNER = ["add_item", "change_item", "places", "add_place", "change_place", "suppliers", "add_supplier"]


def address(name: str) -> str:
    kept, place = item(), shelf()
    keys = {"item": kept.pk, "change_item": kept.pk, "change_place": place.pk}
    keys |= dict.fromkeys(["receive", "move", "count", "spoil"], kept.pk)
    return reverse(f"stock:{name}", args=[keys[name]] if name in keys else [])


@pytest.mark.parametrize("name", [*FOR_OFFICE, *FOR_OWNER, "van"])
def test_each_page_opens_for_its_roles_only(name: str) -> None:
    url = address(name)
    seen = {
        role.__name__: signed_in(role()).get(url).status_code for role in (owner, office, technician)
    }  # roles that are not named are refused
    expected = {"owner": 403, "office": 403, "technician": 200} if name == "van" else {}
    expected = expected or {"owner": 200, "office": 200 if name in FOR_OFFICE else 403, "technician": 403}
    assert seen == expected
    assert Client().get(url).status_code == 302


@pytest.mark.parametrize("name", ["item", "change_item", "receive", "move", "count", "spoil"])
def test_missing_item_is_not_found(name: str) -> None:
    assert signed_in(owner()).get(reverse(f"stock:{name}", args=[987654])).status_code == 404


@pytest.mark.parametrize("rows", [1, 3])
def test_list_asks_the_database_the_same_for_any_number_of_items(
    rows: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    places = [shelf(), van()]
    for _ in range(rows):
        kept = item()
        for place in places:
            receive(kept, actor=None, place=place, quantity=2, unit_cost=Decimal("1.50"))
    client = signed_in(owner())
    client.get(reverse("stock:items"))
    with django_assert_num_queries(6):
        shown = client.get(reverse("stock:items")).content.decode()
    assert shown.count("6.00") >= rows


@pytest.mark.parametrize("rows", [1, 3])
def test_van_asks_the_database_the_same_for_any_number_of_lines(
    rows: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    driver = technician()
    place = van(driver=driver)
    for _ in range(rows):
        receive(item(), actor=None, place=place, quantity=2, unit_cost=Decimal("1.50"))
    client = signed_in(driver)
    client.get(reverse("stock:van"))
    with django_assert_num_queries(4):
        client.get(reverse("stock:van"))


def test_costs_are_the_owners() -> None:
    kept = item()
    receive(kept, actor=None, place=shelf(), quantity=7, unit_cost=Decimal("3.37"))
    pages = [reverse("stock:items"), reverse("stock:item", args=[kept.pk])]
    for page in pages:
        assert "23.59" in signed_in(owner()).get(page).content.decode()
        assert "23.59" not in signed_in(office()).get(page).content.decode()


def test_what_is_below_nothing_is_flagged_and_can_be_listed() -> None:
    low, fine = item(name="Low blank"), item(name="Fine blank")
    place = van()
    use(low, actor=None, place=place, quantity=2)
    receive(fine, actor=None, place=place, quantity=2, unit_cost=Decimal(1))
    client = signed_in(office())
    assert "Below nothing: count it" in client.get(reverse("stock:items")).content.decode()
    listed = client.get(reverse("stock:items"), {"show": "below"}).content.decode()
    assert "Low blank" in listed and "Fine blank" not in listed


def test_search_finds_by_number_and_by_part_of_the_name() -> None:
    item(number="X-310", name="Transponder blank, Aldren")
    item(number="Y-500", name="House door blank")
    client = signed_in(office())
    for typed in ("x-3", "ald", "blank transp"):
        found = client.get(reverse("stock:items"), {"q": typed}).content.decode()
        assert "X-310" in found and "Y-500" not in found, typed


@pytest.mark.parametrize(
    ("name", "sent", "field"),
    [
        ("receive", {"quantity": "0", "unit_cost": "1"}, "quantity"),
        ("receive", {"quantity": "two", "unit_cost": "1"}, "quantity"),
        ("receive", {"quantity": "2", "unit_cost": "-1"}, "unit_cost"),
        ("receive", {"quantity": "2", "unit_cost": "free"}, "unit_cost"),
        ("receive", {"quantity": "2", "unit_cost": "0.00001"}, "unit_cost"),
        ("receive", {"quantity": "99999999999", "unit_cost": "1"}, "quantity"),
        ("count", {"counted": "-1"}, "counted"),
        ("count", {"counted": ""}, "counted"),
        ("spoil", {"quantity": "1", "reason": "eaten"}, "reason"),
        ("spoil", {"quantity": "-1", "reason": "trial"}, "quantity"),
    ],
)
def test_bad_input_is_refused_beside_its_field_and_kept(name: str, sent: dict[str, str], field: str) -> None:
    kept, place = item(), shelf()
    answer = signed_in(office()).post(reverse(f"stock:{name}", args=[kept.pk]), {"place": place.pk, **sent})
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    assert all(
        f'value="{typed}"' in answer.content.decode() for name, typed in sent.items() if name != "reason" and typed
    )
    assert not Movement.objects.exists()


def test_moving_more_than_there_is_is_refused_beside_the_quantity() -> None:
    kept, place, target = item(), shelf(), van()
    receive(kept, actor=None, place=place, quantity=2, unit_cost=Decimal(1))
    sent = {"origin": place.pk, "target": target.pk, "quantity": "3"}
    answer = signed_in(office()).post(reverse("stock:move", args=[kept.pk]), sent)
    assert answer.status_code == 422
    assert answer.context["form"].errors["quantity"] == ["The books hold 2 at Shelf. Count it first if there are more."]


def test_same_receipt_sent_twice_is_taken_in_once() -> None:
    kept, place = item(), shelf()
    client, key = signed_in(office()), once_key()
    sent = {"form_key": key, "place": place.pk, "quantity": "5", "unit_cost": "0.085", "note": "Bill 77"}
    answers = [client.post(reverse("stock:receive", args=[kept.pk]), sent) for _ in range(2)]
    assert [answer["Location"] for answer in answers] == [reverse("stock:item", args=[kept.pk])] * 2
    assert Balance.objects.get(item=kept).quantity == 5


def test_owner_adds_and_changes_an_item() -> None:
    client, sold_by = signed_in(owner()), supplier()
    sent = {"number": "L-99", "name": "Cylinder", "kind": "lock_part", "price": "42", "tax_class": "parts"}
    client.post(reverse("stock:add_item"), {**sent, "supplier": sold_by.pk, "is_active": "on"})
    kept = Item.objects.get(number="L-99")
    assert (kept.price, kept.supplier, kept.is_active) == (42, sold_by, True)
    client.post(reverse("stock:change_item", args=[kept.pk]), {**sent, "price": "45.50"})
    kept.refresh_from_db()
    assert (kept.price, kept.supplier, kept.is_active) == (Decimal("45.50"), None, False)


def test_item_number_twice_and_a_price_below_nothing_are_refused_beside_the_field() -> None:
    client, kept = signed_in(owner()), item(number="L-99")
    sent = {"number": "L-99", "name": "Again", "kind": "lock_part", "price": "1", "tax_class": "parts"}
    assert list(client.post(reverse("stock:add_item"), sent).context["form"].errors) == ["number"]
    sent |= {"number": "L-98", "price": "-1"}
    assert list(client.post(reverse("stock:add_item"), sent).context["form"].errors) == ["price"]
    assert list(Item.objects.all()) == [kept]


def test_owner_gives_a_van_and_keeps_a_supplier() -> None:
    client, driver = signed_in(owner()), technician(name="Jonas Brackwater")
    client.post(reverse("stock:add_place"), {"name": "Van 7", "kind": "van", "driver": driver.pk})
    assert Place.objects.get(name="Van 7").driver == driver
    assert "Jonas Brackwater" in client.get(reverse("stock:places")).content.decode()
    sent = {"name": "Northbank", "phone": "", "email": "", "lead_days": "12"}
    client.post(reverse("stock:add_supplier"), sent)
    kept = Supplier.objects.get(name="Northbank")
    refused = client.post(reverse("stock:change_supplier", args=[kept.pk]), {**sent, "lead_days": "-1"})
    assert list(refused.context["form"].errors) == ["lead_days"]


def test_technician_counts_the_own_van_and_no_other() -> None:
    driver, other = technician(), technician()
    kept, theirs = item(name="Blank here"), item(name="Blank there")
    receive(kept, actor=None, place=van("Van 1", driver), quantity=5, unit_cost=Decimal(1))
    receive(theirs, actor=None, place=van("Van 2", other), quantity=5, unit_cost=Decimal(1))
    client = signed_in(driver)
    shown = client.get(reverse("stock:van")).content.decode()
    assert "Blank here" in shown and "Blank there" not in shown
    client.post(reverse("stock:count_van", args=[kept.pk]), {"counted": "3"})
    assert Balance.objects.get(item=kept).quantity == 3
    assert client.post(reverse("stock:count_van", args=[theirs.pk]), {"counted": "3"}).status_code == 404
    refused = client.post(reverse("stock:count_van", args=[kept.pk]), {"counted": "-4"})
    assert refused.status_code == 422 and 'value="-4"' in refused.content.decode()
    assert Balance.objects.get(item=kept).quantity == 3


def test_technician_without_a_van_is_told_so() -> None:
    assert "No van is yours" in signed_in(technician()).get(reverse("stock:van")).content.decode()
