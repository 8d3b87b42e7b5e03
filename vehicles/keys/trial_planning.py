"""From what is left and the blanks in hand to the next steps."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

from .answers import fits
from .chains import BlankPlan, Chain, Progress, plan_blanks
from .checks import cuts_of
from .schedule import Task, soonest_order, weighted_completion
from .system import Bitting, KeySystem
from .trial_state import Step, TrialState


def standing(state: TrialState) -> TrialState:
    """Work out afresh which candidates all standing answers leave."""
    heard = [attempt for attempt in state.tries if not attempt.is_withdrawn]
    left = tuple(
        candidate
        for candidate in state.weights
        if all(fits(state.system, attempt.bitting, attempt.answer, candidate) for attempt in heard)
    )
    return replace(state, remaining=left)


def can_cut(system: KeySystem, now: Bitting, then: Bitting) -> bool:
    pairs = zip(cuts_of(system, now), cuts_of(system, then), strict=True)
    return now == then or (system.can_recut and all(one.rank <= two.rank for one, two in pairs))


def planned(
    state: TrialState,
    *,
    before: BlankPlan | None = None,
    numbers: Sequence[int] = (),
    progress: Progress | None = None,
) -> TrialState:
    """Add the plan for what remains. `before` is the plan made when blanks `numbers` were in
    hand: where it still needs no more blanks than the fresh one it is kept if it is as soon,
    so that the technician's next steps do not jump about without a gain."""
    if state.found is not None:
        return replace(state, plan=BlankPlan((), ()), steps=(), expected_effort=Fraction(0))
    cuts = [blank.cut for blank in state.in_hand]
    fresh = plan_blanks(state.system, state.remaining, in_hand=cuts, progress=progress)
    options = [_ordered(state, fresh)]
    kept = before and _carried_on(state, before, numbers)
    if kept and sum(chain.blank is None for chain in kept) == fresh.new_blanks:
        options.insert(0, _ordered(state, replace(fresh, chains=kept)))
    return min(options, key=lambda option: option.expected_effort)


def _carried_on(state: TrialState, before: BlankPlan, numbers: Sequence[int]) -> tuple[Chain, ...] | None:
    """The chains of the plan before, without what is no longer a candidate; None if a blank
    has been cut otherwise than that plan meant."""
    left = set(state.remaining)
    hand = [blank.number for blank in state.in_hand]
    last = state.tries[-1]
    chains = []
    for chain in before.chains:
        number = None if chain.blank is None else numbers[chain.blank]
        if last.bitting in chain.bittings and last.bitting == chain.bittings[0]:
            number = last.blank
        bittings = tuple(bitting for bitting in chain.bittings if bitting in left)
        if not bittings:
            continue
        if number is not None:
            cut = next((blank.cut for blank in state.in_hand if blank.number == number), None)
            if cut is None or not can_cut(state.system, cut, bittings[0]):
                return None
        chains.append(Chain(bittings, None if number is None else hand.index(number)))
    used = [chain.blank for chain in chains if chain.blank is not None]
    return tuple(chains) if len(used) == len(set(used)) else None


def _ordered(state: TrialState, plan: BlankPlan) -> TrialState:
    """Order the steps of a plan. Among equals, blanks in hand and longer chains come first:
    that spends new blanks as late as possible."""
    chains = sorted(plan.chains, key=lambda chain: (chain.blank is None, -len(chain.bittings)))
    share = sum((state.weights[c] for c in state.remaining), Fraction(0))
    weigh: Callable[[Bitting], Fraction] = (
        (lambda c: state.weights[c] / share) if share else (lambda c: Fraction(1, len(state.remaining)))
    )
    tasks = [_tasks(state, chain, weigh) for chain in chains]
    order = soonest_order(tasks)
    steps, numbers = [], {}
    unused = len(state.blanks) + 1
    for chain_number, place in order:
        chain = chains[chain_number]
        is_new = chain.blank is None and place == 0
        if place == 0:
            numbers[chain_number] = unused if chain.blank is None else state.in_hand[chain.blank].number
            unused += is_new
        bitting = chain.bittings[place]
        steps.append(Step(bitting, numbers[chain_number], is_new, weigh(bitting)))
    effort = weighted_completion(tasks, order)
    return replace(state, plan=replace(plan, chains=tuple(chains)), steps=tuple(steps), expected_effort=effort)


def _tasks(state: TrialState, chain: Chain, weigh: Callable[[Bitting], Fraction]) -> list[Task]:
    now = None if chain.blank is None else state.in_hand[chain.blank].cut
    tasks = []
    for bitting in chain.bittings:
        changed = len(bitting) if now is None else sum(a != b for a, b in zip(now, bitting, strict=True))
        tasks.append(Task(weigh(bitting), state.effort.per_try + state.effort.per_cut * changed))
        now = bitting
    return tasks
