"""Which jobs an inspection is about, and what the rules want shown of each: those facts and no others."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Q
from django.utils import timezone

from jobs.authority import current_rule, thing_of_job
from jobs.identity import KIND_OF, OpenedIdentity, opened
from jobs.models import AuthorityCheck, InspectionRequest, Job, Visit
from jobs.record_rules import Fact, Moment, Rule, Thing, wanted
from jobs.record_rules.facts import FACT_WORDS
from jobs.states import CAR_WORK, MAKES_KEYS, JobState, VisitState
from shop.guarded import Permit
from shop.keeping.days import begins
from shop.keeping.rooms import rooms
from shop.models import Shop

SEALED = "sealed"
ON_THE_SHEET = "on the sheet"
MOST_ROWS = 2000


@dataclass(frozen=True)
class Asked:
    """What is asked to be seen: one job, or jobs finished from one day to another (both included)."""

    since: date | None = None
    until: date | None = None
    thing: str = ""
    only_keys: bool = False
    job: int | None = None

    @classmethod
    def by(cls, request: InspectionRequest) -> "Asked":
        return cls(request.since, request.until, request.thing, request.only_keys, request.job_id)


@dataclass(frozen=True)
class Cell:
    """One fact of one job; `is_sealed` until its opening is recorded. Empty where the rule does not want it."""

    words: str = ""
    is_sealed: bool = False
    is_lacking: bool = False


@dataclass(frozen=True, repr=False)
class Row:
    job: Job
    check: AuthorityCheck | None
    rule: Rule
    facts: frozenset[Fact]
    cells: Mapping[Fact, Cell]
    identity: OpenedIdentity

    @property
    def listed(self) -> list[tuple[str, Cell]]:
        """Words and cell of what the rule wants, in order; the signature has a place of its own on a sheet."""
        return [(FACT_WORDS[fact], self.cells[fact]) for fact in Fact if fact in self.facts and fact != Fact.SIGNATURE]

    @property
    def wants_signature(self) -> bool:
        return Fact.SIGNATURE in self.facts


@dataclass(frozen=True, repr=False)
class Table:
    """`columns` are the facts that the rule of at least one of the jobs wants."""

    columns: Sequence[Fact]
    rows: Sequence[Row]

    @property
    def heads(self) -> list[str]:
        return [FACT_WORDS[fact] for fact in self.columns]

    @property
    def is_sealed(self) -> bool:
        return any(cell.is_sealed for row in self.rows for cell in row.cells.values())

    def lines(self) -> list[tuple[Row, list[Cell]]]:
        return [(row, [row.cells.get(fact, Cell()) for fact in self.columns]) for row in self.rows]


def jobs_asked(asked: Asked) -> Any:
    """The jobs, the first finished first. Of a time: finished jobs; one job by its number: whatever its state."""
    found = Job.objects.select_related("customer", "vehicle")
    if asked.job is not None:
        return found.filter(pk=asked.job)
    assert asked.since and asked.until
    found = found.filter(
        state=JobState.FINISHED,
        finished_at__gte=begins(asked.since),
        finished_at__lt=begins(asked.until + timedelta(days=1)),
    )
    of_vehicle = Q(vehicle__isnull=False) | Q(kind_of_work__in=CAR_WORK)
    if asked.thing:
        found = found.filter(of_vehicle) if asked.thing == Thing.VEHICLE else found.exclude(of_vehicle)
    if asked.only_keys:
        found = found.filter(kind_of_work__in=MAKES_KEYS)
    return found.order_by("finished_at", "pk")


def facts_wanted(rule: Rule, thing: str, kind: str) -> frozenset[Fact]:
    """What an inspector may see of a job: what the rule wants recorded, and what it wants shown on a paper."""
    shown = [facts for entry in rule.entries_for(thing, kind) for facts in entry.shown.values()]
    return wanted(rule, thing, kind, moment=Moment.BEFORE_FINISH).union(*shown)


def kinds_to_open(row: Row) -> list[str]:
    """The guarded columns of a row that its rule wants and that hold something."""
    if row.check is None:
        return []
    return [kind for fact, kind in KIND_OF.items() if fact in row.facts and getattr(row.check, fact.value) is not None]


def draw_table(jobs: Iterable[Job], permits: Mapping[int, Permit] | None = None) -> Table:
    """The jobs with what their rules want, guarded facts sealed where there is no permit. Jobs of which no rule wants
    anything are left out."""
    found = list(jobs)
    ids = [job.pk for job in found]
    checks = {check.job_id: check for check in _checks(ids)}
    visits = {visit.job_id: visit for visit in _visits(ids)}
    above: dict[int, dict[str, str]] = {}
    for room in rooms():
        for job_id, facts in room.facts(ids).items():
            above.setdefault(job_id, {}).update(facts)
    rows = []
    now = current_rule().rule
    for job in found:
        permit = (permits or {}).get(job.pk)
        check = checks.get(job.pk)
        rule = check.rule.rule if check else now
        row = _row(job, rule, check, visits.get(job.pk), above.get(job.pk, {}), permit)
        if row.facts:
            rows.append(row)
    return Table([fact for fact in Fact if any(fact in row.facts for row in rows)], rows)


def _row(
    job: Job,
    rule: Rule,
    check: AuthorityCheck | None,
    visit: Visit | None,
    above: Mapping[str, str],
    permit: Permit | None,
) -> Row:
    facts = facts_wanted(rule, thing_of_job(job), job.kind_of_work)
    identity = opened(check, permit) if check and permit else OpenedIdentity()
    values = {**_of_job(job, visit), **above, **(_of_check(check) if check else {}), **_of_identity(identity)}
    cells = {}
    for fact in facts:
        is_there = fact in KIND_OF and check is not None and getattr(check, fact.value) is not None
        words = values.get(fact, "")
        is_sealed = is_there and not words
        cells[fact] = Cell(SEALED if is_sealed else words, is_sealed=is_sealed, is_lacking=not words and not is_sealed)
    return Row(job, check, rule, facts, cells, identity)


def _of_job(job: Job, visit: Visit | None) -> dict[str, str]:
    shop, vehicle = Shop.current(), job.vehicle
    technician = visit.technician if visit else None
    served = (visit.finished_at or visit.arrived_at or visit.starts_at) if visit else None
    return {
        Fact.VEHICLE_ID: (vehicle.vin or vehicle.plate) if vehicle else "",
        Fact.VIN: vehicle.vin if vehicle else "",
        Fact.PLACE: job.place,
        Fact.SERVED_ON: timezone.localdate(served).isoformat() if served else "",
        Fact.LOCKSMITH: technician.name if technician else "",
        Fact.LOCKSMITH_LICENCE: (technician.licence_number if technician else "") or shop.licence_number,
        Fact.SHOP_LICENCE: shop.licence_number,
    }


def _of_check(check: AuthorityCheck) -> dict[str, str]:
    compared = {True: "agrees", False: "does not agree", None: ""}[check.vins_agree]
    found: dict[str, str] = {
        Fact.NAME: check.name,
        Fact.ADDRESS: check.address,
        Fact.PHONE: check.phone,
        Fact.DOCUMENT_KIND: check.get_document_kind_display(),
        Fact.RELATIONSHIP: check.get_relationship_display(),
        Fact.PAPERS: check.papers_words,
        Fact.VIN_MATCH: compared,
        Fact.LOCK_TYPE: check.lock_type,
        Fact.CONFIRMED_HOW: check.confirmed_how,
        Fact.KEY_NOT_MARKED: "no mark" if check.is_key_marked is False else "",
    }
    if check.vin_on_car:
        found |= {Fact.VIN: check.vin_on_car, Fact.VEHICLE_ID: check.vin_on_car}
    return found


def _of_identity(identity: OpenedIdentity) -> dict[str, str]:
    return {
        Fact.BORN_ON: identity.born_on.isoformat() if identity.born_on else "",
        Fact.DOCUMENT_NUMBER: identity.document_number,
        Fact.SIGNATURE: ON_THE_SHEET if identity.signature else "",
    }


def _checks(jobs: Sequence[int]) -> Any:
    return AuthorityCheck.objects.standing().filter(job__in=jobs).select_related("rule")


def _visits(jobs: Sequence[int]) -> Any:
    """The visits that count, the last of a job last."""
    visits = Visit.objects.filter(job__in=jobs).exclude(state=VisitState.CALLED_OFF)
    return visits.select_related("technician").order_by("during", "pk")
