"""Keys: from code, measurement or half a key to the cuts, on the fewest blanks.

Plain Python on plain data; knows nothing of pages or of a database.
"""

from .answers import DOES_NOT_TURN, TURNS, Answer
from .card import CutLine, cutting_lines, reading_groups
from .chains import BlankPlan, Chain, fewest_blanks, largest_incomparable_set, plan_blanks
from .checks import violations
from .completions import completions, count_completions, iter_completions
from .counting import count_bittings, count_theoretical
from .decode import Candidate, Choice, Decoded, NextReading, decode
from .depths import Depth
from .entry import parse_bitting
from .errors import (
    BadAnswer,
    BadBitting,
    BadLength,
    BadReadings,
    BadRule,
    ContradictoryAnswer,
    ImpossibleSystem,
    KeysError,
    TooManyBittings,
    UnitsDoubt,
)
from .profile import Profile, key_profile
from .rules import Rule, Spot, Violation, rule_from_json, rule_names
from .system import Bitting, KeySystem, Layout, Reading, Stop
from .transponder import BlankCosts, TransponderAdvice, expected_new_blanks, transponder_advice
from .trial_state import Blank, Effort, Step, TrialState, Try
from .trials import after, discard_blank, plan_trials, trials_from_json, undo
from .units import even_depths, even_positions, inch, mm, to_inch
from .wear import WearModel

__all__ = [
    "DOES_NOT_TURN",
    "TURNS",
    "Answer",
    "BadAnswer",
    "BadBitting",
    "BadLength",
    "BadReadings",
    "BadRule",
    "Bitting",
    "Blank",
    "BlankCosts",
    "BlankPlan",
    "Candidate",
    "Chain",
    "Choice",
    "ContradictoryAnswer",
    "CutLine",
    "Decoded",
    "Depth",
    "Effort",
    "ImpossibleSystem",
    "KeySystem",
    "KeysError",
    "Layout",
    "NextReading",
    "Profile",
    "Reading",
    "Rule",
    "Spot",
    "Step",
    "Stop",
    "TooManyBittings",
    "TransponderAdvice",
    "TrialState",
    "Try",
    "UnitsDoubt",
    "Violation",
    "WearModel",
    "after",
    "completions",
    "count_bittings",
    "count_completions",
    "count_theoretical",
    "cutting_lines",
    "decode",
    "discard_blank",
    "even_depths",
    "even_positions",
    "expected_new_blanks",
    "fewest_blanks",
    "inch",
    "iter_completions",
    "key_profile",
    "largest_incomparable_set",
    "mm",
    "parse_bitting",
    "plan_blanks",
    "plan_trials",
    "reading_groups",
    "rule_from_json",
    "rule_names",
    "to_inch",
    "transponder_advice",
    "trials_from_json",
    "undo",
    "violations",
]
