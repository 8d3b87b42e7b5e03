"""Lengths: millimetres as Decimal, and inches without loss.

One inch is exactly 25.4 mm (international yard and pound agreement, 1959), so an inch
figure with d decimals is a millimetre figure with at most d + 1, and goes there and
back unchanged.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Context, Decimal, Inexact, InvalidOperation

from .errors import BadLength

Length = Decimal | int | float | str

MM_PER_INCH = Decimal("25.4")
_EXACT = Context(prec=60, traps=[Inexact, InvalidOperation])
_ROUNDED = Context(prec=28)


def mm(value: Length) -> Decimal:
    """The length as Decimal, digit for digit as it was written.

    A float counts as the shortest decimal that denotes it (0.1 is one tenth), because
    that is what the person typed. Raises BadLength for anything that is no finite number.
    """
    if isinstance(value, bool):
        raise BadLength(f"{value!r} is not a length.")
    try:
        number = Decimal(repr(float(value))) if isinstance(value, float) else Decimal(_text(value))
    except (InvalidOperation, TypeError, ValueError):
        raise BadLength(f"{value!r} is not a length. Write a number such as 8.51.") from None
    if not number.is_finite():
        raise BadLength(f"{value!r} is not a length. Write a number such as 8.51.")
    return number


def _text(value: Decimal | int | str) -> Decimal | int | str:
    return value.strip() if isinstance(value, str) else value


def inch(value: Length) -> Decimal:
    """The millimetres of a length given in inches, exactly."""
    return _tidy(_EXACT.multiply(mm(value), MM_PER_INCH))


def to_inch(length_mm: Length) -> Decimal:
    """The inches of a length in millimetres: exact when it came from inches, otherwise
    rounded at the 28th digit."""
    return _tidy(_ROUNDED.divide(mm(length_mm), MM_PER_INCH))


def _tidy(number: Decimal) -> Decimal:
    """Drop trailing zeros without slipping into exponent notation."""
    return number.quantize(Decimal(1)) if number == number.to_integral_value() else number.normalize(_EXACT)


def even_positions(first: Length, spacing: Length, cuts: int) -> tuple[Decimal, ...]:
    """Cut positions at even spacing, in the unit of the arguments."""
    start, step = mm(first), mm(spacing)
    return tuple(start + step * place for place in range(cuts))


def even_depths(labels: Sequence[str], first: Length, increment: Length) -> dict[str, Decimal]:
    """Root depths falling by one increment per label, in the unit of the arguments.

    A negative increment makes them rise.
    """
    start, step = mm(first), mm(increment)
    return {label: start - step * place for place, label in enumerate(labels)}
