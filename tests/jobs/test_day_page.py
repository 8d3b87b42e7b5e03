"""The day sheet: what stands where, and who may see it."""

from datetime import date, datetime

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from jobs.actions import set_off
from jobs.bench import build_day
from jobs.day import DaySheet, load_day_sheet
from jobs.models import Job
from shop.models import Shop
from tests import cast
from tests.jobs.desk import MINUTE, at, booked, call, on_shift, shop

pytestmark = pytest.mark.django_db
TUESDAY = date(2026, 3, 3)
PAGE = "/day/2026-03-03"
HTMX = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def tuesday() -> None:
    shop()


@pytest.fixture
def desk() -> Client:
    return cast.signed_in(cast.office())


def sheet(now: datetime) -> DaySheet:
    with timezone.override("UTC"):
        return load_day_sheet(TUESDAY, now=now)


def test_office_and_owner_see_the_sheet_and_a_technician_does_not() -> None:
    assert cast.signed_in(cast.office()).get("/day").status_code == 200
    assert cast.signed_in(cast.owner()).get("/day").status_code == 200
    assert cast.signed_in(cast.technician()).get("/day").status_code == 403
    assert Client().get("/day").status_code == 302


def test_the_sheet_is_only_read_and_a_day_that_is_none_is_not_found(desk: Client) -> None:
    assert desk.post("/day").status_code == 405
    assert desk.get("/day/2026-02-30").status_code == 404
    assert desk.get("/day?on=2026-03-04").headers["Location"] == "/day/2026-03-04"


def test_columns_are_those_on_shift_and_whoever_has_a_visit_all_the_same() -> None:
    on_shift(name="Bo Ray")
    ines = cast.technician(name="Ines Moor")
    cast.technician(name="Not Today")
    booked(ines, at("10:00"))
    assert [(column.name, column.shift) for column in sheet(at("09:00")).columns] == [
        ("Bo Ray", "08:00–17:00"),
        ("Ines Moor", "Not on shift"),
    ]


def test_waiting_calls_stand_people_in_danger_first_then_by_promise() -> None:
    late = call(promise_from=at("08:00"), promise_until=at("09:00"))
    soon = call(promise_from=at("09:30"), promise_until=at("10:30"))
    nowhen = call()
    child = call(locked_in="child", promise_from=at("15:00"), promise_until=at("16:00"))
    calls = sheet(at("10:00")).calls
    assert [each.number for each in calls] == [child.number, late.number, soon.number, nowhen.number]
    assert [each.left for each in calls] == ["6 h left", "60 min late", "30 min left", ""]
    assert calls[0].danger == "A child locked in"


def test_blocks_lie_in_rows_of_five_minutes_with_promise_and_exact_minutes() -> None:
    booked(on_shift(), at("10:00"), 45, promise_from=at("09:30"), promise_until=at("10:30"))
    [block] = sheet(at("08:00")).columns[0].blocks
    assert (block.at, block.rows, block.start, block.length) == (36, 9, 180, 45)
    assert (block.promise_at, block.promise_rows) == (30, 12)
    assert (block.promise_from, block.promise_until) == (150, 210)


def test_the_drive_before_a_visit_comes_from_the_place_before_it() -> None:
    # One hundredth of a degree of latitude is 1.1119 km on the mean sphere of 6371.0088 km (IUGG); with the detour of
    # 1.3 and 40 km/h that is 2.17 minutes, begun ones counted whole: 3; five hundredths: 10.84, so 11.
    shop(latitude="40.000000", longitude="-75.000000", drive_speed_kmh=40)
    ines = on_shift()
    booked(ines, at("09:00"), latitude="40.010000", longitude="-75.000000")
    booked(ines, at("11:00"), latitude="40.060000", longitude="-75.000000")
    booked(ines, at("13:00"))
    booked(ines, at("15:00"), latitude="40.060000", longitude="-75.000000")
    assert [block.drive for block in sheet(at("08:00")).columns[0].blocks] == [3, 11, 0, 0]


def test_lateness_runs_through_the_day_behind_a_visit_that_overruns() -> None:
    ines = on_shift()
    running = set_off(booked(ines, at("09:00")), actor=ines, at=at("09:00"))
    booked(ines, at("10:00"), promise_from=at("09:30"), promise_until=at("10:15"))
    booked(ines, at("14:00"), promise_from=at("13:30"), promise_until=at("14:30"))
    # At 09:45 the first is still on the way: on site at 09:45 at the soonest, ready at 10:45.
    late = [block.late for block in sheet(at("09:45")).columns[0].blocks]
    assert late == ["", "30 min late", ""]
    assert running.state == "on_the_way"


def test_nobody_set_off_is_told_in_minutes() -> None:
    booked(on_shift(), at("10:00"), promise_from=at("10:00"), promise_until=at("11:00"))
    [block] = sheet(at("10:20")).columns[0].blocks
    assert (block.overdue, block.late) == ("Should have set off 20 min ago", "")


def test_promises_that_overlap_are_drawn_in_two_lanes() -> None:
    ines = on_shift()
    booked(ines, at("10:00"), promise_from=at("10:00"), promise_until=at("11:30"))
    booked(ines, at("11:00"), promise_from=at("11:00"), promise_until=at("12:00"))
    booked(ines, at("12:00"), promise_from=at("12:00"), promise_until=at("13:00"))
    assert [block.lane for block in sheet(at("08:00")).columns[0].blocks] == [0, 1, 0]


def test_a_visit_over_midnight_stands_on_both_days() -> None:
    booked(on_shift(), at("23:30"), 60)
    with timezone.override("UTC"):
        first, second = (load_day_sheet(date(2026, 3, day), now=at("08:00")) for day in (3, 4))
    assert first.columns[0].blocks[0].rows == 6
    assert (second.columns[0].blocks[0].at, second.columns[0].blocks[0].rows) == (0, 6)
    assert second.columns[0].blocks[0].start == -30


def test_a_day_with_nobody_says_what_belongs_there(desk: Client) -> None:
    page = desk.get(PAGE).content.decode()
    assert "Nobody is on shift on this day" in page
    assert "No call is waiting" in page


def test_what_people_typed_is_escaped(desk: Client) -> None:
    nasty = '<b onclick="x">&'
    job = booked(on_shift(name=nasty), at("10:00"), name=nasty, street=nasty, locked_in="child").job
    call(name=nasty, street=nasty)
    page = desk.get(f"{PAGE}?job={job.number}").content.decode()
    assert "<b onclick" not in page
    assert page.count("&lt;b onclick=&quot;x&quot;&gt;&amp;") >= 6


def test_the_chosen_job_shows_promise_place_caller_warning_and_the_next_step(desk: Client) -> None:
    job = call(
        street="Mill Lane 14",
        access_notes="Level 3",
        caller_name="Ada's son",
        caller_phone="+12015550123",
        promise_from=at("10:00"),
        promise_until=at("11:00"),
    )
    type(job.customer).objects.filter(pk=job.customer_id).update(warning="Pays late.")
    page = desk.get(f"{PAGE}?job={job.number}").content.decode()
    for words in ("Mill Lane 14", "Level 3", "Ada&#x27;s son", "(201) 555-0123", "10:00–11:00", "Pays late."):
        assert words in page
    assert f'action="/jobs/{job.number}/book"' in page
    assert "There is no job 99999" in desk.get(f"{PAGE}?job=99999").content.decode()


def test_the_chosen_job_says_how_late_its_booking_is(desk: Client) -> None:
    day = "2099-03-03"  # far ahead, or the clock of this machine would make it later still
    late = booked(on_shift(), at("13:00", day), promise_from=at("10:00", day), promise_until=at("11:00", day))
    promised = desk.get(f"/day/{day}?job={late.job.number}").content.decode().split("<dt>Promised</dt>")[1]
    assert "120 min late" in promised.split("</div>")[0]


def test_the_parts_alone_are_sent_to_a_page_that_shows_them(desk: Client) -> None:
    booked(on_shift(), at("10:00"))
    page = desk.get(PAGE, headers=HTMX).content.decode()
    assert page.count("hx-swap-oob") == 4
    assert "<html" not in page


def queries(desk: Client, url: str) -> int:
    desk.get(url)
    with CaptureQueriesContext(connection) as found:
        assert desk.get(url).status_code == 200
    return len(found)


def test_one_row_or_three_ask_the_database_the_same(desk: Client) -> None:
    ines = on_shift()
    number = booked(ines, at("08:00")).job.number
    call()
    one = queries(desk, f"{PAGE}?job={number}")
    for hour in (10, 12):
        booked(on_shift(), at(f"{hour}:00"))
        call()
    assert queries(desk, f"{PAGE}?job={number}") == one == 9


def test_a_full_day_is_read_in_twelve_queries_at_most(desk: Client) -> None:
    today = timezone.now()
    build_day(today.date(), now=today)
    Shop.forget()
    with CaptureQueriesContext(connection) as found:
        page = desk.get(f"/day?job={Job.objects.filter(state='waiting').latest('number').number}").content.decode()
    assert len(found) <= 12
    assert page.count('class="visit visit-') == 60
    assert page.count("data-call ") == 20
    assert page.count('class="diary-column"') == 8


def test_visits_after_now_never_start_before_their_lateness_says() -> None:
    booked(on_shift(), at("10:00"), 60, promise_from=at("09:00"), promise_until=at("10:00") + 10 * MINUTE)
    late = [sheet(at("09:00") + 10 * step * MINUTE).columns[0].blocks[0].late for step in range(0, 12, 2)]
    assert late == ["", "", "", "", "10 min late", "30 min late"]
