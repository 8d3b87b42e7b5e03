"""What the phone shows of the trials: the plan, the cut to make now, the answers, what was tried."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from jobs.actions.key_final import advise
from jobs.key_run.kept import Kept
from jobs.models import KeyWork
from vehicles.cards import CardLine, cutting_card
from vehicles.drawing import KeyDrawing, draw_key
from vehicles.keys import Bitting, KeySystem, TransponderAdvice, Try
from vehicles.workbench import PlanStep, PlanView, view_plan


@dataclass(frozen=True)
class Reply:
    """One button under the cut: what was seen when the trial key was tried."""

    answer: str
    lock: str
    words: str


@dataclass(frozen=True)
class CutNow:
    """One cut of the key to make now. `before` is what the blank is cut to there, empty on a new blank."""

    line: CardLine
    before: str
    is_deeper: bool


@dataclass(frozen=True)
class TrialsPage:
    """The trials as they stand. `step` and what hangs on it are empty when nothing is left to try."""

    plan: PlanView
    step: PlanStep | None
    groups: tuple[tuple[tuple[str, bool], ...], ...]
    cuts: tuple[CutNow, ...]
    drawing: KeyDrawing | None
    replies: tuple[Reply, ...]
    tries: tuple[Try, ...]
    seen: int
    advice: TransponderAdvice | None
    doubt: str
    doubted: tuple[Try, ...]
    next_cut: tuple[int, str] | None = None

    @property
    def deeper(self) -> tuple[CutNow, ...]:
        """What changes on a blank that is cut on; on a new blank every cut."""
        return tuple(cut for cut in self.cuts if cut.is_deeper)

    @property
    def may_cut_final(self) -> bool:
        return bool(self.advice and self.advice.may_cut)

    @property
    def last(self) -> Try | None:
        """The try whose answer can be withdrawn first."""
        return next((each for each in reversed(self.tries) if not each.is_withdrawn), None)


def load_trials(work: KeyWork, kept: Kept, known: Mapping[str, Any] | None = None) -> TrialsPage:
    """The page of the trials. `known` is what was entered; of readings it names the cut most worth reading again."""
    state = kept.state
    plan = view_plan(state)
    step = plan.steps[0] if plan.steps else None
    shown: dict[str, Any] = {"groups": (), "cuts": (), "drawing": None, "replies": ()}
    if step is not None:
        shown = _of_step(state.system, step, next((b.cut for b in state.in_hand if b.number == step.blank), None))
    doubt = kept.doubt
    return TrialsPage(
        plan=plan,
        step=step,
        tries=state.tries,
        seen=len(state.tries),
        advice=advise(state, leave=work.leave_by_id is not None),
        doubt=doubt.words if doubt else "",
        next_cut=(known or {}).get("next_cut") if not state.tries else None,
        doubted=tuple(each for each in state.tries if doubt and each.number in doubt.tries),
        **shown,
    )


def grouped(
    system: KeySystem, bitting: Bitting, marked: tuple[int, ...] = ()
) -> tuple[tuple[tuple[str, bool], ...], ...]:
    """The bitting in groups to read aloud, each label with whether its cut is marked."""
    groups, place = [], 0
    for group in cutting_card(system, bitting).groups:
        groups.append(tuple((label, place + number in marked) for number, label in enumerate(group, 1)))
        place += len(group)
    return tuple(groups)


def _of_step(system: KeySystem, step: PlanStep, before: Bitting | None) -> dict[str, Any]:
    card = cutting_card(system, step.bitting)
    old = before or ("",) * len(step.bitting)
    marked = () if step.is_new_blank else step.changed
    return {
        "groups": grouped(system, step.bitting, marked),
        "cuts": tuple(
            CutNow(line, was, line.position in step.changed) for line, was in zip(card.lines, old, strict=True)
        ),
        "drawing": draw_key(system, step.bitting, deeper=marked, with_locks=False),
        "replies": _replies(system),
    }


def _replies(system: KeySystem) -> tuple[Reply, ...]:
    """Turns, does not turn, and each lock that reads only some of the cuts."""
    some = sorted((len(places), lock) for lock, places in system.locks.items() if len(places) < system.cuts)
    only = [Reply("only", lock, f"Turns the {lock} only") for _, lock in reversed(some)]
    return (Reply("turns", "", "Turns"), Reply("does not turn", "", "Does not turn"), *only)
