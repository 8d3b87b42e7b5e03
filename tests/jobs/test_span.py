"""The page of a day, also of days on which the clocks change.

Europe/Berlin changes by Directive 2000/84/EC: on the last Sunday of March from 02:00 to 03:00, on the last Sunday of
October from 03:00 back to 02:00, both at 01:00 UTC.
"""

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from jobs.day.span import Span, moment, span_of, whole_day
from jobs.day.words import late_words, left_words, window_words
from tests.jobs.desk import MINUTE, at

BERLIN = ZoneInfo("Europe/Berlin")
SPRING, AUTUMN = date(2026, 3, 29), date(2026, 10, 25)


def page(day: date, *moments: datetime, opens: time = time(7), closes: time = time(20)) -> Span:
    return span_of(day, opens=opens, closes=closes, zone=BERLIN, moments=moments)


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text + "+00:00")


def test_an_ordinary_page_shows_the_shops_hours() -> None:
    span = page(date(2026, 3, 3))
    assert (span.start, span.end) == (utc("2026-03-03T06:00"), utc("2026-03-03T19:00"))
    assert [hour.label for hour in span.hours()] == [str(hour) for hour in range(7, 20)]
    assert span.rows == 13 * 12


def test_a_visit_outside_the_hours_draws_the_page_out_to_full_hours() -> None:
    span = page(date(2026, 3, 3), utc("2026-03-03T04:40"), utc("2026-03-03T20:10"))
    assert (span.start, span.end) == (utc("2026-03-03T04:00"), utc("2026-03-03T21:00"))


def test_a_visit_over_midnight_draws_the_page_only_to_midnight() -> None:
    night = utc("2026-03-03T22:30"), utc("2026-03-03T23:30")
    first, second = page(date(2026, 3, 3), *night), page(date(2026, 3, 4), *night)
    assert first.end == second.start == utc("2026-03-03T23:00")
    assert first.place(*night) == (first.rows - 6, 6)
    assert second.place(*night) == (0, 6)


def test_a_day_has_23_hours_in_spring_and_25_in_autumn() -> None:
    start, end = whole_day(SPRING, BERLIN)
    assert (end - start) / MINUTE == 23 * 60
    start, end = whole_day(AUTUMN, BERLIN)
    assert (end - start) / MINUTE == 25 * 60


def test_the_printed_hours_skip_one_in_spring() -> None:
    span = page(SPRING, utc("2026-03-28T23:30"))
    hours = span.hours()
    assert [hour.label for hour in hours[:4]] == ["0", "1", "3", "4"]
    assert [hour.at for hour in hours[:4]] == [0, 12, 24, 36]


def test_the_printed_hours_repeat_one_in_autumn_and_both_have_rows_of_their_own() -> None:
    span = page(AUTUMN, utc("2026-10-24T22:30"))
    assert [hour.label for hour in span.hours()[:5]] == ["0", "1", "2", "2", "3"]
    assert span.place(utc("2026-10-25T00:15"), utc("2026-10-25T00:45"))[0] == 27
    assert span.place(utc("2026-10-25T01:15"), utc("2026-10-25T01:45"))[0] == 39
    assert span.clock(utc("2026-10-25T00:15")) == span.clock(utc("2026-10-25T01:15")) == "02:15"


def test_a_time_lived_twice_is_the_first() -> None:
    assert moment(AUTUMN, time(2, 30), BERLIN) == utc("2026-10-25T00:30")


def test_a_very_short_stretch_still_has_a_row() -> None:
    span = page(date(2026, 3, 3))
    assert span.place(utc("2026-03-03T10:00"), utc("2026-03-03T10:01")) == (48, 1)


@pytest.mark.parametrize(
    ("until", "words"),
    [("10:25", "25 min left"), ("09:48", "12 min late"), ("15:30", "5 h left"), ("10:00", "0 min left")],
)
def test_what_is_left_of_a_promise_in_words(until: str, words: str) -> None:
    assert left_words(at(until), now=at("10:00")) == words


def test_a_window_names_its_day_unless_it_is_today() -> None:
    utc_zone = ZoneInfo("UTC")

    def words(day: str) -> str:
        return window_words(at("14:00", day), at("15:00", day), now=at("10:00"), zone=utc_zone)

    assert words("2026-03-03") == "14:00–15:00"
    assert words("2026-03-04") == "tomorrow 14:00–15:00"
    assert words("2026-03-06") == "Fri 6 Mar 14:00–15:00"


def test_long_lateness_is_told_in_days() -> None:
    assert [late_words(minutes) for minutes in (5, 1439, 1440, 2900)] == ["5 min", "1439 min", "1 day", "2 days"]
