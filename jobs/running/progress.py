"""Where a run stands: told from the marks alone, in whatever order they came."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from jobs.models import ProcedureRun, StepDone
from jobs.running.measuring import Limits, limits_of
from vehicles.models import ProcedureStep, ProcedureVersion
from vehicles.procedure_content import wait_words
from vehicles.states import StepKind


def step_limits(step: ProcedureStep, version: ProcedureVersion) -> Limits:
    """What a measure of this step must lie in."""
    return limits_of(step.unit, step.low, step.high, low_volts=version.low_volts, high_volts=version.high_volts)


@dataclass(frozen=True)
class Bad:
    """The newest value of a measure, where it lies outside its limits."""

    step: ProcedureStep
    fault: str
    is_hard: bool


@dataclass
class StepState:
    """One step with what is known of it. `done` is its newest mark, `begun` that of its wait's beginning."""

    step: ProcedureStep
    limits: Limits
    done: StepDone | None = None
    begun: StepDone | None = None
    bad: list[Bad] = field(default_factory=list)

    @property
    def over_at(self) -> datetime | None:
        """When its wait is over."""
        if self.begun is None or self.step.seconds is None:
            return None
        return self.begun.at + timedelta(seconds=self.step.seconds)

    @property
    def wait_words(self) -> str:
        return wait_words(self.step.seconds)

    @property
    def is_stopped(self) -> bool:
        """Something before it lies outside its limits, and this step cannot be interrupted."""
        is_excused = self.begun is not None and bool(self.begun.reason)
        return bool(self.bad) and self.done is None and not is_excused

    @property
    def may_go_on(self) -> bool:
        """The procedure's own supply limits allow no exception; those of a single step do, with a reason."""
        return not any(each.is_hard for each in self.bad)


@dataclass(frozen=True)
class Progress:
    """All steps in order; `current` is the first that is not done, None when all are."""

    states: tuple[StepState, ...]
    bad: tuple[Bad, ...] = ()

    @property
    def current(self) -> StepState | None:
        return next((state for state in self.states if state.done is None), None)

    @property
    def done_count(self) -> int:
        return sum(state.done is not None for state in self.states)

    def of_step(self, step_id: int) -> StepState | None:
        return next((state for state in self.states if state.step.pk == step_id), None)


def load_progress(run: ProcedureRun) -> Progress:
    """Where a run stands; its steps and its marks are a query each."""
    return progress(run.version, list(run.version.steps.all()), run.marks.all())


def progress(version: ProcedureVersion, steps: Sequence[ProcedureStep], marks: Iterable[StepDone]) -> Progress:
    """Where a run stands after these marks; of several on one step the newest counts."""
    states = tuple(StepState(step, step_limits(step, version)) for step in steps)
    by_step = {state.step.pk: state for state in states}
    for mark in sorted(marks, key=lambda each: (each.at, each.pk or 0)):
        state = by_step[mark.step_id]
        if mark.is_begin:
            state.begun = mark
        else:
            state.done = mark
    return Progress(states, tuple(_find_bad(states)))


def _find_bad(states: Sequence[StepState]) -> list[Bad]:
    """Every newest value outside its limits; those before a step that cannot be interrupted are told to it."""
    bad: list[Bad] = []
    for state in states:
        if state.step.is_uninterruptible:
            state.bad = list(bad)
        if state.step.kind == StepKind.MEASURE and state.done and state.done.measured is not None:
            value = state.done.measured
            if fault := state.limits.fault(value):
                bad.append(Bad(state.step, fault, state.limits.is_hard(value)))
    return bad
