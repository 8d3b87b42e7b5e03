"""The run of a procedure: marks taken in once and in any order, limits, the stop, the end."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from jobs.actions.running import begin_run, end_run
from jobs.errors import WrongState
from jobs.models import EventKind, JobEvent, ProcedureRun, StepDone
from jobs.running.progress import load_progress
from shop.errors import Refused
from tests.jobs.running.rows import DOORS, DROP, LEARN, LIGHT, SUPPLY, WAIT, Car, car, content
from vehicles.actions.procedures import accept_version, propose_version

pytestmark = pytest.mark.django_db


@pytest.fixture
def made() -> Car:
    return car()


def whole(made: Car, run: ProcedureRun) -> None:
    """Every step as it should be; the wait began ten minutes and a half ago."""
    ProcedureRun.objects.filter(pk=run.pk).update(started_at=timezone.now() - timedelta(hours=1))
    made.mark(run, SUPPLY, measured="12.6")
    made.mark(run, DROP, measured="0.1")
    made.mark(run, DOORS)
    made.mark(run, WAIT, is_begin=True, at=timezone.now() - timedelta(seconds=630))
    made.mark(run, WAIT)
    made.mark(run, LEARN)
    made.mark(run, LIGHT, immobilizer_light="out", alarm_light="flashes")


def test_a_run_from_beginning_to_end_is_written_down_on_the_job(made: Car) -> None:
    run = made.begin()
    whole(made, run)
    ended = end_run(
        run, actor=made.me, outcome="worked", variant=made.late, keys_learned=2, start_tried_with=2,
        immobilizer_light="out", alarm_light="flashes",
    )  # fmt: skip
    assert load_progress(ended).current is None
    words = list(JobEvent.objects.filter(job=made.job, kind=EventKind.PROCEDURE).values_list("words", flat=True))
    assert words[0].startswith("Began: All keys lost, Merrow Tern II, version 1")
    assert "Keys learned: 2, start tried with 2." in words[1]
    vehicle = made.job.vehicle
    assert vehicle
    vehicle.refresh_from_db()
    assert vehicle.variant == made.late
    light = StepDone.objects.get(run=run, step=made.step(LIGHT))
    assert (light.immobilizer_light, light.alarm_light) == ("out", "flashes")


def test_a_mark_sent_twice_is_one_and_its_id_serves_no_other_step(made: Car) -> None:
    run, client_id = made.begin(), uuid4()
    first = made.mark(run, SUPPLY, client_id=client_id, measured="12.6")
    assert made.mark(run, SUPPLY, client_id=client_id, measured="12.6").pk == first.pk
    assert StepDone.objects.count() == 1
    with pytest.raises(Refused, match="another step"):
        made.mark(run, DOORS, client_id=client_id)
    once = made.mark(run, DOORS)
    assert made.mark(run, DOORS).pk == once.pk


def test_marks_out_of_order_tell_the_same(made: Car) -> None:
    run = made.begin()
    made.mark(run, DOORS)
    made.mark(run, DROP, measured="0.15")
    current = load_progress(run).current
    assert current and current.step.position == SUPPLY
    made.mark(run, SUPPLY, measured="12.6")
    current = load_progress(run).current
    assert current and current.step.position == WAIT


def test_a_measure_taken_again_counts_by_its_time_not_by_its_coming(made: Car) -> None:
    run = made.begin(at=timezone.now() - timedelta(hours=1))
    made.mark(run, SUPPLY, measured="12.7", at=timezone.now())
    made.mark(run, SUPPLY, measured="11.9", at=timezone.now() - timedelta(minutes=20))
    assert load_progress(run).bad == ()


def test_below_the_procedures_supply_nothing_uninterruptible_begins_whatever_is_said(made: Car) -> None:
    run = made.begin()
    made.mark(run, SUPPLY, measured="11.9")
    made.mark(run, DROP, measured="0.1")
    with pytest.raises(Refused, match=r"11\.9 V, below 12\.4 V"):
        made.mark(run, LEARN)
    with pytest.raises(Refused, match="measure again"):
        made.mark(run, LEARN, reason="In a hurry")
    made.mark(run, SUPPLY, measured="12.5")
    assert made.mark(run, LEARN).step.position == LEARN


def test_outside_a_steps_own_limits_the_work_goes_on_only_for_a_reason(made: Car) -> None:
    run = made.begin()
    made.mark(run, SUPPLY, measured="12.2")
    made.mark(run, DROP, measured="0.3")
    with pytest.raises(Refused) as refused:
        made.mark(run, LEARN)
    assert refused.value.field == "reason" and "0.3 V, above 0.2 V" in str(refused.value)
    assert made.mark(run, LEARN, reason="Ground strap cleaned, meter off").reason


def test_nothing_uninterruptible_begins_before_it_is_measured(made: Car) -> None:
    run = made.begin()
    made.mark(run, SUPPLY, measured="12.6")
    with pytest.raises(Refused, match="Measure first: Measure the drop"):
        made.mark(run, LEARN)


def test_a_wait_is_not_over_before_its_time(made: Car) -> None:
    run = made.begin()
    begun = made.mark(run, WAIT, is_begin=True)
    with pytest.raises(Refused, match="The wait runs until"):
        made.mark(run, WAIT)
    state = load_progress(run).of_step(made.step(WAIT).pk)
    assert state and state.over_at == begun.at + timedelta(seconds=600)
    assert made.mark(run, WAIT, is_begin=True).pk == begun.pk


def test_a_phone_whose_clock_is_wrong_marks_nothing_before_the_run_or_after_now(made: Car) -> None:
    run = made.begin()
    early = made.mark(run, DOORS, at=timezone.now() - timedelta(days=3))
    late = made.mark(run, SUPPLY, measured="12.6", at=timezone.now() + timedelta(days=3))
    assert early.at == run.started_at and late.at <= timezone.now()


def test_what_a_step_asks_must_be_told(made: Car) -> None:
    run = made.begin()
    with pytest.raises(Refused, match="what you measured"):
        made.mark(run, SUPPLY)
    with pytest.raises(Refused, match="immobilizer"):
        made.mark(run, LIGHT, alarm_light="out")
    with pytest.raises(Refused, match="Only a wait"):
        made.mark(run, DOORS, is_begin=True)


def test_an_old_job_keeps_its_version(made: Car) -> None:
    run = made.begin()
    newer = propose_version(made.procedure, actor=made.boss, content=content(low_volts=None), based_on=made.version)
    accept_version(newer, actor=made.boss)
    assert made.mark(run, SUPPLY, measured="12.6").step.version_id == run.version_id
    run.refresh_from_db()
    assert run.version.number == 1 and made.version.number == 2


def test_one_run_at_a_time_and_only_what_is_in_force(made: Car) -> None:
    run = made.begin()
    assert made.begin().pk == run.pk
    with pytest.raises(IntegrityError), transaction.atomic():
        ProcedureRun.objects.create(job=made.job, visit=made.visit, version=made.version, family=made.family)
    end_run(run, actor=made.me, outcome="not", why="The box did not answer")
    old = made.version
    newer = propose_version(made.procedure, actor=made.boss, content=content(low_volts=None), based_on=old)
    accept_version(newer, actor=made.boss)
    with pytest.raises(WrongState, match="not in force"):
        begin_run(made.visit, actor=made.me, version=old)


def test_no_key_is_learned_before_the_check() -> None:
    made = car(is_checked=False)
    with pytest.raises(WrongState):
        made.begin()


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"outcome": ""}, "outcome"),
        ({"outcome": "not", "why": " "}, "why"),
        ({"keys_learned": None}, "keys_learned"),
        ({"start_tried_with": None}, "start_tried_with"),
        ({"keys_learned": 3, "start_tried_with": 2}, "start_tried_with"),
        ({"immobilizer_light": "", "alarm_light": "out"}, "immobilizer_light"),
    ],
)
def test_the_end_asks_for_what_is_missing(made: Car, facts: dict[str, object], field: str) -> None:
    run = made.begin()
    told = {"outcome": "worked", "keys_learned": 2, "start_tried_with": 2, "immobilizer_light": "out", **facts}
    with pytest.raises(Refused) as refused:
        end_run(run, actor=made.me, **told)  # type: ignore[arg-type]
    assert refused.value.field == field
    assert ProcedureRun.objects.running().count() == 1


def test_nothing_more_is_kept_of_an_ended_run(made: Car) -> None:
    run = made.begin()
    end_run(run, actor=made.me, outcome="not", why="The box did not answer")
    assert end_run(run, actor=made.me, outcome="not", why="Again").why == "The box did not answer"
    with pytest.raises(WrongState):
        made.mark(run, DOORS)
    with pytest.raises(WrongState):
        end_run(run, actor=made.me, outcome="worked")
