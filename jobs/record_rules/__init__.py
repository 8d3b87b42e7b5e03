"""What a place's law wants of a locksmith's records, as data: recorded, shown, not printed, kept, answered.

Plain Python. The rules say what a shop has decided to follow; they give no legal clearance.
"""

from jobs.record_rules.facts import GUARDED_FACTS, Fact, Moment, Paper, Papers, Relationship, Thing, Way
from jobs.record_rules.rule import BadRule, Entry, ExceptionKind, Rule, RuleException, Span
from jobs.record_rules.verdicts import (
    Recorded,
    answer_until,
    check_rule,
    contradictions,
    kept_until,
    lacks,
    lacks_to_pass,
    missing,
    paper_fields,
    to_ask,
    wanted,
)

__all__ = [
    "GUARDED_FACTS",
    "BadRule",
    "Entry",
    "ExceptionKind",
    "Fact",
    "Moment",
    "Paper",
    "Papers",
    "Recorded",
    "Relationship",
    "Rule",
    "RuleException",
    "Span",
    "Thing",
    "Way",
    "answer_until",
    "check_rule",
    "contradictions",
    "kept_until",
    "lacks",
    "lacks_to_pass",
    "missing",
    "paper_fields",
    "to_ask",
    "wanted",
]
