"""A key as a technical drawing: lines, boxes and texts in millimetres, ready for a template. No Django.

The drawing's own millimetres are those of the key, so that it is at true scale when its width is given in mm. x runs
from the left margin, y downwards. The bow is broken off at the left, as draughtsmen do.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from vehicles.key_sheets import length_text
from vehicles.keys import Bitting, KeySystem, Layout, Profile, Reading, Stop, key_profile
from vehicles.keys.lattice import Lattice
from vehicles.keys.profile import Edge

_TRACKS = (Layout.INTERNAL_TRACK, Layout.EXTERNAL_TRACK)
_TEXT = 1.5
_LETTER = 0.6
_BOX_HEIGHT = 2.7
_ORDINATE = 5.6
_BOW = 5.5
_COLLAR = 1.1
_LOCK_ROW = 2.1


@dataclass(frozen=True)
class CutBox:
    """The cell above (or below) a cut with its label, and the line that leads to the cut's root."""

    position: int
    label: str
    x: float
    box_x: float
    box_y: float
    box_width: float
    label_y: float
    lead: str
    ordinate: str
    ordinate_y: float
    is_wrong: bool
    is_unknown: bool
    is_swallowed: bool
    is_deeper: bool


@dataclass(frozen=True)
class DepthLine:
    """One depth across the blade, and its word in the ladder beside the tip."""

    label: str
    root: str
    line: str
    text_y: float


@dataclass(frozen=True)
class LockRow:
    """Which cuts a lock reads: a dot under each, full where it is read."""

    name: str
    y: float
    text_y: float
    dots: tuple[tuple[float, bool], ...]


@dataclass(frozen=True)
class KeyDrawing:
    """Everything the template `vehicles/keys/_profile.html` draws."""

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    text: float
    metal: str
    bow: str
    uncut: str
    tracks: tuple[str, ...]
    boxes: tuple[CutBox, ...]
    depths: tuple[DepthLine, ...]
    ladder_x: float
    locks: tuple[LockRow, ...]
    stop: str
    stop_x: float
    stop_y: float
    reads: str
    length_line: str
    length_x: float
    length_y: float
    length: str
    blade_height: str
    assumed: tuple[str, ...]
    swallowed: tuple[int, ...]
    words: str

    @property
    def paper_width(self) -> float:
        """mm on paper: two and a half times the key, or as large as fits the page's width."""
        return round(min(170.0, self.width * 2.5), 2)

    @property
    def paper_height(self) -> float:
        return round(self.height * self.paper_width / self.width, 2)


def sample_bitting(system: KeySystem) -> Bitting | None:
    """A lively bitting that obeys every rule, the same each time; None when the rules allow no key."""
    weights = [
        {label: 1.0 + (place * 7 + number * 5 + place * number * 3) % 11 for number, label in enumerate(system.labels)}
        for place in range(system.cuts)
    ]
    return next((bitting for bitting, _ in Lattice(system).best_first(weights)), None)


def draw_key(
    system: KeySystem,
    bitting: Sequence[str | None],
    *,
    wrong: Sequence[int] = (),
    deeper: Sequence[int] = (),
    with_locks: bool = True,
    with_ladder: bool = True,
) -> KeyDrawing:
    """The drawing of a bitting. Unknown cuts (None) are drawn uncut and marked; `wrong` and `deeper` positions are
    marked. Raises BadBitting."""
    shallow = max(system.depths, key=lambda depth: depth.root_mm).label
    profile = key_profile(system, [shallow if label is None else label for label in bitting])
    return _Draughtsman(system, bitting, profile, wrong, deeper, with_locks, with_ladder).draw()


def sorted_locks(locks: Mapping[str, Sequence[int]]) -> list[tuple[str, Sequence[int]]]:
    """The lock that reads most first."""
    return sorted(locks.items(), key=lambda lock: (-len(lock[1]), lock[0]))


def assumed_in(system: KeySystem, profile: Profile) -> tuple[str, ...]:
    """The dimensions that the drawing had to assume; a milled track has no cutter angle to assume."""
    return tuple(each for each in profile.assumed if each != "angle" or system.layout not in _TRACKS)


class _Draughtsman:
    def __init__(
        self,
        system: KeySystem,
        bitting: Sequence[str | None],
        profile: Profile,
        wrong: Sequence[int],
        deeper: Sequence[int],
        with_locks: bool,
        with_ladder: bool,
    ) -> None:
        self.system, self.bitting, self.profile = system, bitting, profile
        self.wrong, self.deeper, self.with_ladder = set(wrong), set(deeper), with_ladder
        self.locks = system.locks if with_locks else {}
        places = [sorted(mark.x for mark in edge.marks) for edge in profile.edges]
        self.gap = min((two - one for xs in places for one, two in pairwise(xs)), default=3.0)
        self.text = min(_TEXT, self.gap * 0.72)
        self.has_below = system.layout == Layout.INDEPENDENT
        names = max((len(name) for name in self.locks), default=0)
        self.left = max(_BOW + 1.0, names * self.text * _LETTER + 1.4)
        self.top = _BOX_HEIGHT + _ORDINATE + 3.0
        self.bottom = self.top + profile.height

    def x(self, value: float) -> float:
        return round(self.left + value, 3)

    def y(self, value: float) -> float:
        return round(self.bottom - value, 3)

    def draw(self) -> KeyDrawing:
        profile, system = self.profile, self.system
        below = self.bottom + (_ORDINATE + _BOX_HEIGHT + 1.2 if self.has_below else 1.4)
        length_y = below + 1.6
        locks = self._lock_rows(length_y + 2.6)
        ladder_x = self.x(profile.length) + 2.6
        ladder = self._ladder() if self.with_ladder else ()
        ladder_width = max((len(f"{each.label} {each.root}") for each in ladder), default=0) * self.text * _LETTER + 1.2
        stop_x = self.x(0 if system.stop == Stop.SHOULDER else profile.length)
        ends = [each.text_y + 0.6 for each in ladder]
        height = max([length_y + 1.2, *(row.y + 1.2 for row in locks), *ends])
        return KeyDrawing(
            width=round(ladder_x + max(ladder_width, 1.5), 3),
            height=round(height, 3),
            left=self.x(0),
            right=self.x(profile.length),
            top=self.top,
            bottom=self.bottom,
            text=round(self.text, 3),
            metal=self._points(profile.outline),
            bow=self._bow(),
            uncut=self._points([(0, profile.height), (profile.length, profile.height)]),
            tracks=tuple(self._groove(edge, turned=place > 0) for place, edge in enumerate(profile.edges))
            if system.layout in _TRACKS
            else (),
            boxes=tuple(self._boxes()),
            depths=ladder,
            ladder_x=round(ladder_x, 3),
            locks=locks,
            stop=f"M{stop_x:g} {self.top - _COLLAR - 0.3:g}V{length_y + 0.6:g}",
            stop_x=stop_x,
            stop_y=round(self.top - _COLLAR - 0.6, 3),
            reads=self._reading_arrow(),
            length_line=self._length_line(length_y),
            length_x=self.x(profile.length / 2),
            length_y=round(length_y + self.text * 0.35, 3),
            length=length_text(profile.length, system.unit),
            blade_height=length_text(profile.height, system.unit),
            assumed=assumed_in(system, profile),
            swallowed=profile.swallowed,
            words=self._words(),
        )

    def _points(self, points: Sequence[tuple[float, float]]) -> str:
        return " ".join(f"{self.x(x):g},{self.y(y):g}" for x, y in points)

    def _bow(self) -> str:
        """From the shoulder to the break at the left, where the line waves."""
        high, low = self.y(self.profile.height + _COLLAR), self.y(-_COLLAR)
        edge, middle = self.x(-_BOW), (high + low) / 2
        half = (low - high) / 4
        return (
            f"M{self.x(0):g} {high:g}H{edge:g}c{0.9:g} {half / 2:g} {0.9:g} {half * 1.5:g} 0 {half * 2:g}"
            f"c{-0.9:g} {half / 2:g} {-0.9:g} {low - middle - half / 2:g} 0 {low - middle:g}H{self.x(0):g}Z"
        )

    def _groove(self, edge: Edge, *, turned: bool) -> str:
        """A milled track between the line the lock reads and the edge, or a groove's other wall."""
        if self.system.layout == Layout.EXTERNAL_TRACK:
            wall = [(self.profile.length, self.profile.height), (0.0, self.profile.height)]
        else:
            width = min(1.4, self.profile.height / 5)
            wall = [(x, min(y + width, self.profile.height - 0.15)) for x, y in reversed(edge.points)]
        return self._points([*edge.points, *wall])

    def _boxes(self) -> list[CutBox]:
        return [self._box(place, mark.position) for place, edge in self._own_edges() for mark in edge.marks]

    def _own_edges(self) -> list[tuple[int, Edge]]:
        edges = list(enumerate(self.profile.edges))
        return edges if self.has_below else edges[:1]

    def _box(self, edge_place: int, position: int) -> CutBox:
        edge = self.profile.edges[edge_place]
        mark = next(mark for mark in edge.marks if mark.position == position)
        label = self.bitting[position - 1]
        x, root = self.x(mark.x), self.y(mark.y)
        width = min(2.6, self.gap * 0.92)
        if edge_place == 0:
            box_y, lead, ordinate_y = 2.4, 2.4 + _BOX_HEIGHT, self.top - 0.5
        else:
            box_y, lead, ordinate_y = self.bottom + _ORDINATE, self.bottom + _ORDINATE, self.bottom + _ORDINATE - 0.5
        return CutBox(
            position=position,
            label="?" if label is None else label,
            x=x,
            box_x=round(x - width / 2, 3),
            box_y=box_y,
            box_width=round(width, 3),
            label_y=round(box_y + _BOX_HEIGHT * 0.73, 3),
            lead=f"M{x:g} {lead:g}V{root:g}",
            ordinate=self._figure(self.system.distances_mm[position - 1]),
            ordinate_y=ordinate_y,
            is_wrong=position in self.wrong,
            is_unknown=label is None,
            is_swallowed=position in self.profile.swallowed,
            is_deeper=position in self.deeper,
        )

    def _figure(self, length_mm: Decimal) -> str:
        """Hundredths of a mm; thousandths of an inch, or ten-thousandths where the system has them."""
        if self.system.unit == "in":
            fine = length_text(length_mm, "in", 4).split(" ")[0]
            return fine.removesuffix("0")
        return length_text(length_mm, "mm").split(" ")[0]

    def _reading_arrow(self) -> str:
        """Above the boxes, from the first cut read to the last."""
        xs = [self.x(mark.x) for mark in self.profile.edges[0].marks]
        outward = self.system.reads == Reading.BOW_TO_TIP
        start, end = (min(xs), max(xs)) if outward else (max(xs), min(xs))
        end += 0.8 if outward else -0.8
        back = -0.7 if outward else 0.7
        return f"M{start:g} 1.3H{end:g}m{back:g} -.45L{end:g} 1.3l{back:g} .45"

    def _length_line(self, y: float) -> str:
        """The blade's length between two arrows, parted in the middle for its figure."""
        left, right, middle = self.x(0), self.x(self.profile.length), self.x(self.profile.length / 2)
        room = len(length_text(self.profile.length, self.system.unit)) * self.text * _LETTER / 2 + 0.5
        return (
            f"M{middle - room:g} {y:g}H{left:g}l.7 -.4M{left:g} {y:g}l.7 .4"
            f"M{middle + room:g} {y:g}H{right:g}l-.7 -.4M{right:g} {y:g}l-.7 .4"
            f"M{right:g} {self.bottom + 0.5:g}V{y + 0.6:g}"
        )

    def _ladder(self) -> tuple[DepthLine, ...]:
        """Each depth beside the tip; words are spread so that none covers another."""
        step = self.text * 1.12
        ordered = sorted(self.system.depths, key=lambda depth: -depth.root_mm)
        places = [self.y(float(depth.root_mm)) for depth in ordered]
        middle = sum(places) / len(places)
        spread = max(step, (places[-1] - places[0]) / max(1, len(places) - 1))
        first = max(2.0, middle - spread * (len(places) - 1) / 2)
        lines = []
        for number, (depth, place) in enumerate(zip(ordered, places, strict=True)):
            at, right = first + number * spread, self.x(self.profile.length)
            line = f"M{self.left:g} {place:g}H{right + 0.6:g}L{right + 2.1:g} {at:g}"
            lines.append(DepthLine(depth.label, self._figure(depth.root_mm), line, round(at + self.text * 0.35, 3)))
        return tuple(lines)

    def _lock_rows(self, start: float) -> tuple[LockRow, ...]:
        rows, y = [], start
        for name, places in sorted_locks(self.locks):
            for place, edge in self._own_edges():
                dots = tuple((self.x(mark.x), mark.position in places) for mark in edge.marks)
                rows.append(
                    LockRow(name if place == 0 else "edge 2", round(y, 3), round(y + self.text * 0.35, 3), dots)
                )
                y += _LOCK_ROW
        return tuple(rows)

    def _words(self) -> str:
        cuts = " ".join("unknown" if label is None else label for label in self.bitting)
        return (
            f"Drawing of a key: {self.system.layout}, {self.system.cuts} cuts, measured from the {self.system.stop}, "
            f"read {self.system.reads}. Cuts {cuts}."
        )


def ruler_ticks(length_mm: int = 100) -> list[tuple[int, float]]:
    """The lines of a ruler: the mm and how long the line is, in mm."""
    return [(place, 4.0 if place % 10 == 0 else 2.8 if place % 5 == 0 else 1.8) for place in range(length_mm + 1)]
