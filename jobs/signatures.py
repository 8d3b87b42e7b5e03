"""A signature drawn with a finger, or typed in front of a witness. Plain Python."""

import itertools
import json
from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Any

PAD_WIDTH, PAD_HEIGHT = 600, 220
MOST_STROKES, MOST_POINTS, LONGEST_TEXT = 120, 4000, 80_000
# A name crosses a good part of the pad; a dot, a tick or a slip of the finger does not.
SHORTEST_PATH, SMALLEST_WIDTH = 160.0, 60

Stroke = list[tuple[int, int]]


class BadSignature(ValueError):
    """What was drawn or typed is no signature; the words are fit to show."""


@dataclass(frozen=True)
class Signature:
    """Strokes on a pad of 600 by 220, or a typed name with why it was typed."""

    strokes: tuple[tuple[tuple[int, int], ...], ...] = ()
    typed: str = ""
    witness: str = ""

    @property
    def is_drawn(self) -> bool:
        return bool(self.strokes)

    def to_json(self) -> dict[str, Any]:
        if self.strokes:
            return {"strokes": [[list(point) for point in stroke] for stroke in self.strokes]}
        return {"typed": self.typed, "witness": self.witness}

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> "Signature":
        strokes = tuple(tuple((x, y) for x, y in stroke) for stroke in data.get("strokes", ()))
        return cls(strokes, data.get("typed", ""), data.get("witness", ""))


def read_strokes(text: str) -> Signature:
    """A drawn signature from the pad's JSON: a list of strokes, each a list of [x, y]. Raises BadSignature."""
    strokes = _strokes(text)
    points = [point for stroke in strokes for point in stroke]
    if not points:
        raise BadSignature("There is no signature.")
    width = max(x for x, _ in points) - min(x for x, _ in points)
    if sum(map(_length, strokes)) < SHORTEST_PATH or width < SMALLEST_WIDTH:
        raise BadSignature("That is too little to be a signature. Let the person write their name across the field.")
    return Signature(tuple(tuple(stroke) for stroke in strokes))


def read_typed(name: str, witness: str) -> Signature:
    """A typed signature: the name, and why it was typed. Raises BadSignature."""
    name, witness = " ".join(name.split()), " ".join(witness.split())
    if len(name) < 3:
        raise BadSignature("Type the whole name of the person who signs.")
    if len(witness) < 3:
        raise BadSignature("Say why the name was typed and who saw it.")
    return Signature(typed=name, witness=witness)


def as_svg(signature: Signature) -> str:
    """A drawn signature as an SVG picture, dark on white, so that it reads in either theme and on paper."""
    lines = "".join(f'<polyline points="{" ".join(f"{x},{y}" for x, y in stroke)}"/>' for stroke in signature.strokes)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {PAD_WIDTH} {PAD_HEIGHT}">'
        f'<rect width="{PAD_WIDTH}" height="{PAD_HEIGHT}" fill="#ffffff"/>'
        '<g fill="none" stroke="#12171a" stroke-width="4" stroke-linecap="round" stroke-linejoin="round">'
        f"{lines}</g></svg>"
    )


def _strokes(text: str) -> list[Stroke]:
    refused = BadSignature("The signature did not arrive whole. Let the person sign again.")
    if len(text) > LONGEST_TEXT:
        raise refused
    try:
        sent = json.loads(text)
        strokes = [[(_on_pad(x, PAD_WIDTH), _on_pad(y, PAD_HEIGHT)) for x, y in stroke] for stroke in sent]
    except (ValueError, TypeError, RecursionError, OverflowError):
        raise refused from None
    if len(strokes) > MOST_STROKES or sum(map(len, strokes)) > MOST_POINTS:
        raise refused
    return [stroke for stroke in strokes if stroke]


def _on_pad(number: float, most: int) -> int:
    if isinstance(number, bool) or not isinstance(number, int | float):
        raise ValueError("not a number")
    return min(max(round(number), 0), most)


def _length(stroke: Sequence[tuple[int, int]]) -> float:
    return sum(hypot(x2 - x1, y2 - y1) for (x1, y1), (x2, y2) in itertools.pairwise(stroke))
