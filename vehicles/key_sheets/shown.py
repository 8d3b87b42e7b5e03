"""Lengths in the unit in which a system was entered."""

from collections.abc import Sequence
from decimal import Decimal

from vehicles.keys import KeySystem, to_inch


def shown_length(length_mm: Decimal | None, unit: str) -> str:
    """The figure in the unit, digit for digit as entered but for zeros at the end of inches; empty for none."""
    if length_mm is None:
        return ""
    return f"{to_inch(length_mm):f}" if unit == "in" else f"{length_mm:f}"


def shown_lengths(lengths_mm: Sequence[Decimal], unit: str) -> list[str]:
    """Figures of one list: mm digit for digit as entered, inches all with as many decimals as the longest."""
    figures = [shown_length(length, unit) for length in lengths_mm]
    if unit != "in":
        return figures
    places = max((len(figure.partition(".")[2]) for figure in figures), default=0)
    return [f"{Decimal(figure):.{places}f}" for figure in figures]


def length_text(length_mm: Decimal | float | None, unit: str, places: int | None = None) -> str:
    """`8.51 mm` or `0.335 in`; rounded to hundredths of a mm and thousandths of an inch unless told otherwise."""
    if length_mm is None:
        return "—"
    value = Decimal(str(length_mm))
    if unit == "in":
        return f"{to_inch(value):.{3 if places is None else places}f} in"
    return f"{value:.{2 if places is None else places}f} mm"


def positions_of(system: KeySystem) -> list[str]:
    return shown_lengths(system.positions_mm, system.unit)


def second_edge_of(system: KeySystem) -> list[str]:
    """The second edge's own positions; none when it is spaced as the first."""
    same = system.second_edge_mm == system.positions_mm
    return [] if same else shown_lengths(system.second_edge_mm, system.unit)


def depths_of(system: KeySystem) -> dict[str, str]:
    """Root depths by label."""
    roots = shown_lengths([depth.root_mm for depth in system.depths], system.unit)
    return dict(zip(system.labels, roots, strict=True))
