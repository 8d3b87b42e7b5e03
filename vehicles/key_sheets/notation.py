"""Lists of lengths, depths and locks in short writing.

Lengths are parted by spaces, semicolons or commas: `3.15 5.65`. A single comma inside a number is a decimal comma.
Depths pair a label with its root depth: `1=8.00 2=7.50`, or one pair on a line. Locks name the cuts they read:
`ignition: 1-8; door: 1-6`.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from vehicles.keys import BadLength, KeysError

_PAIR = re.compile(r"([^\s=:;]+)\s*[=:]\s*([^\s=:;]+)")
_LENGTH = re.compile(r"[+-]?(\d{1,6}(\.\d{0,12})?|\.\d{1,12})\Z")
_NUMBERS = re.compile(r"(\d+)(?:-(\d+))?\Z")
LONGEST_LABEL = 8
MOST_ENTRIES = 200


class BadNotation(KeysError):
    """Text that is not in the expected writing; the words say what was expected."""


def read_length(text: str) -> str:
    """A typed number with a decimal point or comma, digit for digit. Raises BadLength."""
    plain = text.strip()
    if plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    if not _LENGTH.match(plain):
        raise BadLength(f"{text.strip()!r} is not a length. Write a number such as 8.51.")
    return plain


def read_lengths(text: str) -> list[str]:
    """The numbers of a list. Raises BadNotation, BadLength."""
    parts = [part.strip(",") for part in re.split(r"[\s;]+", text.strip())]
    numbers: list[str] = []
    for part in filter(None, parts):
        numbers += [part] if part.count(",") == 1 and "." not in part else [each for each in part.split(",") if each]
    _not_too_many(numbers)
    return [read_length(number) for number in numbers]


def read_labels(text: str) -> list[str]:
    """Depth labels parted by spaces or commas, or a range of whole numbers such as `1-6`. Raises BadNotation."""
    reach = re.fullmatch(r"\s*(\d+)\s*(?:-|–|to)\s*(\d+)\s*", text)
    if reach and len(reach[1]) + len(reach[2]) <= 6:
        first, last = int(reach[1]), int(reach[2])
        step = 1 if last >= first else -1
        labels = [str(number) for number in range(first, last + step, step)]
    else:
        labels = [part for part in re.split(r"[\s,;]+", text.strip()) if part]
    _not_too_many(labels)
    for label in labels:
        check_label(label)
    for label in labels:
        if labels.count(label) > 1:
            raise BadNotation(f"Depth {label} is given twice.")
    return labels


def check_label(label: str) -> None:
    """Labels must be readable in a list. Raises BadNotation."""
    if len(label) > LONGEST_LABEL or re.search(r"[\s=:;,?_*/.-]", label):
        raise BadNotation(f"{label!r} cannot be a depth label: use up to {LONGEST_LABEL} letters or digits.")


def read_depths(text: str) -> dict[str, str]:
    """Labels and root depths, in the order given. Raises BadNotation, BadLength."""
    if "=" in text or ":" in text:
        pairs = _PAIR.findall(text)
        if re.sub(r"[\s,;]+", "", _PAIR.sub("", text)):
            raise BadNotation("Write each depth as label = root depth, for example 1=8.00 2=7.50.")
    else:
        lines = [line.split() for line in re.split(r"[\n;]", text) if line.strip()]
        if any(len(line) != 2 for line in lines):
            raise BadNotation("Write one depth on a line: its label, a space, its root depth.")
        pairs = [(label, root) for label, root in lines]
    _not_too_many(pairs)
    found: dict[str, str] = {}
    for label, root in pairs:
        check_label(label)
        if label in found:
            raise BadNotation(f"Depth {label} is given twice.")
        try:
            found[label] = read_length(root.strip(","))
        except BadLength as error:
            raise BadLength(f"Depth {label}: {error}") from None
    return found


def read_places(text: str) -> list[int]:
    """Cut numbers such as `1-5, 7`. Raises BadNotation."""
    places: list[int] = []
    joined = re.sub(r"\s*[-–]\s*", "-", text.strip())
    for part in filter(None, re.split(r"[,+\s]+", joined)):
        found = _NUMBERS.match(part)
        if not found or len(part) > 9:
            raise BadNotation(f"{part!r} is no cut number. Write for example 1-5, 7.")
        first, last = int(found[1]), int(found[2] or found[1])
        if last < first or last > MOST_ENTRIES:
            raise BadNotation(f"{part} does not run from a lower to a higher cut.")
        places += range(first, last + 1)
    return places


def read_locks(text: str) -> dict[str, list[int]]:
    """Locks with the cuts they read. Raises BadNotation."""
    locks: dict[str, list[int]] = {}
    for line in filter(None, (line.strip() for line in re.split(r"[\n;]", text))):
        name, colon, places = line.partition(":")
        name = " ".join(name.split())
        if not colon or not name or not places.strip():
            raise BadNotation(f"Write a lock, a colon and the cuts it reads: door: 1-6. Not {line!r}.")
        if name.casefold() in {each.casefold() for each in locks}:
            raise BadNotation(f"The {name} is given twice.")
        locks[name] = read_places(places)
    _not_too_many(locks)
    return locks


def _not_too_many(entries: Sequence[object] | Mapping[str, object]) -> None:
    if len(entries) > MOST_ENTRIES:
        raise BadNotation(f"{len(entries)} entries are more than any key has.")


def write_depths(depths: Mapping[str, str], between: str = " ") -> str:
    """`1=8.00 2=7.50`."""
    return between.join(f"{label}={root}" for label, root in depths.items())


def write_places(places: Iterable[int]) -> str:
    """`1-5, 7`."""
    numbers = sorted(set(places))
    runs = [[numbers[0], numbers[0]]] if numbers else []
    for one, two in pairwise(numbers):
        if two == one + 1:
            runs[-1][1] = two
        else:
            runs.append([two, two])
    return ", ".join(str(first) if first == last else f"{first}-{last}" for first, last in runs)


def write_locks(locks: Mapping[str, Sequence[int]], between: str = "; ") -> str:
    """`ignition: 1-8; door: 1-6`."""
    return between.join(f"{name}: {write_places(places)}" for name, places in locks.items())
