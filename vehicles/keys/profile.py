"""The cut edge of a key as a line in millimetres, for drawings.

A cutter with a flat of width f and an included angle A, centred on a cut at x0 with root
depth r, leaves the blade at most r + max(0, |x - x0| - f/2) / tan(A/2) high. The edge is
the lowest of all these and the blade's own height, because metal is gone where any cut
took it. Figures are floats: this is for drawing, not for measuring.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from .card import CutLine, cutting_lines
from .system import KeySystem, Layout, Stop

Point = tuple[float, float]
_SAME = 1e-9
_DEFAULT_ANGLE = 90.0
_TRACKS = (Layout.INTERNAL_TRACK, Layout.EXTERNAL_TRACK)


@dataclass(frozen=True)
class CutMark:
    """Where one cut is on the drawing: `x` from the shoulder end, `y` from the far edge."""

    position: int
    label: str
    x: float
    y: float


@dataclass(frozen=True)
class Edge:
    """One cut line from the shoulder (x = 0) to the tip (x = length)."""

    points: tuple[Point, ...]
    marks: tuple[CutMark, ...]


@dataclass(frozen=True)
class Profile:
    """The blade seen from the side, shoulder at x = 0, y upwards from the lower edge.

    `outline` is the closed shape of the blade (its last point joins the first), `edges` are
    the cut lines alone; a track's line lies inside the outline. `assumed` names the
    dimensions the key system does not give and that were supplied for the drawing: with
    any of them the drawing is not to scale. `swallowed` are positions whose root another
    cut's slope has cut away, so that the key as given cannot be made.
    """

    length: float
    height: float
    edges: tuple[Edge, ...]
    outline: tuple[Point, ...]
    assumed: tuple[str, ...]
    swallowed: tuple[int, ...]


@dataclass(frozen=True)
class _Tool:
    height: float
    length: float
    flat: float
    slope: float


def key_profile(system: KeySystem, bitting: Sequence[str]) -> Profile:
    """The drawing of a bitting. Raises BadBitting."""
    tool, assumed = _tool(system)
    lines = cutting_lines(system, bitting)
    edges = [
        _edge(system, tool, [line for line in lines if line.spot.edge == number])
        for number in range(1, lines[-1].spot.edge + 1)
    ]
    if system.layout == Layout.MIRRORED:
        edges.append(edges[0])
    swallowed = {mark.position for edge in edges for mark in edge.marks if _height_at(edge, mark.x) < mark.y - 1e-6}
    if len(edges) == 2:
        edges[1] = _turned(edges[1], tool.height)
    return Profile(
        length=tool.length,
        height=tool.height,
        edges=tuple(edges),
        outline=_outline(system, tool, edges),
        assumed=assumed,
        swallowed=tuple(sorted(swallowed)),
    )


def _tool(system: KeySystem) -> tuple[_Tool, tuple[str, ...]]:
    """The dimensions to draw with, and which of them had to be assumed."""
    step = float(system.smallest_step_mm or 1)
    edges = [edge for edge in (system.positions_mm, system.second_edge_mm) if edge]
    gaps = [float(second - first) for edge in edges for first, second in pairwise(edge)]
    gap = min(gaps, default=2.0)
    furthest = float(max(edge[-1] for edge in edges))
    given = {
        "flat": system.flat_mm,
        "angle": system.angle_deg,
        "blade height": system.blade_height_mm,
        "blade length": system.blade_length_mm,
    }
    fallback = {
        "flat": gap / 3,
        "angle": _DEFAULT_ANGLE,
        "blade height": float(max(depth.root_mm for depth in system.depths)) + step / 2,
        "blade length": furthest + 1.5 * gap,
    }
    used = {key: fallback[key] if value is None else float(value) for key, value in given.items()}
    slope = 1 / math.tan(math.radians(used["angle"] / 2))
    tool = _Tool(used["blade height"], used["blade length"], used["flat"], slope)
    return tool, tuple(key for key, value in given.items() if value is None)


def _edge(system: KeySystem, tool: _Tool, lines: Sequence[CutLine]) -> Edge:
    marks = tuple(
        CutMark(line.spot.position, line.label, _x(system, tool, line), float(line.root_mm)) for line in lines
    )
    points = _track(tool, marks) if system.layout in _TRACKS else _envelope(tool, marks)
    return Edge(tuple(points), marks)


def _x(system: KeySystem, tool: _Tool, line: CutLine) -> float:
    at = float(line.at_mm)
    return at if system.stop == Stop.SHOULDER else tool.length - at


def _envelope(tool: _Tool, marks: Sequence[CutMark]) -> list[Point]:
    """The lowest of all cutter shapes and the blade height, at every x where it can bend."""
    half = tool.flat / 2
    # Each cut is the highest of three straight lines: left slope, flat, right slope.
    lines: list[Point] = [(0.0, tool.height)]
    for mark in marks:
        lines.append((0.0, mark.y))
        lines.append((-tool.slope, mark.y + tool.slope * (mark.x - half)))
        lines.append((tool.slope, mark.y - tool.slope * (mark.x + half)))
    bends = {0.0, tool.length}
    for (rise, start), (other_rise, other_start) in combinations(lines, 2):
        if abs(rise - other_rise) > _SAME:
            bends.add((other_start - start) / (rise - other_rise))
    within = sorted(x for x in bends if 0 <= x <= tool.length)
    return _straightened((x, _left_by(tool, marks, x)) for x in within)


def _left_by(tool: _Tool, marks: Sequence[CutMark], x: float) -> float:
    cuts = (mark.y + tool.slope * max(0.0, abs(x - mark.x) - tool.flat / 2) for mark in marks)
    return min(tool.height, *cuts)


def _track(tool: _Tool, marks: Sequence[CutMark]) -> list[Point]:
    """A milled track runs along each cut's flat and straight from flat to flat."""
    points: list[Point] = []
    ordered = sorted(marks, key=lambda mark: mark.x)
    for mark in ordered:
        points.append((max(0.0, mark.x - tool.flat / 2), mark.y))
        points.append((min(tool.length, mark.x + tool.flat / 2), mark.y))
    return _straightened([(0.0, ordered[0].y), *sorted(points), (tool.length, ordered[-1].y)])


def _straightened(points: Iterable[Point]) -> list[Point]:
    """Drop repeated points and points on the straight line between their neighbours."""
    kept: list[Point] = []
    for point in points:
        if kept and point[0] - kept[-1][0] < _SAME and abs(point[1] - kept[-1][1]) < _SAME:
            continue
        while len(kept) >= 2 and _in_line(kept[-2], kept[-1], point):
            kept.pop()
        kept.append(point)
    return kept


def _in_line(first: Point, middle: Point, last: Point) -> bool:
    ahead, up = last[0] - first[0], last[1] - first[1]
    return abs(ahead * (middle[1] - first[1]) - up * (middle[0] - first[0])) < _SAME


def _height_at(edge: Edge, x: float) -> float:
    for (left, low), (right, high) in pairwise(edge.points):
        if left <= x <= right:
            return low if right == left else low + (high - low) * (x - left) / (right - left)
    return edge.points[-1][1]


def _turned(edge: Edge, height: float) -> Edge:
    """The same line on the lower edge of the blade."""
    return Edge(
        tuple((x, height - y) for x, y in edge.points),
        tuple(CutMark(mark.position, mark.label, mark.x, height - mark.y) for mark in edge.marks),
    )


def _outline(system: KeySystem, tool: _Tool, edges: Sequence[Edge]) -> tuple[Point, ...]:
    bottom: tuple[Point, ...] = ((0.0, 0.0), (tool.length, 0.0))
    if system.layout in _TRACKS:
        return (*bottom, (tool.length, tool.height), (0.0, tool.height))
    if len(edges) == 2:
        bottom = edges[1].points
    return (*bottom, *reversed(edges[0].points))
