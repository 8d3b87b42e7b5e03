"""What a screen is told, and that only a commit tells it."""

import asyncio
import json
from concurrent.futures import ThreadPoolExecutor

import psycopg
import pytest
from django.db import connection, transaction

from shop.live.hub import LOOK_AGAIN, MOST_WAITING, Screen
from shop.live.telling import CHANNEL, tell_screens


def taken(screen: Screen) -> list[dict[str, object]]:
    # In a thread of its own: the browser tests of the same session leave a loop running in this one.
    with ThreadPoolExecutor(1) as own:
        return [json.loads(each) for each in own.submit(lambda: asyncio.run(screen.take())).result(5)]


def test_the_same_news_twice_is_told_once() -> None:
    screen = Screen(1, sees_all=True)
    for job in (7, 8, 7):
        screen.put({"topic": "jobs", "job": job})
    assert taken(screen) == [{"topic": "jobs", "job": 7}, {"topic": "jobs", "job": 8}]


def test_a_screen_that_fell_behind_is_told_once_to_look_at_everything() -> None:
    screen = Screen(1, sees_all=True)
    for job in range(MOST_WAITING + 1):
        screen.put({"topic": "jobs", "job": job})
    assert taken(screen) == [LOOK_AGAIN]


@pytest.mark.parametrize(
    ("sees_all", "people", "is_told"),
    [(True, [2], True), (True, [], True), (False, [1, 2], True), (False, [2], False), (False, [], False)],
)
def test_a_technician_hears_only_what_touches_the_own_round(sees_all: bool, people: list[int], is_told: bool) -> None:
    assert Screen(1, sees_all=sees_all).concerns({"topic": "jobs", "people": people}) is is_told
    assert Screen(1, sees_all=sees_all).concerns(LOOK_AGAIN)


@pytest.mark.django_db(transaction=True)
def test_screens_are_told_at_the_commit_and_never_of_what_was_rolled_back() -> None:
    database = connection.settings_dict
    with psycopg.connect(
        dbname=database["NAME"], user=database["USER"], host=database["HOST"], port=database["PORT"] or None,
        password=database["PASSWORD"] or None, autocommit=True,
    ) as listening:  # fmt: skip
        listening.execute(f"LISTEN {CHANNEL}")
        with pytest.raises(ZeroDivisionError), transaction.atomic():
            tell_screens("jobs", job=1)
            raise ZeroDivisionError
        with transaction.atomic():
            tell_screens("jobs", job=2, people=[3])
            assert list(listening.notifies(timeout=0.2)) == []
        heard = [json.loads(each.payload) for each in listening.notifies(timeout=5, stop_after=1)]
    assert heard == [{"topic": "jobs", "job": 2, "people": [3]}]
