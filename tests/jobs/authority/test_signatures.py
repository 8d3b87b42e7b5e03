"""Signatures: a name across the pad is one, a dot is none, and what is not from the pad is refused."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.signatures import PAD_HEIGHT, PAD_WIDTH, BadSignature, Signature, as_svg, read_strokes, read_typed
from tests.jobs.authority.rows import STROKES


@pytest.mark.parametrize(
    "drawn",
    [
        [[[300, 100]]],
        [[[300, 100], [301, 101]]],
        [[[300, 100], [300, 100]] * 200],
        [[[10, 10], [40, 12]]],
        # Much ink on one spot: a dot all the same.
        [[[300 + n % 3, 100 + n % 5] for n in range(900)]],
        [],
        [[]],
    ],
)
def test_a_dot_is_no_signature(drawn: object) -> None:
    with pytest.raises(BadSignature, match=r"too little|no signature"):
        read_strokes(json.dumps(drawn))


def test_a_name_across_the_pad_is_one_and_is_drawn_again() -> None:
    signed = read_strokes(json.dumps(STROKES))
    assert signed.is_drawn and Signature.from_json(signed.to_json()) == signed
    assert as_svg(signed).count("<polyline") == len(STROKES)


@pytest.mark.parametrize(
    "text",
    ["", "null", "7", "{}", '"x"', "[1]", "[[1]]", "[[[1]]]", '[[["<", 2]]]', "[[[true, 1]]]", "[[[NaN, 1]]]",
     "[[[1e999, 1]]]", "[" * 5000, "[[" + "[1,1]," * 20000 + "[1,1]]]"],
)  # fmt: skip
def test_what_no_pad_sends_is_refused_in_words(text: str) -> None:
    with pytest.raises(BadSignature):
        read_strokes(text)


@given(st.lists(st.lists(st.tuples(st.integers(-9999, 9999), st.floats(-1e6, 1e6)), max_size=20), max_size=10))
def test_points_stay_on_the_pad_and_the_picture_holds_numbers_only(drawn: list[list[tuple[int, float]]]) -> None:
    try:
        signed = read_strokes(json.dumps(drawn))
    except BadSignature:
        return
    for stroke in signed.strokes:
        assert all(0 <= x <= PAD_WIDTH and 0 <= y <= PAD_HEIGHT for x, y in stroke)
    points = "".join(part.split('"')[0] for part in as_svg(signed).split('points="')[1:])
    assert set(points) <= set("0123456789, ")


def test_a_typed_name_needs_the_reason_and_who_saw_it() -> None:
    signed = read_typed("  Ella   Holmere ", "Hand in plaster, seen by J. Brackwater")
    assert (signed.typed, signed.is_drawn) == ("Ella Holmere", False)
    for name, witness in (("", "why"), ("El", "because"), ("Ella Holmere", ""), ("Ella Holmere", " x ")):
        with pytest.raises(BadSignature):
            read_typed(name, witness)
