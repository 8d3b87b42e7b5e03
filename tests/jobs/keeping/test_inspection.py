"""An authority asks: which records, which of their fields, opened once each, by the clock."""

import csv
import io
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.actions.inspections import write_request
from jobs.actions.record_rules import choose_rule
from jobs.authority import current_rule
from jobs.clock import clock
from jobs.inspection import Asked, draw_table, jobs_asked
from jobs.models import InspectionRequest, Job, Opening, RecordRule
from jobs.record_rules.facts import FACT_WORDS, Fact
from jobs.states import JobState, KindOfWork
from shop.errors import Refused
from shop.models import Shop
from shop.staff.models import Person
from tests.cast import office, once_key, owner, signed_in, technician
from tests.jobs.authority.rows import BORN, NUMBER
from tests.jobs.keeping.rows import done, keyed
from tests.jobs.round_rows import visit_of

pytestmark = pytest.mark.django_db

# What each statute wants recorded or shown of a vehicle's key made after all were lost: the table of statutes
# (Bus. & Prof. Code 6980.53; Bus. Reg. 12.5-301 to 303; Bus. & Com. Code on customer authorization).
COLUMNS = {
    "california": {
        Fact.NAME, Fact.BORN_ON, Fact.DOCUMENT_NUMBER, Fact.VEHICLE_ID, Fact.SIGNATURE, Fact.SERVED_ON, Fact.LOCKSMITH,
        Fact.LOCKSMITH_LICENCE,
    },
    "maryland": {
        Fact.PLACE, Fact.LOCK_TYPE, Fact.VIN, Fact.LOCKSMITH_LICENCE, Fact.PRICE_TOLD, Fact.PRICE_PAID,
    },
    "texas": {Fact.NAME, Fact.DOCUMENT_KIND, Fact.SIGNATURE, Fact.CONFIRMED_HOW},
}  # fmt: skip


@pytest.fixture(autouse=True)
def licensed_shop(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = str(tmp_path)
    Shop.current()
    Shop.objects.update(licence_number="LCO-4410")
    Shop.forget()


@pytest.fixture
def boss() -> Person:
    return owner(name="Ruth Tamsin")


def follow(key: str) -> None:
    current_rule()
    choose_rule(RecordRule.objects.get(key=key), actor=None)


def asked_today(boss: Person, **facts: Any) -> InspectionRequest:
    today = timezone.localdate()
    told: dict[str, Any] = {"since": today, "until": today, "thing": "vehicle", "only_keys": True, **facts}
    return write_request(actor=boss, authority="The bureau", received_on=today, way="electronic", **told)


def open_all(client: Client, asked: InspectionRequest) -> None:
    client.post(reverse("jobs:open_inspection", args=[asked.pk]), {"form_key": once_key()})


def rows_of(client: Client, asked: InspectionRequest) -> list[dict[str, str]]:
    answer = client.get(reverse("jobs:inspection_csv", args=[asked.pk]))
    assert answer["Content-Type"].startswith("text/csv")
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))


@pytest.mark.parametrize("key", COLUMNS)
def test_the_csv_has_the_fields_of_the_rule_and_only_those(key: str, boss: Person) -> None:
    follow(key)
    job = done(keyed())
    client, asked = signed_in(boss), asked_today(boss)
    open_all(client, asked)
    (row,) = rows_of(client, asked)
    assert set(row) == {"Job"} | {FACT_WORDS[fact] for fact in COLUMNS[key]}
    assert row["Job"] == str(job.number)
    assert (NUMBER in row.values()) == (Fact.DOCUMENT_NUMBER in COLUMNS[key])
    assert (BORN.isoformat() in row.values()) == (Fact.BORN_ON in COLUMNS[key])


def test_each_record_shows_what_its_own_rule_wanted(boss: Person) -> None:
    follow("california")
    made = keyed()
    first = done(made)
    follow("texas")
    second = done(keyed(like=made))
    client, asked = signed_in(boss), asked_today(boss)
    open_all(client, asked)
    by_job = {row["Job"]: row for row in rows_of(client, asked)}
    assert by_job[str(first.number)][FACT_WORDS[Fact.DOCUMENT_NUMBER]] == NUMBER
    assert by_job[str(second.number)][FACT_WORDS[Fact.DOCUMENT_NUMBER]] == ""
    assert by_job[str(second.number)][FACT_WORDS[Fact.CONFIRMED_HOW]]
    assert by_job[str(first.number)][FACT_WORDS[Fact.CONFIRMED_HOW]] == ""


def test_nothing_is_handed_out_before_the_records_are_opened(boss: Person) -> None:
    follow("california")
    done(keyed())
    client, asked = signed_in(boss), asked_today(boss)
    before = Opening.objects.count()
    for name in ("inspection_csv", "inspection_sheet"):
        answer = client.get(reverse(f"jobs:{name}", args=[asked.pk]))
        assert answer.status_code == 302
    page = client.get(reverse("jobs:inspection_request", args=[asked.pk])).content.decode()
    assert NUMBER not in page and "sealed" in page
    assert Opening.objects.count() == before


def test_one_opening_for_each_record_with_the_request_as_reason(boss: Person) -> None:
    follow("california")
    made = keyed()
    jobs = {done(made).number, done(keyed(like=made)).number}
    client, asked = signed_in(boss), asked_today(boss)
    key = once_key()
    for _ in range(2):
        client.post(reverse("jobs:open_inspection", args=[asked.pk]), {"form_key": key})
    page = client.get(reverse("jobs:inspection_request", args=[asked.pk])).content.decode()
    assert NUMBER in page
    sheet = client.get(reverse("jobs:inspection_sheet", args=[asked.pk])).content.decode()
    assert sheet.count(NUMBER) == 2 and sheet.count("<svg") == 2
    rows_of(client, asked)
    opened = Opening.objects.filter(person=boss)
    assert sorted(opened.values_list("job_number", flat=True)) == sorted(jobs)
    reason = f"Request of The bureau, received {timezone.localdate():%Y-%m-%d}"
    assert {opening.reason for opening in opened} == {reason}
    assert all(kind.startswith("jobs.authoritycheck.") for opening in opened for kind in opening.kinds)


def test_a_time_takes_its_first_and_last_day_and_the_thing_that_is_asked_for(boss: Person) -> None:
    first, last = date(2026, 3, 1), date(2026, 3, 31)
    zone = timezone.get_current_timezone()
    me = technician()
    moments = {
        "before": datetime(2026, 2, 28, 23, 59, tzinfo=zone),
        "first": datetime(2026, 3, 1, 0, 0, tzinfo=zone),
        "last": datetime(2026, 3, 31, 23, 59, tzinfo=zone),
        "after": datetime(2026, 4, 1, 0, 0, tzinfo=zone),
    }
    made = {name: _finished(me, number, moment) for number, (name, moment) in enumerate(moments.items())}
    door = _finished(me, 9, moments["last"], kind_of_work=KindOfWork.DOOR_LOCK, with_vehicle=False)
    opened = _finished(me, 12, moments["last"], kind_of_work=KindOfWork.LOCK_OUT)
    keys = jobs_asked(Asked(first, last, "vehicle", only_keys=True))
    assert list(keys) == [made["first"], made["last"]]
    assert set(jobs_asked(Asked(first, last, "vehicle"))) == {made["first"], made["last"], opened}
    assert list(jobs_asked(Asked(first, last, "building"))) == [door]
    assert list(jobs_asked(Asked(job=made["after"].pk))) == [made["after"]]


def test_the_table_costs_the_same_for_one_and_three_records(boss: Person, django_assert_num_queries: Any) -> None:
    follow("california")
    me, now = technician(), timezone.now()
    for number in range(3):
        _finished(me, number, now)
        jobs = list(jobs_asked(Asked(timezone.localdate(), timezone.localdate())))
        Shop.current()
        if number in {0, 2}:
            with django_assert_num_queries(QUERIES):
                draw_table(jobs)


# Checks, visits, prices told, invoices, the rule that is followed.
QUERIES = 5


# Business days after Thursday 26 November 2026, counted on a calendar; 2 electronically, 5 by post (Maryland).
@pytest.mark.parametrize(("way", "last"), [("electronic", date(2026, 11, 30)), ("post", date(2026, 12, 3))])
def test_the_clock_runs_by_the_rule(boss: Person, way: str, last: date) -> None:
    follow("maryland")
    asked = write_request(
        actor=boss,
        authority="The department",
        received_on=date(2026, 11, 26),
        way=way,
        job=visit_of(technician()).job,
        at=datetime(2026, 11, 26, 12, tzinfo=timezone.get_current_timezone()),
    )
    assert asked.answer_by == last


@pytest.mark.parametrize(
    ("today", "words"),
    [
        (date(2026, 11, 26), "2 business days left"),
        (date(2026, 11, 28), "1 business day left"),
        (date(2026, 11, 30), "Last day today"),
        (date(2026, 12, 2), "2 business days late"),
    ],
)
def test_days_left_are_counted_as_the_rule_counts(today: date, words: str) -> None:
    assert clock(date(2026, 11, 30), today=today, in_business_days=True).words == words


def test_a_day_late_on_a_weekend_is_late() -> None:
    assert clock(date(2026, 11, 27), today=date(2026, 11, 28), in_business_days=True).is_late


def test_a_rule_that_names_no_time_has_no_clock(boss: Person) -> None:
    follow("california")
    asked = asked_today(boss)
    assert asked.answer_by is None
    assert "No time named by the rule" in signed_in(boss).get(reverse("jobs:inspection")).content.decode()


def test_answering_stops_the_clock_and_shuts_the_records(boss: Person) -> None:
    follow("california")
    done(keyed())
    client, asked = signed_in(boss), asked_today(boss)
    url = reverse("jobs:inspection_request", args=[asked.pk])
    client.post(url, {"how": "By registered post", "form_key": once_key()})
    asked.refresh_from_db()
    assert asked.answered_by == boss and asked.answered_how == "By registered post"
    open_all(client, asked)
    assert not Opening.objects.filter(person=boss).exists()
    assert not InspectionRequest.objects.pending().exists()
    assert client.get(reverse("jobs:owner_notes")).content.decode().strip() == ""


def test_a_request_is_written_down_on_the_page(boss: Person) -> None:
    client, today = signed_in(boss), timezone.localdate()
    url = reverse("jobs:add_inspection_request")
    told = {"authority": "Sgt. Prell, 7th precinct", "received_on": today.isoformat(), "way": "post"}
    span = {"since": "2026-03-01", "until": "2026-03-31", "thing": "vehicle", "only_keys": "on"}
    answer = client.post(url, {**told, **span, "form_key": once_key()})
    asked = InspectionRequest.objects.get()
    assert answer["Location"] == reverse("jobs:inspection_request", args=[asked.pk])
    assert (asked.since, asked.until, asked.thing, asked.only_keys) == (
        date(2026, 3, 1),
        date(2026, 3, 31),
        "vehicle",
        True,
    )
    wrong: list[dict[str, str]] = [
        {},
        {**told},
        {**told, "since": "2026-03-31", "until": "2026-03-01"},
        {**told, "number": "99999"},
        {**told, **span, "received_on": (today + timedelta(days=1)).isoformat()},
    ]
    for given in wrong:
        assert client.post(url, {**given, "form_key": once_key()}).status_code == 422, given
    assert InspectionRequest.objects.count() == 1


def test_only_the_owner_asks_and_answers(boss: Person) -> None:
    asked = asked_today(boss)
    for someone in (office(), technician()):
        client = signed_in(someone)
        for name in ("inspection_request", "inspection_sheet", "inspection_csv"):
            assert client.get(reverse(f"jobs:{name}", args=[asked.pk])).status_code == 403
        with pytest.raises(Refused, match="Only the owner"):
            asked_today(someone)
    assert signed_in(boss).get(reverse("jobs:inspection_request", args=[99999])).status_code == 404


def test_a_formula_in_a_record_is_only_text_in_the_csv(boss: Person) -> None:
    follow("texas")
    done(keyed(name="=2+5"))
    client, asked = signed_in(boss), asked_today(boss)
    Job.objects.update(street="=cmd()")
    open_all(client, asked)
    assert not any(value.startswith("=") for row in rows_of(client, asked) for value in row.values())


def _finished(me: Person, number: int, moment: datetime, **facts: Any) -> Job:
    told = {"kind_of_work": KindOfWork.ALL_KEYS_LOST, **facts}
    job = visit_of(me, hours=2 * number + 2, **told).job
    Job.objects.filter(pk=job.pk).update(state=JobState.FINISHED, finished_at=moment)
    return Job.objects.get(pk=job.pk)
