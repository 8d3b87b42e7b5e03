"""What a rule says of one job: what lacks, what a paper shows, until when it is kept."""

from dataclasses import dataclass
from datetime import date, timedelta

from jobs.record_rules.facts import (
    CHECK_FACTS,
    FACT_WORDS,
    GUARDED_FACTS,
    LACK_WORDS,
    RESTS_ON,
    Fact,
    Moment,
    Paper,
    Relationship,
    Thing,
    Way,
)
from jobs.record_rules.rule import LONGEST_DAYS, LONGEST_YEARS, BadRule, Entry, Facts, Rule, Span

# Whatever the rule: a key is for somebody who is named and says why they may have it.
ALWAYS_TO_PASS = frozenset({Fact.NAME, Fact.RELATIONSHIP})
SATURDAY = 5


@dataclass(frozen=True)
class Recorded:
    """One job as far as it is recorded. `differing` are words for VINs that do not agree."""

    thing: str
    kind_of_work: str
    present: Facts = frozenset()
    relationship: str = ""
    papers: frozenset[str] = frozenset()
    differing: tuple[str, ...] = ()
    is_key_marked: bool = False
    is_vin_read: bool = False


def wanted(rule: Rule, thing: str, kind: str, *, moment: Moment) -> Facts:
    """The facts that must be there at a moment."""
    entries = rule.entries_for(thing, kind)
    early: Facts = frozenset().union(*(entry.before_key for entry in entries))
    if moment == Moment.BEFORE_KEY:
        return early
    return early.union(*(entry.before_finish for entry in entries))


def to_ask(rule: Rule, thing: str, kind: str) -> Facts:
    """The facts that the check must ask for."""
    late = wanted(rule, thing, kind, moment=Moment.BEFORE_FINISH) & CHECK_FACTS
    return wanted(rule, thing, kind, moment=Moment.BEFORE_KEY) | late


def missing(rule: Rule, recorded: Recorded, *, moment: Moment) -> list[Fact]:
    """The wanted facts that are not there, in the order in which people ask for them."""
    due = wanted(rule, recorded.thing, recorded.kind_of_work, moment=moment)
    return [fact for fact in Fact if fact in due - recorded.present]


def lacks(rule: Rule, recorded: Recorded, *, moment: Moment) -> list[str]:
    """What lacks at a moment, in plain words; empty when nothing does."""
    return [_words(fact, recorded) for fact in missing(rule, recorded, moment=moment)]


def lacks_to_pass(rule: Rule, recorded: Recorded) -> list[str]:
    """What keeps the check from being passed: all that the rule wants and the check itself writes down, since it is
    written down once, and what no key is made without."""
    due = to_ask(rule, recorded.thing, recorded.kind_of_work) | ALWAYS_TO_PASS
    if recorded.differing:
        due -= {Fact.VIN_MATCH}
    found = [_words(fact, recorded) for fact in Fact if fact in due - recorded.present]
    rests_on = RESTS_ON.get(Relationship(recorded.relationship)) if recorded.relationship else None
    if rests_on and rests_on[0] not in recorded.papers:
        found.append(rests_on[1])
    return [*found, *recorded.differing]


def paper_fields(rule: Rule, paper: Paper, *, thing: str, kind: str) -> tuple[Facts, Facts]:
    """The facts that a paper shows and those it does not.

    What the rule shows is shown and what it hides is hidden; of the rest, guarded facts stay hidden.
    """
    entries = rule.entries_for(thing, kind)
    shown: Facts = frozenset().union(*(entry.shown.get(paper, frozenset()) for entry in entries))
    hidden: Facts = frozenset().union(*(entry.hidden.get(paper, frozenset()) for entry in entries))
    hidden |= GUARDED_FACTS - shown
    return frozenset(Fact) - hidden, hidden


def kept_until(rule: Rule, on: date, *, thing: str, kind: str) -> date:
    """The last day on which the record of a service on day `on` is kept; of several entries the longest counts."""
    spans = [entry.kept for entry in rule.entries_for(thing, kind) if entry.kept]
    return max(_after(on, span) for span in spans or [rule.kept_otherwise])


def answer_until(rule: Rule, asked_on: date, *, way: Way) -> date | None:
    """The last day for answering a request of an authority; None where the rule names none.

    Business days leave out Saturdays and Sundays; holidays are not known here, so the true day may be later.
    """
    days = rule.answer_by_post if way == Way.POST else rule.answer_electronically
    if days is None:
        return None
    day = asked_on
    while days > 0:
        day += timedelta(days=1)
        days -= not (rule.in_business_days and day.weekday() >= SATURDAY)
    return day


def contradictions(rule: Rule) -> list[str]:
    """Facts that one entry wants shown on a paper and another, or the same, forbids, in words."""
    found = []
    for thing in Thing:
        entries = [entry for entry in rule.entries if entry.thing == thing]
        for showing in entries:
            for hiding in entries:
                if _meet(showing, hiding):
                    found += _clashes(showing, hiding)
    return list(dict.fromkeys(found))


def check_rule(rule: Rule) -> None:
    """Raises BadRule for a rule that contradicts itself or cannot be followed."""
    words = []
    if not rule.name.strip():
        words.append("Give the rule a name.")
    if not rule.entries:
        words.append("A rule needs at least one entry.")
    spans = [rule.kept_otherwise, *(entry.kept for entry in rule.entries if entry.kept)]
    if any(not (0 <= span.years <= LONGEST_YEARS and 0 <= span.days <= LONGEST_DAYS) for span in spans):
        words.append(f"Records are kept for between no time and {LONGEST_YEARS} years.")
    if any(days is not None and days < 0 for days in (rule.answer_by_post, rule.answer_electronically)):
        words.append("A request is not answered before it is made.")
    words += contradictions(rule)
    if words:
        raise BadRule(words)


def _words(fact: Fact, recorded: Recorded) -> str:
    if fact == Fact.KEY_NOT_MARKED and recorded.is_key_marked:
        return "The key is marked “do not duplicate”. This rule refuses a copy."
    if fact == Fact.VIN_MATCH and recorded.is_vin_read:
        return "The VIN on the car was compared with nothing. Type the VIN of the papers as well."
    return LACK_WORDS[fact]


def _after(on: date, span: Span) -> date:
    """So many years and days later; 29 February becomes 1 March in a common year, since the longer time is safe."""
    try:
        moved = on.replace(year=on.year + span.years)
    except ValueError:
        moved = date(on.year + span.years, 3, 1)
    return moved + timedelta(days=span.days)


def _meet(one: Entry, other: Entry) -> bool:
    return not one.kinds or not other.kinds or bool(one.kinds & other.kinds)


def _clashes(showing: Entry, hiding: Entry) -> list[str]:
    thing, words = showing.thing.value, []
    for paper in Paper:
        both = showing.shown.get(paper, frozenset()) & hiding.hidden.get(paper, frozenset())
        for fact in (each for each in Fact if each in both):
            name = paper.value.replace("_", " ")
            words.append(
                f"{FACT_WORDS[fact]}: one entry for a {thing} wants it on the {name}, "
                "and an entry that holds for the same work forbids printing it there. Take one of the two away."
            )
    return words
