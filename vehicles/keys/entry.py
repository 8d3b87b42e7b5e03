"""Bittings as people type and read them."""

from __future__ import annotations

import re

from .errors import BadBitting
from .system import KeySystem

UNKNOWN = ("?", "_", "*")


def parse_bitting(system: KeySystem, text: str) -> list[str | None]:
    """The labels in a typed bitting, None for an unknown cut written as a question mark.

    Labels may be parted by spaces, commas, points, hyphens or slashes, or run together when
    every label of the system is a single character. A direct key code, being the bitting
    itself, reads the same way. Labels are not case sensitive unless the system needs it.
    Raises BadBitting at the first part that is no depth; the number of cuts is not checked.
    """
    parts = [part for part in re.split(r"[\s,;./-]+", text.strip()) if part]
    if all(len(label) == 1 for label in system.labels):
        parts = [character for part in parts for character in part]
    folded = {label.casefold(): label for label in system.labels}
    found: list[str | None] = []
    for position, part in enumerate(parts, 1):
        label = part if part in system.by_label else folded.get(part.casefold())
        if label is None and part not in UNKNOWN:
            known = ", ".join(system.labels)
            words = f"Cut {position}: {system.name} has no depth {part}. Its depths are {known}."
            raise BadBitting(position, words)
        found.append(label)
    return found
