"""Trying: the soonest order, what each answer rules out, and the way back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.vehicles.keys.key_samples import a_system, can_share, every_bitting, systems_with_candidates
from vehicles.keys import (
    Answer,
    BadAnswer,
    Bitting,
    BlankCosts,
    ContradictoryAnswer,
    Effort,
    KeysError,
    KeySystem,
    TrialState,
    after,
    discard_blank,
    expected_new_blanks,
    plan_trials,
    transponder_advice,
    trials_from_json,
    undo,
)
from vehicles.keys.schedule import Task, soonest_order, weighted_completion


def interleavings(sizes: Sequence[int]) -> Iterator[list[tuple[int, int]]]:
    """Every order of the tasks that keeps each chain's own order."""

    def go(at: tuple[int, ...], so_far: list[tuple[int, int]]) -> Iterator[list[tuple[int, int]]]:
        if len(so_far) == sum(sizes):
            yield list(so_far)
        for chain, place in enumerate(at):
            if place < sizes[chain]:
                moved = (*at[:chain], place + 1, *at[chain + 1 :])
                yield from go(moved, [*so_far, (chain, place)])

    yield from go((0,) * len(sizes), [])


tasks = st.builds(Task, st.integers(0, 6).map(Fraction), st.integers(1, 4).map(Fraction))


@given(st.lists(st.lists(tasks, min_size=1, max_size=3), min_size=1, max_size=3))
@settings(max_examples=80, deadline=None)
def test_order_is_the_best_of_all_orders(chains: list[list[Task]]) -> None:
    order = soonest_order(chains)
    sizes = [len(chain) for chain in chains]
    every = list(interleavings(sizes))
    assert order in every
    assert weighted_completion(chains, order) == min(weighted_completion(chains, each) for each in every)


def test_textbook_example_of_chains_is_solved() -> None:
    # M. Pinedo, "Scheduling", example 3.1.5: chains 1-2-3-4 and 5-6-7; from memory. The
    # published order is 1, 2, 5, 6, 3, 7, 4.
    weights, times = [0, 6, 18, 12, 8, 8, 17, 18], [0, 3, 6, 6, 5, 4, 8, 10]
    jobs = [Task(Fraction(w), Fraction(p)) for w, p in zip(weights, times, strict=True)]
    order = soonest_order([jobs[1:5], jobs[5:8]])
    assert [place + 1 if chain == 0 else place + 5 for chain, place in order] == [1, 2, 5, 6, 3, 7, 4]


LOCKS = {"door": [1, 2], "ignition": [2, 3]}


def car(**more: Any) -> KeySystem:
    return a_system(3, "123", locks=LOCKS, **more)


def test_a_plan_says_the_steps_the_blanks_and_the_chances() -> None:
    system = car()
    candidates = [("1", "1", "1"), ("1", "1", "3"), ("1", "2", "2"), ("3", "1", "1")]
    state = plan_trials(system, candidates, {("1", "1", "1"): 1, ("3", "1", "1"): 3, ("1", "2", "2"): 4})
    assert state.new_blanks == 3
    assert state.plan.is_minimum
    assert [step.bitting for step in state.steps][-1] == ("1", "1", "3")
    assert sum(step.chance for step in state.steps) == 1
    assert [step.blank for step in state.steps if step.is_new_blank] == [1, 2, 3]
    assert state.expected_tries >= state.expected_tries_without_limit


def test_does_not_turn_rules_out_the_tried_key_alone() -> None:
    state = plan_trials(car(), every_bitting(car()))
    first = state.steps[0].bitting
    later = after(state, "does not turn")
    assert set(state.remaining) - set(later.remaining) == {first}
    assert [blank.cut for blank in later.in_hand] == [first]
    assert later.new_blanks == state.new_blanks - 1
    assert later.steps == tuple(step for step in later.steps if step.bitting != first)


def test_a_lock_that_does_not_turn_rules_out_all_that_agree_where_it_reads() -> None:
    state = plan_trials(car(), every_bitting(car()))
    later = after(state, "does not turn", lock="door", tried=("1", "2", "3"))
    assert {each for each in state.remaining if each[:2] == ("1", "2")} == set(state.remaining) - set(later.remaining)


def test_the_door_only_fixes_the_cuts_the_door_reads() -> None:
    state = plan_trials(car(), every_bitting(car()))
    later = after(state, "turns the door only", tried=("1", "2", "3"))
    assert sorted(later.remaining) == [("1", "2", "1"), ("1", "2", "2")]
    assert later.found is None
    # Both are shallower at cut 3 than the blank in hand, so one new blank is needed.
    assert later.new_blanks == 1
    assert after(later, "turns").found == later.steps[0].bitting


def test_two_locks_that_turn_together_prove_the_key() -> None:
    state = plan_trials(car(), every_bitting(car()))
    once = after(state, "turns", lock="door", tried=("1", "2", "3"))
    assert len(once.remaining) == 3
    both = after(once, Answer(turned=frozenset(LOCKS)), tried=("1", "2", "3"))
    assert both.found == ("1", "2", "3")
    assert both.steps == ()


def test_a_contradiction_is_named_with_the_way_back() -> None:
    state = plan_trials(car(), every_bitting(car()))
    state = after(state, "does not turn", lock="ignition", tried=("3", "3", "3"))
    state = after(state, "turns the door only", tried=("1", "2", "3"))
    with pytest.raises(ContradictoryAnswer) as refused:
        after(state, "does not turn", lock="door", tried=("1", "2", "1"))
    assert refused.value.tries == (2,)
    assert str(refused.value).startswith("Try 3 (1 2 1) did not turn the door, but try 2 (1 2 3) turned the door only.")
    assert "withdraw the answer" in str(refused.value)
    back = undo(state, 2)
    assert after(back, "does not turn", lock="door", tried=("1", "2", "1")).remaining


def test_excluding_every_candidate_is_a_contradiction() -> None:
    state = plan_trials(car(), [("1", "1", "1"), ("2", "2", "2")])
    state = after(state, "does not turn")
    with pytest.raises(ContradictoryAnswer) as refused:
        after(state, "does not turn")
    assert refused.value.tries == (1,)
    with pytest.raises(ContradictoryAnswer, match="go back to the readings"):
        after(state, "turns", tried=("3", "3", "3"))


def test_many_plain_failures_are_named_by_number() -> None:
    state = plan_trials(car(), [(a, b, "1") for a in "123" for b in "12"])
    for _ in range(5):
        state = after(state, "does not turn")
    with pytest.raises(ContradictoryAnswer, match="but tries 1, 2, 3, 4, 5 did not turn"):
        after(state, "does not turn")


def test_a_withdrawn_answer_does_not_put_metal_back() -> None:
    state = plan_trials(car(), [("1", "1", "1"), ("1", "1", "2"), ("1", "1", "3")])
    twice = after(after(state, "does not turn"), "does not turn")
    back = undo(twice, 1)
    assert set(back.remaining) == {("1", "1", "1"), ("1", "1", "3")}
    assert [blank.cut for blank in back.in_hand] == [("1", "1", "2")]
    assert back.new_blanks == 1
    uncut = undo(twice, was_cut=False)
    assert [blank.cut for blank in uncut.in_hand] == [("1", "1", "1")]
    assert uncut.new_blanks == 0
    with pytest.raises(BadAnswer, match="has been cut on"):
        undo(twice, 1, was_cut=False)
    with pytest.raises(BadAnswer):
        undo(state)


def test_a_broken_blank_is_planned_without() -> None:
    state = after(plan_trials(car(), [("1", "1", "1"), ("1", "1", "2"), ("1", "1", "3")]), "does not turn")
    assert state.new_blanks == 0
    broken = discard_blank(state, 1)
    assert broken.new_blanks == 1
    assert broken.steps[0].blank == 2
    with pytest.raises(BadAnswer):
        discard_blank(broken, 1)


def test_answers_that_are_none_are_refused() -> None:
    state = plan_trials(car(), every_bitting(car()))
    for answer, lock in (("perhaps", None), ("turns the boot only", None), ("turns", "boot")):
        with pytest.raises(BadAnswer):
            after(state, answer, lock=lock)
    cut = after(state, "does not turn", tried=("2", "2", "2"))
    with pytest.raises(BadAnswer, match="cannot become"):
        after(cut, "does not turn", tried=("1", "2", "3"), blank=1)
    wrong: list[list[Any]] = [[1], [-1] * 27, [0] * 27, ["x"] * 27]
    for weights in wrong:
        with pytest.raises(KeysError):
            plan_trials(car(), every_bitting(car()), weights)
    with pytest.raises(KeysError):
        plan_trials(car(), [])


@given(systems_with_candidates(most=8), st.data())
@settings(max_examples=60, deadline=None)
def test_any_true_answers_lead_to_the_key_on_the_planned_blanks(
    case: tuple[KeySystem, list[Bitting]], data: st.DataObject
) -> None:
    bare, candidates = case
    system = KeySystem.from_json({**bare.to_json(), "locks": LOCKS})
    key = data.draw(st.sampled_from(candidates))
    weights = data.draw(st.lists(st.integers(1, 9), min_size=len(candidates), max_size=len(candidates)))
    state: TrialState = plan_trials(system, candidates, weights, effort=Effort(per_cut=Fraction(1, 3)))
    promised = state.new_blanks
    while state.found is None:
        assert key in state.remaining
        assert state.plan.is_minimum
        step = state.steps[0]
        held = {blank.number: blank.cut for blank in state.in_hand}
        assert step.is_new_blank == (step.blank not in held)
        assert step.is_new_blank or can_share(system, held[step.blank], step.bitting)
        opens_door = step.bitting[:2] == key[:2]
        answer = "turns" if step.bitting == key else "does not turn"
        state = after(state, "turns the door only" if opens_door and answer != "turns" else answer)
        assert trials_from_json(system, state.to_json()).remaining == state.remaining
    assert state.found == key
    assert len(state.blanks) <= promised


def test_transponder_waits_for_one_candidate_or_its_owner() -> None:
    costs = BlankCosts(trial=Decimal(2), transponder=Decimal(30))
    candidates = [("1", "1", "2"), ("1", "2", "1"), ("2", "1", "1")]
    state = plan_trials(car(), candidates, [2, 1, 1])
    advice = transponder_advice(state, costs)
    assert (advice.may_cut, advice.bitting, advice.chance) == (False, candidates[0], Fraction(1, 2))
    # Half the time one trial blank, else two: the third candidate is known by elimination.
    assert expected_new_blanks(state) == Fraction(3, 2)
    assert advice.cost_trials_first == 33
    # 1/2 x 1 + 1/4 x 2 + 1/4 x 3 blanks at 30.
    assert advice.cost_direct == Decimal("52.5")
    assert transponder_advice(state, costs, owner_says_so=True).may_cut
    last = after(after(state, "does not turn"), "does not turn")
    assert transponder_advice(last, costs).may_cut
    assert transponder_advice(last, costs).cost_trials_first == 30
    assert transponder_advice(after(state, "turns"), costs).bitting == candidates[0]
