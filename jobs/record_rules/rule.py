"""A record rule and its entries, to and from JSON."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from jobs.record_rules.facts import Fact, Paper, Thing

Facts = frozenset[Fact]
LONGEST_YEARS = 100
LONGEST_DAYS = 36_525


class BadRule(ValueError):
    """A rule that cannot be followed; `words` are fit to show, one line each."""

    def __init__(self, words: Iterable[str]) -> None:
        self.words = list(words)
        super().__init__(" ".join(self.words))


class ExceptionKind(StrEnum):
    """Why work may go on although the check lacks something. Both need a reason."""

    DANGER = "danger"
    OWNER = "owner"


EXCEPTION_WORDS = {
    ExceptionKind.DANGER: "Imminent danger to a person or property",
    ExceptionKind.OWNER: "The owner decided",
}


@dataclass(frozen=True)
class Span:
    """How long a record is kept, counted from the day of service."""

    years: int = 0
    days: int = 0

    def __str__(self) -> str:
        parts = [_counted(self.years, "year"), _counted(self.days, "day")]
        return " and ".join(part for part in parts if part) or "not at all"


@dataclass(frozen=True)
class RuleException:
    """An exception that the law itself names."""

    kind: ExceptionKind
    citation: str = ""


@dataclass(frozen=True)
class Entry:
    """What holds for one kind of thing and some kinds of work (none named: every kind).

    `kept` is None where the law as read names no time; then the rule's `kept_otherwise` holds.
    """

    thing: Thing
    kinds: frozenset[str] = frozenset()
    before_key: Facts = frozenset()
    before_finish: Facts = frozenset()
    shown: Mapping[Paper, Facts] = field(default_factory=dict)
    hidden: Mapping[Paper, Facts] = field(default_factory=dict)
    kept: Span | None = None
    citation: str = ""

    def holds_for(self, thing: str, kind: str) -> bool:
        return self.thing == thing and (not self.kinds or kind in self.kinds)

    def to_json(self) -> dict[str, Any]:
        return {
            "thing": self.thing.value,
            "kinds": sorted(self.kinds),
            "before_key": _names(self.before_key),
            "before_finish": _names(self.before_finish),
            "shown": {paper.value: _names(facts) for paper, facts in sorted(self.shown.items()) if facts},
            "hidden": {paper.value: _names(facts) for paper, facts in sorted(self.hidden.items()) if facts},
            "kept": _span_json(self.kept),
            "citation": self.citation,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Entry":
        return cls(
            thing=Thing(data["thing"]),
            kinds=frozenset(data["kinds"]),
            before_key=_facts(data["before_key"]),
            before_finish=_facts(data["before_finish"]),
            shown={Paper(paper): _facts(names) for paper, names in data["shown"].items()},
            hidden={Paper(paper): _facts(names) for paper, names in data["hidden"].items()},
            kept=_span(data["kept"]),
            citation=data["citation"],
        )


@dataclass(frozen=True)
class Rule:
    """A place's rule. Requests are answered in so many days, of business where it says so; None: no time named."""

    name: str
    place: str
    citation: str
    entries: tuple[Entry, ...]
    kept_otherwise: Span
    answer_by_post: int | None = None
    answer_electronically: int | None = None
    in_business_days: bool = False
    exceptions: tuple[RuleException, ...] = ()

    def entries_for(self, thing: str, kind: str) -> list[Entry]:
        return [entry for entry in self.entries if entry.holds_for(thing, kind)]

    def names_exception(self, kind: str) -> bool:
        return any(each.kind == kind for each in self.exceptions)

    def to_json(self) -> dict[str, Any]:
        """Everything but the name, place and citation, which stand in columns of their own."""
        return {
            "entries": [entry.to_json() for entry in self.entries],
            "kept_otherwise": _span_json(self.kept_otherwise),
            "answer_by_post": self.answer_by_post,
            "answer_electronically": self.answer_electronically,
            "in_business_days": self.in_business_days,
            "exceptions": [{"kind": each.kind.value, "citation": each.citation} for each in self.exceptions],
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any], *, name: str, place: str, citation: str) -> "Rule":
        kept = _span(data["kept_otherwise"])
        if kept is None:
            raise BadRule(["The rule does not say how long records are kept."])
        return cls(
            name=name,
            place=place,
            citation=citation,
            entries=tuple(Entry.from_json(each) for each in data["entries"]),
            kept_otherwise=kept,
            answer_by_post=data["answer_by_post"],
            answer_electronically=data["answer_electronically"],
            in_business_days=data["in_business_days"],
            exceptions=tuple(
                RuleException(ExceptionKind(each["kind"]), each["citation"]) for each in data["exceptions"]
            ),
        )


def _counted(number: int, word: str) -> str:
    return "" if not number else f"{number} {word}{'' if number == 1 else 's'}"


def _names(facts: Iterable[Fact]) -> list[str]:
    return sorted(fact.value for fact in facts)


def _facts(names: Iterable[str]) -> Facts:
    return frozenset(Fact(name) for name in names)


def _span(data: Mapping[str, int] | None) -> Span | None:
    return None if data is None else Span(years=data["years"], days=data["days"])


def _span_json(span: Span | None) -> dict[str, int] | None:
    return None if span is None else {"years": span.years, "days": span.days}
