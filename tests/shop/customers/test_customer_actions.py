from decimal import Decimal

import pytest

from shop.customers import actions
from shop.customers.errors import KnownAlready
from shop.customers.models import Address, Customer, CustomerKind

pytestmark = pytest.mark.django_db

NUMBER, OTHER = "+12015550123", "+12015550124"


def add(name: str = "Ella Holmere", **facts: object) -> Customer:
    return actions.add_customer(actor=None, name=name, **facts)  # type: ignore[arg-type]


def test_add_customer_with_numbers_and_emails() -> None:
    ella = add(phones=[(NUMBER, "mobile"), (OTHER, "")], emails=[("ella@post.example", "")], warning="Dog in the yard")
    assert ella.kind == CustomerKind.PERSON
    assert [(p.number, p.label) for p in ella.phones.all()] == [(NUMBER, "mobile"), (OTHER, "")]
    assert [e.address for e in ella.emails.all()] == ["ella@post.example"]


def test_number_twice_is_refused_and_nothing_is_kept() -> None:
    with pytest.raises(KnownAlready) as refused:
        add(phones=[(NUMBER, ""), (NUMBER, "again")])
    assert refused.value.field == "phones"
    assert not Customer.objects.exists()


def test_number_of_another_customer_is_allowed() -> None:
    # Two people share a household's telephone.
    ella, jon = add(phones=[(NUMBER, "")]), add("Jon Holmere", phones=[(NUMBER, "")])
    assert set(Customer.objects.reached_by(NUMBER)) == {ella, jon}
    assert list(Customer.objects.sharing_a_number_with(ella)) == [jon]


def test_change_customer_takes_the_given_lists_whole_and_leaves_the_others() -> None:
    ella = add(phones=[(NUMBER, "mobile"), (OTHER, "")], emails=[("ella@post.example", "")])
    kept = ella.phones.get(number=NUMBER).pk
    actions.change_customer(ella, actor=None, name="Ella Norwick", phones=[(NUMBER, "home")])
    ella.refresh_from_db()
    assert ella.name == "Ella Norwick"
    assert [(p.pk, p.label) for p in ella.phones.all()] == [(kept, "home")]
    assert ella.emails.count() == 1
    actions.change_customer(ella, actor=None, emails=[("new@post.example", "bills")])
    assert [(e.address, e.label) for e in ella.emails.all()] == [("new@post.example", "bills")]


def test_single_numbers_and_emails_come_and_go() -> None:
    ella = add()
    phone = actions.add_phone(ella, actor=None, number=NUMBER)
    email = actions.add_email(ella, actor=None, address="ella@post.example")
    with pytest.raises(KnownAlready):
        actions.add_email(ella, actor=None, address="ella@post.example")
    actions.remove_phone(phone, actor=None)
    actions.remove_email(email, actor=None)
    assert (ella.phones.count(), ella.emails.count()) == (0, 0)


def test_addresses_are_added_changed_and_removed() -> None:
    ella = add()
    lat, lon = Decimal("52.5163"), Decimal("13.3777")
    place = actions.add_address(ella, actor=None, street="Mill Lane 14", town="Brackwater", latitude=lat, longitude=lon)
    actions.change_address(place, actor=None, access_notes="Gate 4711", latitude=None, longitude=None)
    place.refresh_from_db()
    assert (place.access_notes, place.latitude, place.town) == ("Gate 4711", None, "Brackwater")
    actions.remove_address(place, actor=None)
    assert not Address.objects.exists()


@pytest.mark.parametrize("facts", [{"nickname": "El"}, {"name_search": "ella"}])
def test_unknown_facts_are_a_mistake_of_the_caller(facts: dict[str, str]) -> None:
    with pytest.raises(TypeError):
        actions.change_customer(add(), actor=None, **facts)  # type: ignore[arg-type]
