"""Trying candidates on trial keys: the plan, and how each answer shrinks it.

A state is a value: `after`, `undo` and `discard_blank` give a new one. It remembers every
try, because a withdrawn answer takes back what it ruled out but cannot put metal back:
the blank stays as it was cut, and the new plan reckons with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from .answers import Answer, fits, read_answer
from .chains import Progress
from .checks import clean_bittings, cuts_of
from .errors import BadAnswer, ContradictoryAnswer, KeysError
from .system import Bitting, KeySystem
from .trial_planning import can_cut, planned, standing
from .trial_state import Blank, Effort, TrialState, Try, Weight, state_from_json

_NAMED_AT_MOST = 3


def plan_trials(
    system: KeySystem,
    candidates: Iterable[Sequence[str]],
    weights: Mapping[Bitting, Weight] | Sequence[Weight] | None = None,
    *,
    effort: Effort | None = None,
    in_hand: Sequence[Sequence[str]] = (),
    progress: Progress | None = None,
) -> TrialState:
    """A plan on the fewest new blanks, in the order that finds the key soonest on them.

    `weights` say how likely each candidate is, by bitting or in the order of the
    candidates, on any scale; None means all alike. `in_hand` are trial blanks already cut.
    Raises BadBitting for wrong candidates and KeysError for wrong weights.
    """
    given = [tuple(str(label) for label in candidate) for candidate in candidates]
    clean = clean_bittings(system, given)
    if not clean:
        raise KeysError("There is no candidate to try.")
    state = TrialState(
        system=system,
        weights=_weights(clean, given, weights),
        effort=effort or Effort(),
        blanks=tuple(Blank(number, cut) for number, cut in enumerate(_as_cut(system, in_hand), 1)),
        tries=(),
        remaining=tuple(clean),
    )
    return planned(state, progress=progress)


def _as_cut(system: KeySystem, bittings: Sequence[Sequence[str]]) -> list[Bitting]:
    return [tuple(cut.label for cut in cuts_of(system, bitting)) for bitting in bittings]


def _weights(
    clean: Sequence[Bitting],
    given: Sequence[Bitting],
    weights: Mapping[Bitting, Weight] | Sequence[Weight] | None,
) -> dict[Bitting, Fraction]:
    if weights is None:
        return dict.fromkeys(clean, Fraction(1))
    if isinstance(weights, Mapping):
        found = {bitting: _fraction(weights.get(bitting, 0)) for bitting in clean}
    elif len(weights) == len(given):
        found = dict.fromkeys(clean, Fraction(0))
        for bitting, weight in zip(given, weights, strict=True):
            found[bitting] += _fraction(weight)
    else:
        raise KeysError(f"{len(weights)} weights do not match {len(given)} candidates.")
    if min(found.values()) < 0 or not any(found.values()):
        raise KeysError("Weights cannot be below 0, and at least one must be above.")
    return found


def _fraction(weight: Weight) -> Fraction:
    try:
        return Fraction(weight)
    except (ValueError, OverflowError, TypeError):
        raise KeysError(f"{weight!r} is not a weight.") from None


def trials_from_json(system: KeySystem, data: Mapping[str, Any]) -> TrialState:
    """The state written by `TrialState.to_json`, planned again."""
    return planned(standing(state_from_json(system, data)))


def after(
    state: TrialState,
    answer: str | Answer,
    *,
    lock: str | None = None,
    tried: Sequence[str] | None = None,
    blank: int | None = None,
) -> TrialState:
    """The state after a try was answered (see `read_answer` for the words).

    Without `tried` the answer is about the planned next step. With it, about any bitting; it was
    cut on `blank`, or else on a blank in hand that already is that bitting, or a new one.
    Raises ContradictoryAnswer when nothing would be left, BadAnswer, BadBitting.
    """
    heard = read_answer(state.system, answer, lock)
    attempt = _attempt(state, heard, tried, blank)
    held = {each.number: each for each in state.blanks}
    held[attempt.blank] = Blank(attempt.blank, attempt.bitting)
    later = replace(state, tries=(*state.tries, attempt), blanks=tuple(held.values()))
    later = standing(later)
    if not later.remaining:
        raise _contradiction(state, attempt)
    return planned(later, before=state.plan, numbers=[each.number for each in state.in_hand])


def _attempt(state: TrialState, answer: Answer, tried: Sequence[str] | None, blank: int | None) -> Try:
    step = state.next_step
    if tried is None and step is None:
        raise BadAnswer("There is nothing left to try. Say which key was tried.")
    bitting = step.bitting if tried is None and step else _as_cut(state.system, [tried or ()])[0]
    held = {each.number: each.cut for each in state.in_hand}
    if blank is None and step and bitting == step.bitting:
        blank = step.blank
    if blank is None:
        blank = next((number for number, cut in held.items() if cut == bitting), None)
    if blank is not None and blank in held and not can_cut(state.system, held[blank], bitting):
        raise BadAnswer(f"Blank {blank} is cut to {' '.join(held[blank])} and cannot become {' '.join(bitting)}.")
    number = blank if blank is not None and blank in held else len(state.blanks) + 1
    return Try(len(state.tries) + 1, bitting, number, held.get(number), answer)


def undo(state: TrialState, number: int | None = None, *, was_cut: bool = True) -> TrialState:
    """Withdraw the answer to a try, the last one unless `number` is given.

    What the answer ruled out comes back. The blank stays as it was cut; with `was_cut=False`,
    possible only for the latest try on that blank, it is put back too, for a try
    that was written down but never made. Raises BadAnswer.
    """
    open_tries = [attempt for attempt in state.tries if not attempt.is_withdrawn]
    wanted = [attempt for attempt in open_tries if number in (None, attempt.number)]
    if not wanted:
        raise BadAnswer("There is no such answer to withdraw." if number else "There is no answer to withdraw.")
    attempt = wanted[-1]
    tries = tuple(replace(each, is_withdrawn=True) if each.number == attempt.number else each for each in state.tries)
    blanks = state.blanks if was_cut else _put_back(state, attempt)
    return planned(standing(replace(state, tries=tries, blanks=blanks)))


def _put_back(state: TrialState, attempt: Try) -> tuple[Blank, ...]:
    latest = [each for each in state.tries if each.blank == attempt.blank][-1]
    if latest.number != attempt.number:
        raise BadAnswer(f"Blank {attempt.blank} has been cut on since try {attempt.number}.")
    if attempt.cut_from is None:
        # A blank that was never cut keeps its number, so that later numbers do not shift.
        return tuple(
            replace(each, is_discarded=True) if each.number == attempt.blank else each for each in state.blanks
        )
    return tuple(replace(each, cut=attempt.cut_from) if each.number == attempt.blank else each for each in state.blanks)


def discard_blank(state: TrialState, number: int) -> TrialState:
    """Put a blank aside (broken, miscut, lost) and plan without it. Raises BadAnswer."""
    if number not in {blank.number for blank in state.in_hand}:
        raise BadAnswer(f"Blank {number} is not in hand.")
    blanks = tuple(replace(blank, is_discarded=True) if blank.number == number else blank for blank in state.blanks)
    return planned(replace(state, blanks=blanks))


def _contradiction(state: TrialState, attempt: Try) -> ContradictoryAnswer:
    """Name a small set of earlier tries that together rule out all the new answer allows."""
    allowed = [c for c in state.weights if fits(state.system, attempt.bitting, attempt.answer, c)]
    said = f"{attempt.words[0].upper()}{attempt.words[1:]}"
    if not allowed:
        words = (
            f"{said}, but no candidate fits that. Try again; if it stays so, one of the cuts taken "
            "as known is wrong: go back to the readings."
        )
        return ContradictoryAnswer(words, ())
    heard = [each for each in state.tries if not each.is_withdrawn]
    excluded = [{c for c in allowed if not fits(state.system, each.bitting, each.answer, c)} for each in heard]
    unexplained, blamed = set(allowed), []
    while unexplained:
        worst = max(range(len(heard)), key=lambda place: len(excluded[place] & unexplained))
        blamed.append(heard[worst])
        unexplained -= excluded[worst]
    blamed.sort(key=lambda each: each.number)
    words = (
        f"{said}, but {_told(blamed)}. These cannot all be true. Try again, "
        "or withdraw the answer that was wrong; if none was, go back to the readings."
    )
    return ContradictoryAnswer(words, [each.number for each in blamed])


def _told(tries: Sequence[Try]) -> str:
    """The tries in words; where plain failures are many, their numbers are enough."""
    plain = [each for each in tries if each.answer.whole is False and not each.answer.turned]
    if len(plain) <= _NAMED_AT_MOST:
        return " and ".join(each.words for each in tries)
    telling = [each.words for each in tries if each not in plain]
    numbers = ", ".join(str(each.number) for each in plain)
    return " and ".join([*telling, f"tries {numbers} did not turn"])
