"""Who is let in, and how guessing is slowed down."""

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from shop.staff import actions
from shop.staff.errors import SwitchedOff, TooManyTries, WrongSignIn
from shop.staff.models import SignInTry
from shop.staff.rules import MOST_FOR_ADDRESS, MOST_FOR_BOTH, MOST_FOR_EMAIL, WINDOW, Limit, minutes_to_wait
from shop.staff.sign_in import sign_in
from tests.cast import PASSWORD, office, owner
from tests.threads import at_once

HERE, ELSEWHERE = "192.0.2.10", "198.51.100.7"
NOW = timezone.now()


def wrong(times: int, *, email: str, address: str, at: datetime = NOW) -> None:
    for number in range(times):
        with pytest.raises(WrongSignIn):
            sign_in(email=email, password="no", address=address, at=at + timedelta(milliseconds=number))


@pytest.mark.django_db
def test_email_is_read_without_regard_to_capitals_and_blanks() -> None:
    someone = office(email="ines@shop.example")
    assert sign_in(email=" INES@Shop.example ", password=PASSWORD, address=HERE) == someone


@pytest.mark.django_db
def test_wrong_password_and_unknown_email_get_the_same_words() -> None:
    someone = office()
    told = []
    for email in (someone.email, "nobody@shop.example"):
        with pytest.raises(WrongSignIn) as refused:
            sign_in(email=email, password="no", address=HERE)
        told.append(str(refused.value))
    assert told[0] == told[1]


@pytest.mark.django_db
def test_switched_off_person_is_told_so_only_with_the_right_password() -> None:
    boss, someone = owner(), office()
    actions.switch_off(someone, actor=boss)
    with pytest.raises(SwitchedOff, match="switched off"):
        sign_in(email=someone.email, password=PASSWORD, address=HERE)
    with pytest.raises(WrongSignIn):
        sign_in(email=someone.email, password="no", address=HERE)


@pytest.mark.django_db
def test_guesses_from_one_place_wait_and_are_let_in_after_the_window() -> None:
    someone = office()
    wrong(MOST_FOR_BOTH, email=someone.email, address=ELSEWHERE)
    with pytest.raises(TooManyTries, match="15 min"):
        sign_in(email=someone.email, password=PASSWORD, address=ELSEWHERE, at=NOW + timedelta(seconds=1))
    later = NOW + WINDOW + timedelta(seconds=2)
    assert sign_in(email=someone.email, password=PASSWORD, address=ELSEWHERE, at=later) == someone


@pytest.mark.django_db
def test_stranger_who_guesses_does_not_lock_out_the_person_at_the_shop() -> None:
    someone = office()
    sign_in(email=someone.email, password=PASSWORD, address=HERE, at=NOW - timedelta(days=3))
    for number in range(MOST_FOR_EMAIL):
        wrong(1, email=someone.email, address=f"203.0.113.{number}", at=NOW + timedelta(seconds=number))
    after = NOW + timedelta(seconds=MOST_FOR_EMAIL)
    with pytest.raises(TooManyTries):
        sign_in(email=someone.email, password=PASSWORD, address=ELSEWHERE, at=after)
    assert sign_in(email=someone.email, password=PASSWORD, address=HERE, at=after) == someone


@pytest.mark.django_db
def test_many_emails_guessed_from_one_address_wait_but_not_the_known_ones() -> None:
    known, other = office(), office()
    sign_in(email=known.email, password=PASSWORD, address=HERE, at=NOW - timedelta(days=1))
    for number in range(MOST_FOR_ADDRESS):
        wrong(1, email=f"guess{number}@shop.example", address=HERE, at=NOW + timedelta(seconds=number))
    after = NOW + timedelta(seconds=MOST_FOR_ADDRESS)
    with pytest.raises(TooManyTries):
        sign_in(email=other.email, password=PASSWORD, address=HERE, at=after)
    assert sign_in(email=known.email, password=PASSWORD, address=HERE, at=after) == known


@pytest.mark.django_db
def test_right_password_forgets_the_wrong_tries_before_it() -> None:
    someone = office()
    wrong(MOST_FOR_BOTH - 1, email=someone.email, address=HERE)
    sign_in(email=someone.email, password=PASSWORD, address=HERE, at=NOW + timedelta(seconds=1))
    wrong(MOST_FOR_BOTH - 1, email=someone.email, address=HERE, at=NOW + timedelta(seconds=2))
    assert SignInTry.objects.filter(is_right=False).count() == MOST_FOR_BOTH - 1


@pytest.mark.django_db
def test_old_tries_are_dropped() -> None:
    someone = office()
    wrong(1, email="old@shop.example", address=HERE, at=NOW - timedelta(days=2))
    sign_in(email=someone.email, password=PASSWORD, address=HERE, at=NOW - timedelta(days=40))
    sign_in(email=someone.email, password=PASSWORD, address=HERE, at=NOW)
    assert SignInTry.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_guesses_in_the_same_instant_count_each_other() -> None:
    someone = office()

    def guess() -> None:
        sign_in(email=someone.email, password="no", address=ELSEWHERE)

    works: list[Callable[[], None]] = [guess] * (MOST_FOR_BOTH * 2)
    results = at_once(*works)
    looked_at = sum(isinstance(each, WrongSignIn) for each in results)
    assert looked_at <= MOST_FOR_BOTH
    assert sum(isinstance(each, TooManyTries) for each in results) == len(works) - looked_at


@given(most=st.integers(1, 12), ages=st.lists(st.integers(0, 40 * 60), max_size=30))
def test_wait_is_just_long_enough(most: int, ages: list[int]) -> None:
    moments = sorted((NOW - timedelta(seconds=age) for age in ages), reverse=True)

    def counted(at: datetime) -> int:
        return sum(moment > at - WINDOW for moment in moments)

    wait = minutes_to_wait([Limit(most, moments)], now=NOW)
    assert (wait == 0) == (counted(NOW) < most)
    assert counted(NOW + timedelta(minutes=wait)) < most
