"""Calls and visits in the nights when clocks change.

In Berlin they go forward on 2027-03-28 and back on 2026-10-25, both at 01:00 UTC (Directive 2000/84/EC: last Sundays of
March and October).
"""

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from django.utils import timezone

from billing.forms.call import CallForm, usual_promise
from billing.forms.visit import FinishForm
from jobs.models import Visit

BERLIN = "Europe/Berlin"


@pytest.fixture(autouse=True)
def in_berlin() -> Iterator[None]:
    with timezone.override(BERLIN):
        yield


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def promise(day: str, start: str, end: str, *, now: str) -> Any:
    form = CallForm({"promise_day": day, "promise_from": start, "promise_until": end}, now=utc(now))
    form.is_valid()
    return form.errors.get("promise_from") or form.cleaned_data["promise"]


def test_promise_in_the_hour_left_out_is_refused_in_words() -> None:
    said = promise("2027-03-28", "02:30", "03:00", now="2027-03-28T00:00")
    assert "There is no 02:30 on that day" in str(said)


def test_promise_across_the_hour_left_out_is_real_time() -> None:
    told = promise("2027-03-28", "01:30", "03:30", now="2027-03-28T00:00")
    assert told == (utc("2027-03-28T00:30"), utc("2027-03-28T01:30"))


def test_usual_promise_lasts_its_minutes_when_clocks_go_forward() -> None:
    usual = usual_promise(utc("2027-03-28T00:31"), 60)
    assert (usual["promise_from"], usual["promise_until"]) == ("01:35", "03:35")


def test_promise_of_a_day_in_no_diary_is_refused() -> None:
    form = CallForm({"promise_day": "9999-12-31", "promise_from": "23:30", "promise_until": "00:30"})
    form.is_valid()
    assert form.errors["promise_day"] == ["Check the year."]


def finish(visit: Visit, arrived: str, finished: str) -> FinishForm:
    form = FinishForm({"arrived_at": arrived, "finished_at": finished}, visit=visit, asks_parts=False, asks_vin=False)
    assert form.is_valid(), form.errors
    return form


def test_visit_finished_in_the_hour_lived_twice_keeps_the_tapped_arrival(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(timezone, "now", lambda: utc("2026-10-25T01:41"))
    visit = Visit(arrived_at=utc("2026-10-25T01:10:42"))
    facts = finish(visit, "2026-10-25T02:10", "2026-10-25T02:40").cleaned_data
    assert facts["arrived_at"] == utc("2026-10-25T01:10:42")
    assert facts["finished_at"] == utc("2026-10-25T01:40")


def test_visit_finished_in_the_first_of_the_two_hours_is_not_put_into_the_second(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(timezone, "now", lambda: utc("2026-10-25T00:41"))
    visit = Visit(arrived_at=utc("2026-10-25T00:10:42"))
    facts = finish(visit, "2026-10-25T02:10", "2026-10-25T02:40").cleaned_data
    assert facts["finished_at"] == utc("2026-10-25T00:40")
