"""Openings of guarded data: who may, the reason given once, one chain whatever happens at the same time."""

import re
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from jobs.actions import open_guarded, turn_away
from jobs.actions.openings import guarded_kinds, numbers_given_out, sign
from jobs.errors import ReasonNeeded
from jobs.models import AuthorityCheck, Opening, Visit
from jobs.opening_chain import Fault, linked, verify_openings
from shop.append_only import erasing
from shop.guarded import NotPermitted, Sealed
from shop.staff.models import Person
from tests.cast import office, owner, technician
from tests.jobs.authority.rows import BORN, NUMBER, on_site, passed
from tests.threads import at_once

pytestmark = pytest.mark.django_db

BIRTH, DOCUMENT = "jobs.authoritycheck.born_on", "jobs.authoritycheck.document_number"


@pytest.fixture
def me() -> Person:
    return technician(name="Jonas Brackwater")


@pytest.fixture
def visit(me: Person) -> Visit:
    return on_site(me)


def faults() -> list[tuple[int, Fault]]:
    found = verify_openings(Opening.objects.as_links(), given_out=numbers_given_out(), sign=sign)
    return [(each.number, each.fault) for each in found]


def test_sealed_facts_open_with_a_permit_and_one_row_tells_it(me: Person, visit: Visit) -> None:
    check = passed(visit)
    assert isinstance(check.born_on, Sealed) and isinstance(check.document_number, Sealed)
    permit = open_guarded(visit.job, actor=me, kinds=[BIRTH, DOCUMENT], reason="Printed the work order")
    assert check.born_on.open(permit) == BORN.isoformat()
    assert check.document_number.open(permit) == NUMBER
    row = Opening.objects.get()
    assert (row.number, row.person, row.person_name, row.job_number) == (1, me, "Jonas Brackwater", visit.job.number)
    assert (row.kinds, row.reason) == ([BIRTH, DOCUMENT], "Printed the work order")
    assert permit.opening == "1"


def test_the_reason_is_given_once_in_half_an_hour(me: Person, visit: Visit) -> None:
    passed(visit)
    now = timezone.now()
    with pytest.raises(ReasonNeeded):
        open_guarded(visit.job, actor=me, kinds=[BIRTH], at=now)
    open_guarded(visit.job, actor=me, kinds=[BIRTH, DOCUMENT], reason="Work order", at=now)
    open_guarded(visit.job, actor=me, kinds=[BIRTH], at=now + timedelta(minutes=29))
    open_guarded(visit.job, actor=me, kinds=[BIRTH], reason="Work order", at=now + timedelta(minutes=29))
    assert Opening.objects.count() == 1
    with pytest.raises(ReasonNeeded):
        open_guarded(visit.job, actor=me, kinds=[BIRTH], at=now + timedelta(minutes=31))
    open_guarded(visit.job, actor=me, kinds=[BIRTH], reason="Asked again", at=now + timedelta(minutes=29))
    assert Opening.objects.count() == 2
    with pytest.raises(ReasonNeeded):
        open_guarded(on_site(me, hours=5).job, actor=me, kinds=[BIRTH], at=now)


def test_an_opening_of_somebody_else_does_not_serve(me: Person, visit: Visit) -> None:
    passed(visit)
    open_guarded(visit.job, actor=me, kinds=[BIRTH], reason="Work order")
    with pytest.raises(ReasonNeeded):
        open_guarded(visit.job, actor=owner(), kinds=[BIRTH])


def test_identity_is_for_the_owner_and_the_jobs_technician(me: Person, visit: Visit) -> None:
    passed(visit)
    for stranger in (office(), technician()):
        with pytest.raises(NotPermitted):
            open_guarded(visit.job, actor=stranger, kinds=[BIRTH], reason="Curious")
    assert not Opening.objects.exists()
    open_guarded(visit.job, actor=owner(), kinds=[BIRTH], reason="Inspection")


def test_after_turning_away_only_the_owner_opens(me: Person, visit: Visit) -> None:
    turn_away(visit.job, actor=me, reason="Papers of another car", visit=visit)
    with pytest.raises(NotPermitted):
        open_guarded(visit.job, actor=me, kinds=[BIRTH], reason="Curious")
    open_guarded(visit.job, actor=owner(), kinds=[BIRTH], reason="Dispute")


def test_only_guarded_columns_are_opened(me: Person, visit: Visit) -> None:
    for kinds in ([], ["jobs.job.number"], [BIRTH, "nonsense"]):
        with pytest.raises(TypeError):
            open_guarded(visit.job, actor=me, kinds=kinds, reason="Why not")
    assert {BIRTH, DOCUMENT, "jobs.authorityphoto.file"} <= guarded_kinds()


def test_permits_are_made_in_one_place() -> None:
    made = []
    for app in ("shop", "vehicles", "jobs", "billing"):
        for path in (Path(settings.ROOT) / app).rglob("*.py"):
            made += [str(path.relative_to(settings.ROOT))] * len(re.findall(r"\bPermit\(", path.read_text()))
    assert sorted(made) == ["jobs/actions/openings.py"]


@pytest.mark.parametrize("statement", ["UPDATE jobs_opening SET reason = 'x'", "DELETE FROM jobs_opening"])
def test_postgres_refuses_to_change_the_openings(statement: str, me: Person, visit: Visit) -> None:
    open_guarded(visit.job, actor=me, kinds=[BIRTH], reason="Work order")
    with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
        connection.cursor().execute(statement)


@pytest.fixture
def five(me: Person, visit: Visit) -> list[str]:
    for number in range(1, 6):
        open_guarded(visit.job, actor=me, kinds=[BIRTH], reason=f"Reason {number}")
    assert faults() == []
    return [row.hash for row in Opening.objects.all()]


def sql(statement: str) -> None:
    with erasing():
        connection.cursor().execute(statement)


@pytest.mark.parametrize(
    "change",
    [
        "reason = 'Nothing to see'",
        "person_name = 'Somebody Else'",
        "job_number = job_number + 1",
        "kinds = ARRAY['jobs.authoritycheck.signature']",
        "at = at - interval '1 second'",
        "previous = repeat('0', 64)",
        "hash = repeat('0', 64)",
    ],
)
def test_an_altered_row_shows(change: str, five: list[str]) -> None:
    sql(f"UPDATE jobs_opening SET {change} WHERE number = 3")
    assert (3, Fault.ALTERED) in faults()


@pytest.mark.parametrize("gone", ["1", "3", "5", "3, 4", "4, 5", "1, 2, 3, 4, 5"])
def test_a_removed_row_shows_wherever_it_lay(gone: str, five: list[str]) -> None:
    sql(f"DELETE FROM jobs_opening WHERE number IN ({gone})")
    assert (int(gone[0]), Fault.REMOVED) in faults()


def test_rows_put_elsewhere_show(five: list[str]) -> None:
    sql("UPDATE jobs_opening SET number = number + 1000; UPDATE jobs_opening SET number = 1006 - number")
    assert {fault for _, fault in faults()} >= {Fault.ALTERED, Fault.REORDERED}


def test_a_chain_written_anew_without_the_keys_shows(five: list[str]) -> None:
    """Somebody with the database but not the keys computes every hash again: each still lacks the keyed hash."""
    previous = ""
    for link in Opening.objects.as_links():
        told = "Rewritten" if link.number == 3 else link.reason
        fresh = linked(replace(link, reason=told, previous=previous), lambda text: text)
        previous = fresh.hash
        with erasing():
            Opening.objects.filter(number=link.number).update(
                reason=told, hash=fresh.hash, previous=fresh.previous, seal=fresh.seal
            )
    assert [fault for _, fault in faults()] == [Fault.FORGED] * 5


@pytest.mark.django_db(transaction=True)
def test_openings_at_the_same_time_make_one_chain(me: Person) -> None:
    job, boss = on_site(me).job, owner()
    made = at_once(*(lambda n=n: open_guarded(job, actor=boss, kinds=[BIRTH], reason=f"Request {n}") for n in range(4)))
    assert not [each for each in made if isinstance(each, Exception)]
    assert Opening.objects.count() == 4
    assert faults() == []


@pytest.mark.django_db(transaction=True)
def test_the_same_page_twice_at_the_same_time_is_one_opening(me: Person) -> None:
    job = on_site(me).job
    made = at_once(*[lambda: open_guarded(job, actor=me, kinds=[BIRTH], reason="Work order")] * 4)
    assert not [each for each in made if isinstance(each, Exception)]
    assert Opening.objects.count() == 1


def test_checks_are_not_changed_or_deleted(visit: Visit) -> None:
    check = passed(visit)
    for statement in ("UPDATE jobs_authoritycheck SET name = 'X'", "DELETE FROM jobs_authoritycheck"):
        with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
            connection.cursor().execute(statement)
    assert AuthorityCheck.objects.get(pk=check.pk).name == "Ella Holmere"
