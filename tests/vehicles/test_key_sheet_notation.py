"""Key systems as typed and as CSV: what goes in comes out, and what is impossible is refused at its field."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vehicles.csv_text import BadFile
from vehicles.key_sheets import build_system, typed_from
from vehicles.key_sheets.notation import BadNotation, read_depths, read_labels, read_lengths, read_locks, read_places
from vehicles.key_sheets.series import FIELDS, line_from_rules, rules_from_line
from vehicles.key_sheets.shown import depths_of, positions_of
from vehicles.key_sheets.table import COLUMNS, read_table, write_table
from vehicles.keys import ImpossibleSystem, KeySystem, count_bittings, inch, mm, rule_from_json, rule_names

# Kwikset: first cut .247, spacing .150, six depths from .329 by .023 (LockPicking101 t=57422); MACS 4 from memory.
KWIKSET: dict[str, Any] = {
    "name": "Kwikset",
    "unit": "in",
    "position_kind": "even",
    "first_position": ".247",
    "spacing": ".150",
    "cuts": "5",
    "depth_kind": "even",
    "depth_labels": "1-6",
    "first_root": ".329",
    "depth_step": ".023",
    "depths_run": "deeper",
    "macs": "4",
    "locks": "front: 1-5",
}


def test_even_spacing_and_steps_give_the_published_figures() -> None:
    system = build_system(KWIKSET)
    assert positions_of(system) == ["0.247", "0.397", "0.547", "0.697", "0.847"]
    # LockPicking101 t=57422 (Jul 2013), GBPPR.
    assert list(depths_of(system).values()) == ["0.329", "0.306", "0.283", "0.260", "0.237", "0.214"]
    # One inch is exactly 25.4 mm (1959 agreement).
    assert system.positions_mm[0] == Decimal("0.247") * Decimal("25.4")


def test_what_was_typed_in_inches_comes_back_in_inches() -> None:
    typed = typed_from(build_system(KWIKSET))
    assert (typed["unit"], typed["first_position"], typed["spacing"]) == ("in", "0.247", "0.150")
    assert (typed["first_root"], typed["depth_step"], typed["depths_run"]) == ("0.329", "0.023", "deeper")
    assert build_system(typed) == build_system(KWIKSET)


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"macs": "0"}, "macs"),
        ({"macs": "two"}, "macs"),
        ({"cuts": "0"}, "cuts"),
        ({"cuts": "33"}, "cuts"),
        ({"spacing": "0"}, "spacing"),
        ({"spacing": "-0.1"}, "spacing"),
        ({"first_position": "-1"}, "first_position"),
        ({"first_position": "1e9"}, "first_position"),
        ({"first_position": ""}, "first_position"),
        ({"depth_labels": "1 1"}, "depth_labels"),
        ({"depth_labels": "1=2"}, "depth_labels"),
        ({"depth_step": "0"}, "depth_step"),
        ({"depth_step": ".1"}, "first_root"),
        ({"blade_length": "0.5"}, "first_position"),
        ({"blade_height": "0.3"}, "first_root"),
        ({"blade_length": "NaN"}, "blade_length"),
        ({"angle": "180"}, "angle"),
        ({"unit": "ell"}, "unit"),
        ({"layout": "round"}, "layout"),
        ({"locks": "front 1-5"}, "locks"),
        ({"locks": "front: 1-6"}, "locks"),
        ({"second_edge": "0.1 0.2"}, "second_edge"),
        ({"rule_first": "9"}, "rule_first"),
        ({"rule_at": "7: 1"}, "rule_at"),
        ({"rule_equal_run": "0"}, "rule_equal_run"),
        ({"rule_equal_run": "some"}, "rule_equal_run"),
        ({"rule_neighbours": "1/6"}, "rule_neighbours"),
        ({"rule_sum": "30"}, "rule_sum"),
        ({"rule_sum": "40 to 50"}, "rule_sum"),
        ({"name": " "}, "name"),
        ({"depth_kind": "list", "depths": "1=8.00 2=8.00"}, "depths"),
        ({"depth_kind": "list", "depths": "1=.3 2=.2 3=.25"}, "depths"),
        ({"position_kind": "list", "positions": ".3 .2"}, "positions"),
        ({"position_kind": "list", "positions": ""}, "positions"),
    ],
)
def test_impossible_data_is_refused_at_its_field(changed: dict[str, str], field: str) -> None:
    with pytest.raises(ImpossibleSystem) as refused:
        build_system({**KWIKSET, **changed})
    assert refused.value.field == field
    assert str(refused.value)


def test_somebody_who_types_inches_is_answered_in_inches() -> None:
    with pytest.raises(ImpossibleSystem, match=r"0\.847 in lies beyond the blade, which is 0\.5 in long"):
        build_system({**KWIKSET, "blade_length": "0.5"})


def test_decimal_commas_and_points() -> None:
    assert read_lengths("3,15 5,65; 8,15") == ["3.15", "5.65", "8.15"]
    assert read_lengths("3.15, 5.65,8.15") == ["3.15", "5.65", "8.15"]
    assert read_depths("1 = 8,00\n2 = 7,50") == {"1": "8.00", "2": "7.50"}
    assert read_depths("1 8.00\n2 7.50") == {"1": "8.00", "2": "7.50"}
    assert read_labels("0-4") == ["0", "1", "2", "3", "4"]
    assert read_labels("A, B C") == ["A", "B", "C"]
    assert read_places("1-3, 5 7") == [1, 2, 3, 5, 7]
    assert read_locks("Driver's door: 1 - 4; boot: 2, 3") == {"Driver's door": [1, 2, 3, 4], "boot": [2, 3]}


@pytest.mark.parametrize("text", ["1=8.00 oops", "1 8.00 9", "a-b=3"])
def test_depths_in_other_writing_are_refused(text: str) -> None:
    with pytest.raises(BadNotation):
        read_depths(text)


def test_every_rule_of_the_core_has_a_field() -> None:
    assert set(FIELDS) == set(rule_names())


lengths = st.integers(1, 400).map(lambda hundredths: Decimal(hundredths) / 100)
words = st.text(st.characters(blacklist_categories=["Cs", "Cc"]), max_size=30).map(lambda text: " ".join(text.split()))


@st.composite
def systems(draw: st.DrawFn) -> KeySystem:
    unit = draw(st.sampled_from(["mm", "in"]))
    layout = draw(
        st.sampled_from(
            [*KeySystem.__annotations__]
            and ["one edge", "two mirrored edges", "two independent edges", "external track", "internal track"]
        )
    )
    labels = draw(st.sampled_from(["123456", "0123456789", "ABCD", "7"]))
    steps = draw(st.lists(lengths, min_size=2, max_size=8))
    roots = draw(st.lists(lengths, min_size=len(labels), max_size=len(labels), unique=True))
    given_in: Callable[[Decimal], Decimal] = inch if unit == "in" else mm
    places = [sum(steps[: place + 1], Decimal(0)) for place in range(len(steps))]
    positions = [given_in(place) for place in places]
    ordered = sorted(roots, reverse=draw(st.booleans()))
    rules: list[dict[str, Any]] = draw(
        st.lists(
            st.sampled_from(
                [
                    {"rule": "even_sum"},
                    {"rule": "sum_between", "low": 1, "high": 60},
                    {"rule": "max_equal_run", "n": 3},
                    {"rule": "max_of_depth", "label": labels[0], "n": 2},
                    {"rule": "forbidden_last", "labels": [labels[0]]},
                    {"rule": "forbidden_at", "position": 1, "labels": [labels[-1]]},
                    {"rule": "forbidden_neighbours", "pairs": [[labels[0], labels[-1]]]},
                    {"rule": "min_spread", "n": 1},
                ]
            ),
            unique_by=lambda rule: rule["rule"],
            max_size=3 if len(labels) > 1 else 0,
        )
    )
    return KeySystem(
        name=draw(words.filter(bool)),
        positions_mm=positions,
        root_depths_mm={label: given_in(root) for label, root in zip(labels, ordered, strict=True)},
        macs=draw(st.none() | st.integers(1, 9)),
        stop=draw(st.sampled_from(["shoulder", "tip"])),
        reads=draw(st.sampled_from(["bow to tip", "tip to bow"])),
        layout=layout,
        second_edge_mm=[given_in(place + 1) for place in places[:-1]]
        if layout == "two independent edges" and draw(st.booleans())
        else None,
        locks={"ignition": range(1, len(positions) + 1), "driver's door": [1, 2]} if draw(st.booleans()) else {},
        rules=rules,
        flat_mm=draw(st.none() | lengths.map(given_in)),
        angle_deg=draw(st.none() | st.integers(30, 150)),
        unit=unit,
        can_recut=draw(st.booleans()),
    )


def plain(system: KeySystem) -> dict[str, Any]:
    """Everything of a system; the order of its rules means nothing."""
    data = system.to_json()
    return {**data, "rules": sorted(data["rules"], key=str)}


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(systems(), words, words), max_size=3, unique_by=lambda each: each[0].name.casefold()))
def test_a_written_table_is_read_back_to_equal_systems(sheets: list[tuple[KeySystem, str, str]]) -> None:
    rows = read_table(write_table(sheets).encode())
    assert [(row.system and plain(row.system), row.source, row.notes) for row in rows] == [
        (plain(system), source, notes) for system, source, notes in sheets
    ]


@settings(max_examples=40, deadline=None)
@given(systems())
def test_typing_what_a_system_shows_gives_the_same_system(system: KeySystem) -> None:
    try:
        again = build_system(typed_from(system))
    except ImpossibleSystem as error:
        # The core can hold rules that contradict each other; the form refuses them.
        assert "allow no key" in str(error)
        assert count_bittings(system) == 0
    else:
        assert plain(again) == plain(system)


@settings(max_examples=40, deadline=None)
@given(systems())
def test_rules_of_a_series_survive_their_line(system: KeySystem) -> None:
    again = [rule_from_json(data) for data in rules_from_line(line_from_rules(system.rules))]
    assert [rule.to_json() for rule in again] == [rule.to_json() for rule in system.rules]


HEAD = ",".join(COLUMNS)


def test_table_with_mark_semicolons_and_quoted_commas_is_read() -> None:
    text = 'name;positions;depths;unit;source\r\n"Alder, A2";"3,15 5,65";"1=8,00 2=7,50";mm;"sheet; page 2"\r\n'
    (row,) = read_table(b"\xef\xbb\xbf" + text.encode())
    assert row.system is not None
    assert (row.system.name, row.source) == ("Alder, A2", "sheet; page 2")
    assert row.system.positions_mm == (Decimal("3.15"), Decimal("5.65"))


def test_wrong_rows_of_a_table_are_named_with_their_lines() -> None:
    text = "name,positions,depths\nA,3 5,1=8 2=7\nB,5 3,1=8 2=7\na,3 5,1=8 2=7\nC,3 5,1=8 2=8\nD,3,1=8 2=7,oops,more\n"
    rows = read_table(text.encode())
    assert [(row.line, bool(row.fault)) for row in rows] == [(2, False), (3, True), (4, True), (5, True), (6, True)]
    assert rows[1].fault.startswith("Positions: Positions must increase")
    assert "already stands in line 2" in rows[2].fault


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"\n\n", "empty"),
        (b"name,depths\nA,1=8\n", "no column positions"),
        (b"PK\x03\x04\x00\x00", "not text"),
        ("name,positions,depths\nK\xfchn,3,1=8\n".encode("latin-1"), "Line 2: the file is not in UTF-8"),
        (b'name,positions,depths\n"A,3,1=8\n', "never closed"),
    ],
)
def test_a_file_that_is_no_table_is_refused_in_words(data: bytes, words: str) -> None:
    with pytest.raises(BadFile, match=words):
        read_table(data)


def test_a_cell_that_a_spreadsheet_would_run_is_written_harmless() -> None:
    system = KeySystem(name="=2+3", positions_mm=[3], root_depths_mm={"1": 8})
    text = write_table([(system, "@source", "-1")])
    assert "\r\n'=2+3," in text
    (row,) = read_table(text.encode())
    assert row.system is not None
    assert (row.system.name, row.source, row.notes) == ("=2+3", "@source", "-1")
