"""When the expensive blank may be cut, and what trying is expected to cost."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from .system import Bitting
from .trial_state import TrialState
from .trials import plan_trials


@dataclass(frozen=True)
class BlankCosts:
    """What one plain trial blank and one transponder blank cost, in the shop's currency."""

    trial: Decimal
    transponder: Decimal


@dataclass(frozen=True)
class TransponderAdvice:
    """`may_cut` says whether the transponder blank may be cut now, and to which `bitting`
    (otherwise the likeliest candidate), right with `chance`.

    `cost_trials_first` is the expected cost of blanks from here when trial keys find the
    bitting and one transponder blank is cut at the end; `cost_direct` when every try is
    cut on transponder blanks, on the fewest of them. Blanks in hand are paid for.
    """

    may_cut: bool
    bitting: Bitting
    chance: Fraction
    words: str
    cost_trials_first: Decimal
    cost_direct: Decimal


def transponder_advice(state: TrialState, costs: BlankCosts, *, owner_says_so: bool = False) -> TransponderAdvice:
    """The transponder blank may be cut when one candidate is left, or when its owner says so."""
    chances = {step.bitting: step.chance for step in state.steps}
    bitting = state.found or max(state.remaining, key=lambda candidate: chances.get(candidate, Fraction(0)))
    left = len(state.remaining)
    if state.found or left == 1:
        found = "A try has proved this key." if state.found else "One candidate is left."
        return TransponderAdvice(True, bitting, Fraction(1), found, costs.transponder, costs.transponder)
    chance = chances[bitting]
    words = f"{left} candidates are left; the likeliest is right with {_percent(chance)}."
    words += " Its owner accepts that." if owner_says_so else " Try plain keys first."
    return TransponderAdvice(
        may_cut=owner_says_so,
        bitting=bitting,
        chance=chance,
        words=words,
        cost_trials_first=_money(expected_new_blanks(state), costs.trial) + costs.transponder,
        cost_direct=_money(_blanks_when_each_try_is_final(state), costs.transponder),
    )


def expected_new_blanks(state: TrialState) -> Fraction:
    """How many new trial blanks are expected to be cut before only one candidate is left.

    The last candidate of the order needs no trial: when all before it have failed, it is
    the key.
    """
    used = expected = Fraction(0)
    for step in state.steps[:-1]:
        used += step.is_new_blank
        expected += used * step.chance
    return expected + (used * state.steps[-1].chance if state.steps else 0)


def _blanks_when_each_try_is_final(state: TrialState) -> Fraction:
    weights = {step.bitting: step.chance for step in state.steps}
    direct = plan_trials(state.system, state.remaining, weights, effort=state.effort)
    used = expected = Fraction(0)
    for step in direct.steps:
        used += step.is_new_blank
        expected += used * step.chance
    return expected


def _money(blanks: Fraction, price: Decimal) -> Decimal:
    return Decimal(blanks.numerator) * price / Decimal(blanks.denominator)


def _percent(chance: Fraction) -> str:
    share = round(chance * 100)
    return f"{share} % chance" if 0 < share < 100 else f"{float(chance):.2%} chance".replace("%", " %")
