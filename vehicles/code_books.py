"""The shop's code books for other apps: codes to cuts, cuts to codes, and the bittings a book allows.

`look_up` and `look_for_cuts` answer a person and are written down. `codes_for` and `bittings_for` serve computations
that show no code, such as narrowing down candidates; show their codes to nobody without a written look.
"""

from collections.abc import Sequence

from vehicles.actions.code_looks import fingerprint, look_for_cuts, look_up, require
from vehicles.keys import Bitting
from vehicles.models import CodeBook, CodeRow, KeySystemSheet
from vehicles.querysets_keys import CodeRowQuerySet

__all__ = [
    "bittings",
    "bittings_among",
    "bittings_for",
    "codes_for",
    "fingerprint",
    "has_book",
    "look_for_cuts",
    "look_up",
    "require",
]


def codes_for(sheet: KeySystemSheet, known: Sequence[str | None]) -> CodeRowQuerySet:
    """Rows of the books in use whose cuts fit (None for an unknown cut). With no cut known, every row of the system."""
    rows: CodeRowQuerySet = CodeRow.objects.readable().filter(book__key_system=sheet)
    return rows.with_cuts(sheet, known) if any(label is not None for label in known) else rows


def bittings_for(sheet: KeySystemSheet, known: Sequence[str | None]) -> set[Bitting]:
    """The different bittings of the system's books that fit, for `completions(code_book=...)` and `decode`."""
    return {tuple(labels) for labels in codes_for(sheet, known).values_list("labels", flat=True).iterator()}


def bittings_among(sheet: KeySystemSheet, choices: Sequence[Sequence[str]]) -> set[Bitting]:
    """The different bittings of the system's books whose cuts are among the choices of each position."""
    rows = CodeRow.objects.readable().with_choices(sheet, choices)
    return {tuple(labels) for labels in rows.values_list("labels", flat=True).iterator()}


def bittings(book: CodeBook) -> set[Bitting]:
    """The different bittings of one book."""
    return {tuple(labels) for labels in book.rows.values_list("labels", flat=True).iterator()}


def has_book(sheet: KeySystemSheet) -> bool:
    """Whether any book in use holds codes of this system."""
    return bool(CodeBook.objects.in_use().filter(key_system=sheet, row_count__gt=0).exists())
