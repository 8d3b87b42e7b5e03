"""Record rules as data: what each example wants, shows, hides and keeps, row by row of the statutes named.

The facts are those of Cal. Bus. & Prof. Code 6980.53 and 6980.55; Md. Code, Bus. Reg. 12.5-301 to 303 with the labor
department's "minimum content"; Tex. Bus. & Com. Code (customer authorization and receipts) and Occ. Code 1702, as read
in public copies.
"""

from dataclasses import replace
from datetime import date

import pytest

from jobs.record_rules import (
    GUARDED_FACTS,
    BadRule,
    Entry,
    Fact,
    Moment,
    Paper,
    Recorded,
    Rule,
    Span,
    Thing,
    Way,
    answer_until,
    check_rule,
    kept_until,
    lacks,
    lacks_to_pass,
    paper_fields,
    wanted,
)
from jobs.record_rules.examples import EXAMPLES, KEY_MAKING
from jobs.states import MAKES_KEYS, KindOfWork

VEHICLE, BUILDING = Thing.VEHICLE, Thing.BUILDING
KEYS, OPENING = "all_keys_lost", "lock_out"
PERSON_CA = {Fact.NAME, Fact.BORN_ON, Fact.DOCUMENT_NUMBER}


def at_finish(key: str, thing: Thing, kind: str) -> set[Fact]:
    return set(wanted(EXAMPLES[key], thing, kind, moment=Moment.BEFORE_FINISH))


@pytest.mark.parametrize("kind", sorted(KEY_MAKING))
def test_california_records_who_asks_for_a_vehicle_key_made_by_any_method(kind: str) -> None:
    asked = at_finish("california", VEHICLE, kind)
    assert asked >= PERSON_CA | {Fact.VEHICLE_ID, Fact.SIGNATURE}
    assert asked >= {Fact.SERVED_ON, Fact.LOCKSMITH, Fact.LOCKSMITH_LICENCE}


def test_california_records_who_has_a_home_or_business_opened() -> None:
    asked = at_finish("california", BUILDING, OPENING)
    assert asked >= PERSON_CA | {Fact.ADDRESS, Fact.PHONE, Fact.PLACE, Fact.SIGNATURE}
    assert at_finish("california", VEHICLE, OPENING) == set()


@pytest.mark.parametrize("thing", Thing)
def test_california_refuses_to_copy_a_key_marked_do_not_duplicate(thing: Thing) -> None:
    rule = EXAMPLES["california"]
    present = frozenset(Fact) - {Fact.KEY_NOT_MARKED}
    marked = Recorded(thing, "duplicate_key", present, relationship="owner", is_key_marked=True)
    assert any("do not duplicate" in words and "refuses" in words for words in lacks_to_pass(rule, marked))
    assert Fact.KEY_NOT_MARKED not in at_finish("california", thing, "rekey")


@pytest.mark.parametrize("kind", KindOfWork.values)
@pytest.mark.parametrize("thing", Thing)
def test_maryland_records_every_service_call(thing: Thing, kind: str) -> None:
    asked = at_finish("maryland", thing, kind)
    assert asked >= {Fact.PLACE, Fact.LOCK_TYPE, Fact.LOCKSMITH_LICENCE, Fact.PRICE_TOLD}
    # "Vehicle identification number if applicable."
    assert (Fact.VIN in asked) == (thing == VEHICLE)


@pytest.mark.parametrize("thing", Thing)
def test_texas_wants_authorization_and_shown_identification_but_no_number(thing: Thing) -> None:
    asked = at_finish("texas", thing, OPENING)
    assert asked == {Fact.NAME, Fact.DOCUMENT_KIND, Fact.SIGNATURE, Fact.CONFIRMED_HOW}
    assert EXAMPLES["texas"].names_exception("danger")


@pytest.mark.parametrize("key", ["california", "maryland", "plain"])
def test_only_texas_and_the_plain_default_name_danger_as_an_exception(key: str) -> None:
    assert EXAMPLES[key].names_exception("danger") == (key == "plain")


def shown(key: str, paper: Paper, thing: Thing = VEHICLE, kind: str = KEYS) -> set[Fact]:
    return set(paper_fields(EXAMPLES[key], paper, thing=thing, kind=kind)[0])


def test_papers_show_what_each_statute_says() -> None:
    assert shown("california", Paper.WORK_ORDER) >= PERSON_CA | {
        Fact.VEHICLE_ID, Fact.SIGNATURE, Fact.SERVED_ON, Fact.LOCKSMITH, Fact.LOCKSMITH_LICENCE,
    }  # fmt: skip
    assert shown("maryland", Paper.INVOICE) >= {Fact.LOCKSMITH_LICENCE, Fact.PRICE_TOLD, Fact.PRICE_PAID}
    assert shown("texas", Paper.WORK_ORDER) >= {Fact.CONFIRMED_HOW}


def test_papers_hide_what_each_statute_forbids() -> None:
    """Texas never prints the driver's licence number on the customer's receipt."""
    for paper in Paper:
        assert Fact.DOCUMENT_NUMBER not in shown("texas", paper)


@pytest.mark.parametrize("key", EXAMPLES)
@pytest.mark.parametrize("paper", Paper)
def test_guarded_facts_stand_on_a_paper_only_where_its_rule_says_so(key: str, paper: Paper) -> None:
    said = {fact for entry in EXAMPLES[key].entries for fact in entry.shown.get(paper, ())}
    for thing in Thing:
        for kind in KindOfWork.values:
            assert shown(key, paper, thing, kind) & GUARDED_FACTS <= said


@pytest.mark.parametrize(
    ("key", "served", "until"),
    [
        ("california", date(2026, 3, 10), date(2028, 3, 10)),
        ("california", date(2028, 2, 29), date(2030, 3, 1)),
        ("maryland", date(2026, 3, 10), date(2029, 3, 10)),
        ("maryland", date(2025, 12, 31), date(2028, 12, 31)),
    ],
)
def test_records_are_kept_for_the_years_of_the_statute(key: str, served: date, until: date) -> None:
    assert kept_until(EXAMPLES[key], served, thing=VEHICLE, kind=KEYS) == until


def test_where_no_time_is_named_the_shops_own_holds() -> None:
    assert all(entry.kept is None for entry in EXAMPLES["texas"].entries)
    own = replace(EXAMPLES["texas"], kept_otherwise=Span(years=1, days=30))
    assert kept_until(own, date(2026, 1, 1), thing=VEHICLE, kind=KEYS) == date(2027, 1, 31)


def test_of_several_entries_the_longest_time_counts() -> None:
    entries = (Entry(VEHICLE, kept=Span(years=1)), Entry(VEHICLE, frozenset({KEYS}), kept=Span(days=900)))
    rule = Rule("Two", "", "", entries, Span(days=1))
    assert kept_until(rule, date(2026, 1, 1), thing=VEHICLE, kind=KEYS) == date(2028, 6, 19)
    assert kept_until(rule, date(2026, 1, 1), thing=VEHICLE, kind=OPENING) == date(2027, 1, 1)


@pytest.mark.parametrize(
    ("asked_on", "way", "until"),
    [
        # 12 November 2026 is a Thursday.
        (date(2026, 11, 12), Way.POST, date(2026, 11, 19)),
        (date(2026, 11, 12), Way.ELECTRONIC, date(2026, 11, 16)),
        (date(2026, 11, 14), Way.ELECTRONIC, date(2026, 11, 17)),
    ],
)
def test_maryland_answers_in_business_days_by_post_and_electronically(asked_on: date, way: Way, until: date) -> None:
    assert answer_until(EXAMPLES["maryland"], asked_on, way=way) == until
    assert answer_until(EXAMPLES["california"], asked_on, way=way) is None


def test_every_lack_is_told_in_words_of_its_own() -> None:
    told: set[str] = set()
    for key, rule in EXAMPLES.items():
        for thing in Thing:
            for kind in KindOfWork.values:
                words = lacks(rule, Recorded(thing, kind), moment=Moment.BEFORE_FINISH)
                assert len(words) == len(set(words)) == len(at_finish(key, thing, kind))
                told |= set(words)
    assert len(told) > 15
    assert all(words.endswith(".") and "_" not in words for words in told)


@pytest.mark.parametrize(
    ("relationship", "paper", "words"),
    [("agent", "letter", "letter of the owner"), ("lender", "order", "order")],
)
def test_an_agent_needs_a_letter_and_a_lender_an_order(relationship: str, paper: str, words: str) -> None:
    full = Recorded(VEHICLE, KEYS, frozenset(Fact), relationship=relationship)
    assert [words in each for each in lacks_to_pass(EXAMPLES["plain"], full)] == [True]
    assert lacks_to_pass(EXAMPLES["plain"], replace(full, papers=frozenset({paper}))) == []


def test_whatever_the_rule_somebody_is_named_and_says_why_they_may() -> None:
    for rule in EXAMPLES.values():
        words = lacks_to_pass(rule, Recorded(VEHICLE, KEYS, frozenset(Fact) - {Fact.NAME, Fact.RELATIONSHIP}))
        assert any("Who is asking" in each for each in words) and any("entitled" in each for each in words)


NUMBER = frozenset({Fact.DOCUMENT_NUMBER})
SHOWS = Entry(VEHICLE, frozenset({KEYS}), shown={Paper.RECEIPT: NUMBER})
HIDES = Entry(VEHICLE, hidden={Paper.RECEIPT: NUMBER})


@pytest.mark.parametrize(
    "entries",
    [(SHOWS, HIDES), (HIDES, SHOWS), (replace(SHOWS, hidden={Paper.RECEIPT: NUMBER}),)],
)
def test_a_rule_that_forbids_what_it_demands_is_refused_with_words(entries: tuple[Entry, ...]) -> None:
    with pytest.raises(BadRule, match=r"Number of the identity document: .* receipt"):
        check_rule(Rule("Torn", "", "", entries, Span(years=1)))


@pytest.mark.parametrize(
    "entries",
    [
        (SHOWS, replace(HIDES, thing=BUILDING)),
        (SHOWS, replace(HIDES, kinds=frozenset({OPENING}))),
        (SHOWS, replace(HIDES, hidden={Paper.INVOICE: NUMBER})),
    ],
)
def test_entries_that_never_meet_do_not_contradict(entries: tuple[Entry, ...]) -> None:
    check_rule(Rule("Whole", "", "", entries, Span(years=1)))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"name": " "}, "name"),
        ({"entries": ()}, "at least one entry"),
        ({"kept_otherwise": Span(years=101)}, "kept"),
        ({"kept_otherwise": Span(days=-1)}, "kept"),
        ({"answer_by_post": -1}, "before it is made"),
    ],
)
def test_a_rule_that_cannot_be_followed_is_refused(change: dict[str, object], words: str) -> None:
    with pytest.raises(BadRule, match=words):
        check_rule(replace(EXAMPLES["texas"], **change))  # type: ignore[arg-type]


@pytest.mark.parametrize("key", EXAMPLES)
def test_shipped_rules_hold_together_and_survive_json(key: str) -> None:
    rule = EXAMPLES[key]
    check_rule(rule)
    assert Rule.from_json(rule.to_json(), name=rule.name, place=rule.place, citation=rule.citation) == rule
    named = set().union(*(entry.kinds for entry in rule.entries))
    assert named <= set(KindOfWork.values)
    assert {str(kind) for kind in MAKES_KEYS} == KEY_MAKING
