"""When a technician will be there, and by how much a promise is missed: worked by hand from the rule in words."""

import pytest

from jobs.rules import Timing, expected_arrival, expected_end, minutes_late, minutes_overdue
from jobs.states import VisitState
from tests.jobs.desk import MINUTE, at

DRIVE = 20 * MINUTE


def visit(state: str = VisitState.BOOKED, **facts: object) -> Timing:
    usual = {"starts_at": at("10:00"), "ends_at": at("11:00"), "drive": DRIVE}
    return Timing(state, **{**usual, **facts})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("free_at", "now", "there"),
    [
        (None, "08:00", "10:00"),  # time enough
        (None, "09:40", "10:00"),  # just enough: twenty minutes of driving
        (None, "09:41", "10:01"),  # not yet set off
        ("09:30", "08:00", "10:00"),  # the visit before leaves ten minutes to spare
        ("09:50", "08:00", "10:10"),  # the visit before ends too late
        ("09:50", "10:05", "10:25"),  # it has ended, and still nobody has set off
    ],
)
def test_a_booked_visit_begins_as_booked_unless_it_cannot_be_reached(free_at: str | None, now: str, there: str) -> None:
    free = at(free_at) if free_at else None
    assert expected_arrival(visit(), free_at=free, now=at(now)) == at(there)


def test_on_the_way_takes_the_drive_from_setting_off_and_is_never_in_the_past() -> None:
    going = visit(VisitState.ON_THE_WAY, set_off_at=at("09:50"))
    assert expected_arrival(going, free_at=None, now=at("09:55")) == at("10:10")
    assert expected_arrival(going, free_at=None, now=at("10:30")) == at("10:30")


def test_who_arrived_arrived() -> None:
    there = visit(VisitState.ON_SITE, set_off_at=at("09:00"), arrived_at=at("09:50"))
    assert expected_arrival(there, free_at=at("12:00"), now=at("13:00")) == at("09:50")


def test_a_visit_lasts_as_long_as_booked_from_the_arrival_and_not_less_than_until_now() -> None:
    assert expected_end(visit(), arrival=at("10:10"), now=at("08:00")) == at("11:10")
    on_site = visit(VisitState.ON_SITE, arrived_at=at("10:10"))
    assert expected_end(on_site, arrival=at("10:10"), now=at("11:30")) == at("11:30")
    finished = visit(VisitState.FINISHED, arrived_at=at("10:10"), finished_at=at("10:40"))
    assert expected_end(finished, arrival=at("10:10"), now=at("15:00")) == at("10:40")


def test_minutes_late_count_begun_minutes_and_nothing_when_kept() -> None:
    assert minutes_late(at("10:30"), at("10:30")) == 0
    assert minutes_late(at("10:30") + MINUTE / 60, at("10:30")) == 1
    assert minutes_late(at("10:42"), at("10:30")) == 12
    assert minutes_late(at("10:42"), None) == 0


def test_overdue_counts_from_when_the_van_should_have_left() -> None:
    assert minutes_overdue(visit(), now=at("09:40")) == 0
    assert minutes_overdue(visit(), now=at("09:47")) == 7
    assert minutes_overdue(visit(VisitState.ON_THE_WAY), now=at("09:47")) == 0
