"""The trials of a job as they are kept between two pages: the state, its plan ready made, and an answer in doubt."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from vehicles.keys import BlankPlan, Chain, KeySystem, Step, TrialState
from vehicles.keys.trial_planning import standing
from vehicles.keys.trial_state import state_from_json


@dataclass(frozen=True)
class Doubt:
    """An answer that contradicts earlier ones, in words; `tries` are the numbers of those that can be withdrawn."""

    words: str
    tries: tuple[int, ...]


@dataclass(frozen=True)
class Kept:
    """Where the trying stands."""

    state: TrialState
    doubt: Doubt | None = None


def kept_to_json(kept: Kept) -> dict[str, Any]:
    """Plain data; the plan is kept with the state because making it again takes seconds for thousands of keys."""
    state, doubt = kept.state, kept.doubt
    return {
        "state": state.to_json(),
        "chains": [[[list(each) for each in chain.bittings], chain.blank] for chain in state.plan.chains],
        "proof": [list(each) for each in state.plan.incomparable],
        "usable": list(state.plan.usable),
        "steps": [[list(each.bitting), each.blank, each.is_new_blank, str(each.chance)] for each in state.steps],
        "effort": str(state.expected_effort),
        "doubt": doubt and [doubt.words, list(doubt.tries)],
    }


def kept_from_json(system: KeySystem, data: Mapping[str, Any]) -> Kept:
    """What `kept_to_json` wrote."""
    state = standing(state_from_json(system, data["state"]))
    chains = tuple(Chain(tuple(tuple(each) for each in bittings), blank) for bittings, blank in data["chains"])
    plan = BlankPlan(chains, tuple(tuple(each) for each in data["proof"]), tuple(data["usable"]))
    steps = tuple(Step(tuple(cuts), blank, is_new, Fraction(chance)) for cuts, blank, is_new, chance in data["steps"])
    state = replace(state, plan=plan, steps=steps, expected_effort=Fraction(data["effort"]))
    doubt = data["doubt"]
    return Kept(state, Doubt(doubt[0], tuple(doubt[1])) if doubt else None)
