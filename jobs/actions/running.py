"""Writes on the run of a procedure: begun, a step marked, ended."""

from datetime import datetime, timedelta
from decimal import Decimal
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from jobs.actions.base import lock_visit, record
from jobs.authority import key_data_verdict, makes_key
from jobs.errors import WrongState
from jobs.models import EventKind, Light, ProcedureRun, RunOutcome, StepDone, Visit
from jobs.running.progress import StepState, load_progress
from jobs.states import VisitState
from shop.errors import Refused
from shop.staff.models import Person
from vehicles.actions import set_family
from vehicles.models import ProcedureStep, ProcedureVersion, Variant
from vehicles.states import StepKind, VersionState

# The phone tells how long ago it saw a thing; the way there takes a while.
SLACK = timedelta(seconds=10)
MOST_KEYS = 20


@transaction.atomic
def begin_run(
    visit: Visit,
    *,
    actor: Person,
    version: ProcedureVersion,
    variant: Variant | None = None,
    at: datetime | None = None,
) -> ProcedureRun:
    """Begins a version on a visit; the run that is open there already, if there is one of the same version.

    Raises WrongState away from the site, before the check where a key is made, for a version that is not in force,
    and while another procedure runs.
    """
    locked = lock_visit(visit)
    running: ProcedureRun | None = ProcedureRun.objects.running().of_visit(locked).with_version().first()
    if running and running.version_id == version.pk:
        return running
    if running:
        raise WrongState(f"{running.version.procedure} is still running. End it first.")
    if locked.state != VisitState.ON_SITE:
        raise WrongState("Procedures are run on site. Arrive first.")
    verdict = key_data_verdict(locked.job, actor)
    if makes_key(locked.job) and not verdict.is_so:
        raise WrongState(verdict.words)
    fresh = ProcedureVersion.objects.select_related("procedure__family", "procedure__variant").get(pk=version.pk)
    if fresh.state != VersionState.ACCEPTED:
        raise WrongState("This version is not in force. Choose the newest.")
    run: ProcedureRun = ProcedureRun.objects.create(
        job=locked.job,
        visit=locked,
        version=fresh,
        family=fresh.procedure.family,
        variant=variant,
        started_at=at or timezone.now(),
        started_by=actor,
    )
    record(locked.job, EventKind.PROCEDURE, actor=actor, at=at, visit=locked, words=f"Began: {fresh}.")
    return run


@transaction.atomic
def mark_step(
    run: ProcedureRun,
    *,
    actor: Person,
    step: ProcedureStep,
    client_id: UUID,
    at: datetime | None = None,
    is_begin: bool = False,
    measured: Decimal | None = None,
    reason: str = "",
    note: str = "",
    immobilizer_light: str = "",
    alarm_light: str = "",
) -> StepDone:
    """Marks a step done, or its wait begun (`is_begin`). `at` is kept between the run's beginning and now.

    The same `client_id` again gives the mark that was made, and so does a step that is done already, unless it is a
    measure taken again. Raises WrongState when the run has ended; Refused for a measure without its value, a wait that
    is not over, a light not told, and an uninterruptible step while a measure before it is missing or outside its
    limits (field `reason`: it may go on if one is given).
    """
    lock_visit(run.visit)
    before = StepDone.objects.filter(client_id=client_id).first()
    if before:
        if before.run_id != run.pk or before.step_id != step.pk:
            raise Refused("This mark was made on another step.")
        return before
    fresh = ProcedureRun.objects.select_related("version").get(pk=run.pk)
    state = load_progress(fresh).of_step(step.pk)
    if state is None:
        raise Refused("This step belongs to another procedure.")
    again = state.begun if is_begin else state.done
    if again and step.kind != StepKind.MEASURE:
        return again
    if fresh.ended_at:
        raise WrongState("This run has ended. Nothing more is kept of it.")
    moment = min(max(at or timezone.now(), fresh.started_at), max(timezone.now(), fresh.started_at))
    mark = StepDone(
        run=fresh,
        step=state.step,
        client_id=client_id,
        is_begin=is_begin,
        at=moment,
        measured=measured if state.step.kind == StepKind.MEASURE else None,
        reason=reason.strip(),
        note=note.strip(),
        immobilizer_light=immobilizer_light,
        alarm_light=alarm_light,
    )
    _check(fresh, state, mark)
    mark.save(force_insert=True)
    return mark


def _check(run: ProcedureRun, state: StepState, mark: StepDone) -> None:
    step = state.step
    if mark.is_begin and step.kind != StepKind.WAIT:
        raise Refused("Only a wait has a beginning.")
    if step.is_uninterruptible:
        _check_before_uninterruptible(run, state, mark)
    if mark.is_begin:
        return
    if step.kind == StepKind.MEASURE and (mark.measured is None or not mark.measured.is_finite()):
        raise Refused("Type what you measured.", field="measured")
    if state.over_at and mark.at < state.over_at - SLACK:
        raise Refused(f"The wait runs until {timezone.localtime(state.over_at):%H:%M}.")
    if step.asks_immobilizer_light and mark.immobilizer_light not in Light.values:
        raise Refused("Say what the immobilizer's light does.", field="immobilizer_light")


def _check_before_uninterruptible(run: ProcedureRun, state: StepState, mark: StepDone) -> None:
    for earlier in load_progress(run).states:
        if earlier.step.position >= state.step.position:
            break
        if earlier.step.kind == StepKind.MEASURE and earlier.limits.words and earlier.done is None:
            raise Refused(f"Measure first: {earlier.step.words}")
    if not state.bad or (mark.reason and state.may_go_on):
        return
    if state.begun is not None and state.begun.reason:
        return
    faults = "; ".join(each.fault for each in state.bad)
    if state.may_go_on:
        raise Refused(
            f"{faults}. This step cannot be interrupted: measure again, or say why you go on.", field="reason"
        )
    raise Refused(f"{faults}. This step cannot be interrupted: mend that and measure again.")


@transaction.atomic
def end_run(
    run: ProcedureRun,
    *,
    actor: Person,
    outcome: str,
    why: str = "",
    variant: Variant | None = None,
    keys_learned: int | None = None,
    start_tried_with: int | None = None,
    immobilizer_light: str = "",
    alarm_light: str = "",
    at: datetime | None = None,
) -> ProcedureRun:
    """Ends a run with what came of it. An ended run ended so again stays as it is.

    Raises Refused when it is not said whether it worked, or why not; when it worked, how many keys were learned, with
    how many of them the start was tried, and what the immobilizer's light does, are asked too.
    """
    visit = lock_visit(run.visit)
    fresh: ProcedureRun = ProcedureRun.objects.with_version().get(pk=run.pk)
    if fresh.ended_at:
        if fresh.outcome == outcome:
            return fresh
        raise WrongState("This run has ended already.")
    if outcome not in RunOutcome.values:
        raise Refused("Did it work?", field="outcome")
    if outcome == RunOutcome.NOT and not why.strip():
        raise Refused("Say why it did not work, for the next one who meets this car.", field="why")
    if outcome == RunOutcome.WORKED:
        _check_worked(keys_learned, start_tried_with, immobilizer_light)
    if variant and variant.family_id != fresh.family_id:
        raise Refused("That variant belongs to another family.", field="variant")
    fresh.ended_at = max(at or timezone.now(), fresh.started_at)
    fresh.outcome, fresh.why, fresh.variant = outcome, why.strip(), variant
    fresh.keys_learned, fresh.start_tried_with = keys_learned, start_tried_with
    fresh.immobilizer_light, fresh.alarm_light = immobilizer_light, alarm_light
    fresh.save(
        update_fields=[
            "ended_at", "outcome", "why", "variant", "keys_learned", "start_tried_with", "immobilizer_light",
            "alarm_light",
        ]
    )  # fmt: skip
    vehicle = visit.job.vehicle
    if variant and vehicle and vehicle.variant_id != variant.pk:
        set_family(vehicle, actor=actor, family=fresh.family, variant=variant)
    record(visit.job, EventKind.PROCEDURE, actor=actor, at=at, visit=visit, words=_ended_words(fresh))
    return fresh


def _check_worked(keys_learned: int | None, start_tried_with: int | None, light: str) -> None:
    if keys_learned is None or not 0 <= keys_learned <= MOST_KEYS:
        raise Refused(f"How many keys were learned? From 0 to {MOST_KEYS}.", field="keys_learned")
    if start_tried_with is None or not 0 <= start_tried_with <= MOST_KEYS:
        raise Refused(f"With how many keys was the start tried? From 0 to {MOST_KEYS}.", field="start_tried_with")
    if start_tried_with < keys_learned:
        raise Refused("Try the start with every key that was learned.", field="start_tried_with")
    if light not in Light.values:
        raise Refused("Say what the immobilizer's light does.", field="immobilizer_light")


def _ended_words(run: ProcedureRun) -> str:
    words = [f"{run.get_outcome_display()}: {run.version}."]
    if run.keys_learned is not None:
        words.append(f"Keys learned: {run.keys_learned}, start tried with {run.start_tried_with or 0}.")
    if run.why:
        words.append(run.why)
    return " ".join(words)
