"""What makes a procedure, and how its figures are typed. Limits are the shop's own, no source."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.vehicles.know.made import CONTENT, STEPS
from vehicles.difference import difference
from vehicles.procedure_content import (
    Content,
    Doubt,
    StepContent,
    faults_of,
    limit_words,
    read_figure,
    read_volts,
    read_wait,
    step_lines,
    wait_words,
)
from vehicles.procedure_sheet import ProcedureSheet


def test_sound_procedure_has_no_faults() -> None:
    assert faults_of(CONTENT) == []


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (None, "how long"),
        (0, "A wait of nothing is no wait"),
        (-5, "no wait"),
        (30 * 3600, "30 h is longer than a visit"),
    ],
)
def test_impossible_wait_is_refused_with_its_reason(seconds: int | None, words: str) -> None:
    (fault,) = faults_of(replace(CONTENT, steps=(StepContent("wait", "Stand by", seconds=seconds),)))
    assert (fault.field, fault.step) == ("seconds", 1)
    assert words in fault.words


def test_wait_of_twelve_hours_is_the_longest() -> None:
    def faults(seconds: int) -> list[object]:
        return [*faults_of(replace(CONTENT, steps=(StepContent("wait", "Stand by", seconds=seconds),)))]

    assert faults(12 * 3600) == []
    assert len(faults(12 * 3600 + 1)) == 1


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("12,6", "Type 12.6 if that is meant"),
        ("1260", "Is 12.6 V meant"),
        ("126", "Is 12.6 V meant"),
        ("12600", "Is 12.6 V meant"),
        ("1.2.6", "no figure"),
        ("twelve", "no figure"),
        ("4", "between 5 and 32 V"),
        ("99999999", "no figure"),
        ("NaN", "no figure"),
    ],
)
def test_voltage_in_doubt_is_asked_back(typed: str, words: str) -> None:
    with pytest.raises(Doubt, match=words.replace("?", r"\?")):
        read_volts(typed)


@pytest.mark.parametrize(("typed", "volts"), [("12.6", "12.6"), (" 12.60 V ", "12.60"), ("24 volts", "24")])
def test_plain_voltage_is_read(typed: str, volts: str) -> None:
    assert read_volts(typed) == Decimal(volts)


def test_nothing_typed_is_nothing() -> None:
    assert read_volts("  ") is None
    assert read_figure("") is None


@pytest.mark.parametrize(
    ("typed", "seconds"),
    [("12", 720), ("12 min", 720), ("1 h 5 min", 3900), ("90 s", 90), ("12:30", 750), ("1h", 3600), ("0", 0)],
)
def test_wait_is_read_as_it_is_said(typed: str, seconds: int) -> None:
    assert read_wait(typed) == seconds


@pytest.mark.parametrize("typed", ["", "a while", "12,5 min", "-3", "1 min 2 h", "²"])
def test_wait_that_says_nothing_is_asked_back(typed: str) -> None:
    with pytest.raises(Doubt):
        read_wait(typed)


@given(st.integers(1, 43_200))
def test_wait_in_words_reads_back_to_itself(seconds: int) -> None:
    assert read_wait(wait_words(seconds)) == seconds


def test_limits_in_words() -> None:
    assert limit_words(Decimal("12.40"), Decimal("14.8"), "V") == "12.4 to 14.8 V"
    assert limit_words(Decimal("120"), None, "ohm") == "at least 120 ohm"
    assert limit_words(None, Decimal("0.2"), "V") == "at most 0.2 V"


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"source": " "}, "source"),
        ({"steps": ()}, "steps"),
        ({"steps": STEPS * 21}, "steps"),
        ({"low_volts": Decimal("1260")}, "low_volts"),
        ({"low_volts": Decimal("15")}, "high_volts"),
        ({"steps": (StepContent("wish", "Hope"),)}, "kind"),
        ({"steps": (StepContent("do", " "),)}, "words"),
        ({"steps": (StepContent("do", "x", seconds=5),)}, "seconds"),
        ({"steps": (StepContent("do", "x", unit="V"),)}, "unit"),
        ({"steps": (StepContent("measure", "x"),)}, "unit"),
        ({"steps": (StepContent("measure", "x", unit="mm", low=Decimal(3), high=Decimal(2)),)}, "high"),
        ({"steps": (StepContent("measure", "x", unit="V", low=Decimal(1260)),)}, "low"),
    ],
)
def test_each_fault_names_its_field(changed: dict[str, object], field: str) -> None:
    assert [fault.field for fault in faults_of(replace(CONTENT, **changed))] == [field]  # type: ignore[arg-type]


def test_difference_pairs_steps_that_stayed_changed_came_and_went() -> None:
    slower = replace(STEPS[2], seconds=1200)
    new = replace(CONTENT, steps=(STEPS[0], StepContent("check", "Doors shut?"), STEPS[1], slower), proved_by="Sadie")
    seen = difference(CONTENT, new)
    assert [(pair.state, pair.left and pair.left.number, pair.right and pair.right.number) for pair in seen.steps] == [
        ("same", 1, 1),
        ("added", None, 2),
        ("same", 2, 3),
        ("changed", 3, 4),
        ("removed", 4, None),
    ]
    assert [(fact.name, fact.left, fact.right) for fact in seen.facts] == [("Proved by", "Jonas", "Sadie")]
    assert "For 20 min" in seen.steps[3].right.lines  # type: ignore[union-attr]


def test_no_difference_is_none() -> None:
    assert difference(CONTENT, CONTENT).is_none
    # The same figure written with more noughts is no change.
    assert difference(CONTENT, replace(CONTENT, low_volts=Decimal("12.4"))).is_none


def test_step_says_all_that_belongs_to_it() -> None:
    assert step_lines(STEPS[2]) == (
        "Wait: Leave the ignition on",
        "For 12 min",
        "Caution: Never let the supply drop.",
        "Never interrupt",
    )


def test_sheet_reads_back_what_it_was_made_from() -> None:
    assert ProcedureSheet.of_content(CONTENT).read() == CONTENT


def test_sheet_moves_adds_and_removes_rows() -> None:
    sheet = ProcedureSheet.of_content(CONTENT)
    words = [row.words for row in sheet.rows]
    for act, expected in [
        ("down-1", [words[1], words[0], *words[2:]]),
        ("up-2", words),
        ("up-1", words),
        ("down-4", words),
        ("add-0", ["", *words]),
        ("remove-1", words),
        ("remove-9", words),
    ]:
        assert sheet.change(act)
        assert [row.words for row in sheet.rows] == expected
    assert not sheet.change("propose")
    assert not sheet.change("up-²")


def test_sheet_keeps_what_is_typed_beside_what_is_wrong() -> None:
    post = {"steps": "2", "1-kind": "wait", "1-words": "Stand by", "1-wait": "30 h", "low_volts": "12,4"}
    sheet = ProcedureSheet.of_post({**post, "2-kind": "measure", "2-words": "Posts", "2-unit": "V", "2-low": "1260"})
    assert sheet.read() is None
    assert "longer than a visit" in sheet.rows[0].errors["wait"]
    assert "12.6 V meant" in sheet.rows[1].errors["low"]
    assert "comma" in sheet.errors["low_volts"]
    assert "where this comes from" in sheet.errors["source"]
    assert (sheet.rows[0].wait, sheet.head["low_volts"]) == ("30 h", "12,4")


def test_sheet_leaves_out_fields_of_another_kind() -> None:
    post = {"steps": "1", "1-kind": "do", "1-words": "Cut", "1-wait": "5 min", "1-unit": "V", "source": "Ours"}
    assert ProcedureSheet.of_post(post).read() == Content((StepContent("do", "Cut"),), "Ours")
