from datetime import date, time

import pytest
from django.contrib.auth.hashers import check_password

from shop.errors import Refused
from shop.models import Shop
from shop.staff import actions
from shop.staff.errors import AlreadySetUp, LastOwner, NotYourself
from shop.staff.models import Person
from shop.staff.roles import Role
from tests.cast import PASSWORD, office, owner, person, technician
from tests.threads import at_once


@pytest.mark.django_db
def test_add_person_keeps_email_in_small_letters_and_roles() -> None:
    someone = person(Role.OFFICE, Role.TECHNICIAN, email=" Ines.Falk@Shop.Example ", phone="+12015550123")
    someone.refresh_from_db()
    assert (someone.email, someone.phone) == ("ines.falk@shop.example", "+12015550123")
    assert someone.roles == {Role.OFFICE, Role.TECHNICIAN}
    assert someone.check_password(PASSWORD)


@pytest.mark.django_db
def test_email_belongs_to_one_person_whatever_its_capitals() -> None:
    person(Role.OFFICE, email="a@shop.example")
    with pytest.raises(Refused, match="already") as refused:
        person(Role.OFFICE, email="A@Shop.Example")
    assert refused.value.field == "email"


@pytest.mark.django_db
def test_person_without_role_is_refused() -> None:
    with pytest.raises(Refused, match="role"):
        person()


@pytest.mark.django_db
def test_person_without_password_cannot_be_guessed() -> None:
    someone = person(Role.OFFICE, password=None)
    assert not check_password("", someone.password)
    assert not someone.has_usable_password()


@pytest.mark.django_db
def test_unknown_fact_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(TypeError, match="is_active"):
        person(Role.OFFICE, is_active=False)


@pytest.mark.django_db
def test_change_person_leaves_what_is_not_named() -> None:
    boss, someone = owner(), technician(phone="+12015550123")
    changed = actions.change_person(someone, actor=boss, name="New Name", roles=[Role.OFFICE])
    assert (changed.name, changed.phone, changed.roles) == ("New Name", "+12015550123", {Role.OFFICE})


@pytest.mark.django_db
def test_last_owner_stays_owner_until_there_is_another() -> None:
    boss = owner()
    with pytest.raises(LastOwner):
        actions.change_person(boss, actor=boss, roles=[Role.OFFICE])
    boss.refresh_from_db()
    assert boss.is_owner
    second = owner()
    assert not actions.change_person(boss, actor=second, roles=[Role.OFFICE]).is_owner


@pytest.mark.django_db
def test_nobody_switches_off_themselves_nor_the_last_owner() -> None:
    boss, helper = owner(), office()
    with pytest.raises(NotYourself):
        actions.switch_off(boss, actor=boss)
    with pytest.raises(LastOwner):
        actions.switch_off(boss, actor=helper)
    assert Person.objects.active().count() == 2


@pytest.mark.django_db
def test_owner_who_is_switched_off_does_not_count_as_one_left() -> None:
    boss, second = owner(), owner()
    actions.switch_off(second, actor=boss)
    with pytest.raises(LastOwner):
        actions.change_person(boss, actor=boss, roles=[Role.OFFICE])


@pytest.mark.django_db(transaction=True)
def test_two_owners_cannot_switch_off_each_other_in_the_same_instant() -> None:
    one, two = owner(), owner()
    results = at_once(lambda: actions.switch_off(one, actor=two), lambda: actions.switch_off(two, actor=one))
    assert sorted(type(each).__name__ for each in results) == ["LastOwner", "Person"]
    assert Person.objects.active().filter(is_owner=True).count() == 1


@pytest.mark.django_db
def test_set_up_shop_makes_an_owner_once() -> None:
    facts = {"name": "Ada Quist", "email": "ada@shop.example", "password": PASSWORD}
    first = actions.set_up_shop(**facts, shop_name="Quist Locks")
    assert first.roles == {Role.OWNER, Role.OFFICE}
    assert Shop.objects.get().name == "Quist Locks"
    with pytest.raises(AlreadySetUp):
        actions.set_up_shop(**{**facts, "email": "b@shop.example"}, shop_name="Other")
    assert Shop.objects.get().name == "Quist Locks"


@pytest.mark.django_db(transaction=True)
def test_two_visitors_setting_up_at_once_make_one_owner() -> None:
    def set_up(number: int) -> Person:
        email = f"first{number}@shop.example"
        return actions.set_up_shop(name="First", email=email, password=PASSWORD, shop_name=f"Shop {number}")

    results = at_once(*(lambda number=number: set_up(number) for number in range(4)))
    assert sum(isinstance(each, Person) for each in results) == 1
    assert sum(isinstance(each, AlreadySetUp) for each in results) == 3
    assert Person.objects.count() == 1


@pytest.mark.django_db
def test_set_week_replaces_the_whole_week() -> None:
    someone = technician()
    actions.set_week(someone, actor=None, shifts={0: (time(8), time(17)), 5: (time(9), time(13))})
    actions.set_week(someone, actor=None, shifts={0: (time(7), time(15)), 1: (time(8), time(17))})
    assert [(s.weekday, s.starts, s.ends) for s in someone.weekly_shifts.all()] == [
        (0, time(7), time(15)),
        (1, time(8), time(17)),
    ]
    with pytest.raises(Refused):
        actions.set_week(someone, actor=None, shifts={0: (time(17), time(8))})


@pytest.mark.django_db
def test_days_off_of_a_span_take_the_person_off_shift() -> None:
    someone = technician()
    actions.set_week(someone, actor=None, shifts={day: (time(8), time(17)) for day in range(7)})
    days = actions.add_day_off(someone, actor=None, on=date(2026, 3, 2), until=date(2026, 3, 4), reason="Course")
    assert [day.on.day for day in days] == [2, 3, 4]
    assert not Person.objects.on_shift(date(2026, 3, 3)).exists()
    actions.remove_day_off(days[1], actor=None)
    assert list(Person.objects.on_shift(date(2026, 3, 3))) == [someone]


@pytest.mark.django_db
def test_days_off_twice_keep_one_row_with_the_new_reason() -> None:
    someone = technician()
    actions.add_day_off(someone, actor=None, on=date(2026, 3, 2), reason="Course")
    actions.add_day_off(someone, actor=None, on=date(2026, 3, 2), reason="Dentist")
    assert [day.reason for day in someone.days_off.all()] == ["Dentist"]


@pytest.mark.django_db
@pytest.mark.parametrize("until", [date(2026, 3, 1), date(2027, 3, 2)])
def test_days_off_that_end_before_they_begin_or_never_are_refused(until: date) -> None:
    with pytest.raises(Refused) as refused:
        actions.add_day_off(technician(), actor=None, on=date(2026, 3, 2), until=until)
    assert refused.value.field == "until"
