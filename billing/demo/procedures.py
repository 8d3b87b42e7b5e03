"""The procedures that the story's jobs were done by, and what came of them. Told after the story, so that it stays."""

from collections.abc import Iterable
from datetime import timedelta
from decimal import Decimal
from random import Random
from uuid import UUID

from jobs.models import EventKind, JobEvent, Light, ProcedureRun, RunOutcome, StepDone, Visit
from jobs.states import JobState, VisitState
from vehicles.models import ProcedureStep, ProcedureVersion
from vehicles.states import StepKind

# Not every job is done by the book.
BY_THE_BOOK = 0.8
GOES_WRONG = 0.04
LONG_MINUTES = 80
TOOK_LONG = (
    "The battery was flat, an hour on the charger first",
    "The programmer lost the car twice, a longer lead helped",
    "The box sat behind the glove box, not where the book says",
    "Two waits instead of one: a door was opened in the first",
)
WENT_WRONG = (
    "The control unit did not answer; the fuse for it was missing",
    "It learned the key and forgot it overnight, came back with another blank",
    "Too many keys were stored and none could be taken out",
)
VERSION = tuple[ProcedureVersion, list[ProcedureStep]]


def tell_procedures() -> None:
    """A run for most finished jobs whose family has a procedure for their work; a handful of queries for all."""
    versions = _versions()
    visits = Visit.objects.filter(
        job__state=JobState.FINISHED, state=VisitState.FINISHED, job__vehicle__family__isnull=False
    ).select_related("job__vehicle")
    came_back = set(visits.filter(job__comebacks__isnull=False).values_list("job_id", flat=True))
    told = []
    for visit in visits.order_by("pk"):
        rng = Random(f"procedure {visit.job.number}")
        assert visit.job.vehicle
        version = versions.get((visit.job.vehicle.family_id, visit.job.kind_of_work))
        if version and rng.random() < BY_THE_BOOK:
            told.append(_run(rng, visit, version, is_bad=visit.job_id in came_back or rng.random() < GOES_WRONG))
    ProcedureRun.objects.bulk_create(run for run, _ in told)
    StepDone.objects.bulk_create(mark for run, steps in told for mark in _marks(run, steps))
    JobEvent.objects.bulk_create(event for run, _ in told for event in _events(run))


def _versions() -> dict[tuple[int | None, str], VERSION]:
    """By family and kind of work; the family's own, or that of one of its variants where there is no other."""
    found: dict[tuple[int | None, str], VERSION] = {}
    for version in ProcedureVersion.objects.accepted().with_steps():
        key = (version.procedure.family_id, version.procedure.kind_of_work)
        if key not in found or version.procedure.variant_id is None:
            found[key] = (version, list(version.steps.all()))
    return found


def _run(rng: Random, visit: Visit, version: VERSION, *, is_bad: bool) -> tuple[ProcedureRun, list[ProcedureStep]]:
    assert visit.arrived_at and visit.finished_at
    on_site = visit.finished_at - visit.arrived_at
    why = rng.choice(TOOK_LONG) if on_site > timedelta(minutes=LONG_MINUTES) else ""
    keys = 0 if is_bad else rng.choice((1, 2, 2, 3))
    run = ProcedureRun(
        job=visit.job,
        visit=visit,
        version=version[0],
        family_id=version[0].procedure.family_id,
        variant_id=version[0].procedure.variant_id,
        started_at=visit.arrived_at + on_site * rng.uniform(0.08, 0.2),
        started_by_id=visit.technician_id,
        ended_at=visit.finished_at - on_site * rng.uniform(0.05, 0.1),
        outcome=RunOutcome.NOT if is_bad else RunOutcome.WORKED,
        why=rng.choice(WENT_WRONG) if is_bad else why,
        keys_learned=keys,
        start_tried_with=keys,
        immobilizer_light=Light.FLASHES if is_bad else Light.OUT,
        alarm_light=Light.OUT,
    )
    return run, version[1]


def _marks(run: ProcedureRun, steps: list[ProcedureStep]) -> Iterable[StepDone]:
    """Every step in its turn; one that went wrong ended before its last."""
    rng = Random(f"marks {run.job.number}")
    assert run.ended_at
    done = steps[:-1] if run.outcome == RunOutcome.NOT else steps
    each = (run.ended_at - run.started_at) / (len(done) + 1)
    for position, step in enumerate(done, 1):
        yield StepDone(
            run=run,
            step=step,
            client_id=UUID(int=rng.getrandbits(128), version=4),
            at=run.started_at + each * position,
            recorded_at=run.started_at + each * position,
            measured=_measured(rng, step) if step.kind == StepKind.MEASURE else None,
            immobilizer_light=run.immobilizer_light if step.asks_immobilizer_light else "",
            alarm_light=run.alarm_light if step.asks_immobilizer_light else "",
        )


def _measured(rng: Random, step: ProcedureStep) -> Decimal:
    low = step.low if step.low is not None else step.high or Decimal(1)
    high = step.high if step.high is not None else low
    return (low + (high - low) * Decimal(str(round(rng.uniform(0.1, 0.6), 2)))).quantize(Decimal("0.01"))


def _events(run: ProcedureRun) -> Iterable[JobEvent]:
    keys = f"Keys learned: {run.keys_learned}, start tried with {run.start_tried_with}."
    ended = f"{run.get_outcome_display()}: {run.version}. {keys}"
    assert run.ended_at
    for at, words in ((run.started_at, f"Began: {run.version}."), (run.ended_at, f"{ended} {run.why}".strip())):
        yield JobEvent(
            job=run.job, visit=run.visit, kind=EventKind.PROCEDURE, at=at, recorded_at=at, by_id=run.started_by_id,
            words=words,
        )  # fmt: skip
