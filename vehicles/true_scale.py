"""The same key at true scale for paper: the bare outline in mm, to lay a blank on. No Django."""

from collections.abc import Sequence
from dataclasses import dataclass

from vehicles.keys import KeySystem, Layout, Stop, key_profile

MARGIN = 4.0


@dataclass(frozen=True)
class TrueScale:
    """Width and height in mm of the whole drawing; the blade's outline and, inside or on it, lines and cut marks."""

    width: float
    height: float
    outline: str
    lines: tuple[str, ...]
    marks: tuple[float, ...]
    top: float
    bottom: float
    stop_x: float


def true_scale(system: KeySystem, bitting: Sequence[str]) -> TrueScale:
    """The blade of a bitting, one unit of the drawing a millimetre of the key. Raises BadBitting."""
    profile = key_profile(system, bitting)
    height = profile.height

    def place(x: float, y: float) -> str:
        return f"{MARGIN + x:.3f},{MARGIN + height - y:.3f}"

    inner = profile.edges if system.layout in (Layout.INTERNAL_TRACK, Layout.EXTERNAL_TRACK) else ()
    return TrueScale(
        width=profile.length + 2 * MARGIN,
        height=height + 2 * MARGIN,
        outline=" ".join(place(x, y) for x, y in profile.outline),
        lines=tuple(" ".join(place(x, y) for x, y in edge.points) for edge in inner),
        marks=tuple(round(MARGIN + mark.x, 3) for mark in profile.edges[0].marks),
        top=MARGIN,
        bottom=MARGIN + height,
        stop_x=MARGIN if system.stop == Stop.SHOULDER else MARGIN + profile.length,
    )
