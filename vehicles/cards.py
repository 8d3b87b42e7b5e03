"""A cutting card: what the person at the machine needs for one bitting. No Django."""

from collections.abc import Sequence
from dataclasses import dataclass

from vehicles.drawing import KeyDrawing, assumed_in, draw_key
from vehicles.key_sheets import length_text
from vehicles.keys import (
    BadBitting,
    Bitting,
    KeySystem,
    Layout,
    Profile,
    Violation,
    cutting_lines,
    key_profile,
    parse_bitting,
    reading_groups,
    violations,
)


@dataclass(frozen=True)
class CardLine:
    """One cut: its place, label, distance from the stop and root depth in both units, and what is wrong with it."""

    position: int
    words: str
    label: str
    at_mm: str
    at_in: str
    root_mm: str
    root_in: str
    is_wrong: bool


@dataclass(frozen=True)
class CuttingCard:
    """Everything on the card. `faults` name what is wrong by place; `warnings` what the machine cannot do."""

    system: KeySystem
    bitting: Bitting
    groups: tuple[tuple[str, ...], ...]
    lines: tuple[CardLine, ...]
    faults: tuple[Violation, ...]
    drawing: KeyDrawing
    profile: Profile
    warnings: tuple[str, ...]

    @property
    def text(self) -> str:
        """The bitting as it is typed."""
        return " ".join(self.bitting)

    @property
    def is_mirrored(self) -> bool:
        return self.system.layout == Layout.MIRRORED

    @property
    def tool(self) -> str:
        """The blade and the cutter, as far as they are known."""
        system, unit = self.system, self.system.unit
        facts = (
            ("Blade length", system.blade_length_mm and length_text(system.blade_length_mm, unit)),
            ("height", system.blade_height_mm and length_text(system.blade_height_mm, unit)),
            ("flat", system.flat_mm and length_text(system.flat_mm, unit)),
            ("angle", system.angle_deg and f"{system.angle_deg:f}°"),
        )
        told = ", ".join(f"{words} {value}" for words, value in facts if value)
        return f"{told[0].upper()}{told[1:]}." if told else ""

    @property
    def assumed(self) -> tuple[str, ...]:
        """The dimensions that the key system does not give and that the drawing had to assume."""
        return assumed_in(self.system, self.profile)


def read_bitting(system: KeySystem, text: str) -> Bitting:
    """A whole typed bitting. Raises BadBitting for unknown labels, unknown cuts, too many or too few."""
    read = parse_bitting(system, text)
    if not read:
        raise BadBitting(1, "Give the cuts in reading order.")
    for position, label in enumerate(read, 1):
        if label is None:
            raise BadBitting(position, f"Cut {position} is unknown. A card needs every cut; see the missing cuts.")
    if len(read) != system.cuts:
        fault = "too few" if len(read) < system.cuts else "too many"
        words = f"{len(read)} cuts are {fault}: {system.name} has {system.cuts}."
        raise BadBitting(min(len(read), system.cuts) + 1, words)
    return tuple(label for label in read if label is not None)


def cutting_card(system: KeySystem, bitting: Sequence[str]) -> CuttingCard:
    """The card of a bitting. Raises BadBitting."""
    faults = tuple(violations(system, bitting))
    wrong = {position for fault in faults for position in fault.positions}
    profile = key_profile(system, bitting)
    return CuttingCard(
        system=system,
        bitting=tuple(bitting),
        groups=tuple(reading_groups(system, bitting)),
        lines=tuple(_lines(system, bitting, wrong)),
        faults=faults,
        drawing=draw_key(system, bitting, wrong=sorted(wrong)),
        profile=profile,
        warnings=_warnings(profile),
    )


def _lines(system: KeySystem, bitting: Sequence[str], wrong: set[int]) -> list[CardLine]:
    return [
        CardLine(
            position=line.spot.position,
            words=line.spot.words,
            label=line.label,
            at_mm=length_text(line.at_mm, "mm").removesuffix(" mm"),
            at_in=length_text(line.at_mm, "in", 4).removesuffix(" in"),
            root_mm=length_text(line.root_mm, "mm").removesuffix(" mm"),
            root_in=length_text(line.root_mm, "in", 4).removesuffix(" in"),
            is_wrong=line.spot.position in wrong,
        )
        for line in cutting_lines(system, bitting)
    ]


def _warnings(profile: Profile) -> tuple[str, ...]:
    places = ", ".join(str(position) for position in profile.swallowed)
    if not places:
        return ()
    many = "s" if len(profile.swallowed) > 1 else ""
    return (f"The slope of a neighbour cuts into cut{many} {places}: with this cutter the key cannot be made.",)
