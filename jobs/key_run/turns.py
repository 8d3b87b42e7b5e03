"""One turn of the trials, told as plain data, so that a worker can take it as well as a request."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from jobs.key_run.kept import Doubt, Kept
from vehicles.keys import (
    Answer,
    BadAnswer,
    Blank,
    BlankPlan,
    ContradictoryAnswer,
    KeySystem,
    Step,
    TrialState,
    after,
    discard_blank,
    plan_trials,
    undo,
)
from vehicles.keys.chains import Progress

Turn = Mapping[str, Any]


def begin_trials(system: KeySystem, turn: Turn, progress: Progress | None = None) -> Kept:
    """Trials for weighed candidates: `candidates` [[labels, weight], ...], `in_hand` blanks already cut."""
    candidates = [tuple(labels) for labels, _ in turn["candidates"]]
    weights = [weight for _, weight in turn["candidates"]]
    in_hand = [tuple(labels) for labels in turn.get("in_hand", ())]
    state = plan_trials(system, candidates, weights, in_hand=in_hand, progress=progress)
    return Kept(state)


def take_turn(kept: Kept, turn: Turn) -> Kept:
    """The trials after an "answer", an "undo", or a blank gone ("discard"). An answer that contradicts earlier ones is
    not taken, but the blank that was cut for it is, and the doubt is kept. Raises BadAnswer."""
    state = kept.state
    if turn["do"] == "answer":
        return _answered(state, Answer.from_json(turn["answer"]), turn.get("tried"))
    if turn["do"] == "undo":
        return Kept(undo(state, turn["number"], was_cut=turn["was_cut"]))
    if turn["do"] == "discard":
        return replace(kept, state=discard_blank(state, turn["number"]))
    raise BadAnswer("Nobody knows how to do that.")


def _answered(state: TrialState, answer: Answer, tried: Sequence[str] | None) -> Kept:
    try:
        if tried is None:
            return Kept(after(state, answer))
        later = after(state, answer, tried=tried)
        # Cut on the customer's own blank, which is no trial blank to be cut on.
        used = later.tries[-1].blank
        return Kept(discard_blank(later, used) if used in {each.number for each in later.in_hand} else later)
    except ContradictoryAnswer as refused:
        doubt = Doubt(str(refused), refused.tries)
        return Kept(state if tried is not None else _with_cut(state), doubt)


def _with_cut(state: TrialState) -> TrialState:
    """The same with the blank of the next step cut: metal does not come back because the answer is in doubt. The plan
    stays, so that the same blank is asked about again."""
    step = state.next_step
    if step is None:
        return state
    held = {each.number: each for each in state.blanks}
    held[step.blank] = Blank(step.blank, step.bitting)
    later = replace(state, blanks=tuple(held.values()), steps=(replace(step, is_new_blank=False), *state.steps[1:]))
    return replace(later, plan=_begun(later, step)) if step.is_new_blank else later


def _begun(state: TrialState, step: Step) -> BlankPlan:
    """The plan when the chain that begins with `step` has its blank in hand."""
    place = [each.number for each in state.in_hand].index(step.blank)
    chains = tuple(
        replace(chain, blank=place) if chain.blank is None and chain.bittings[0] == step.bitting else chain
        for chain in state.plan.chains
    )
    return replace(state.plan, chains=chains)
