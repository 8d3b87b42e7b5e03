"""The chain of openings: each row's hash covers the row and the hash before it. Plain Python.

Hashes are SHA-256 over canonical JSON (sorted keys, no spaces, UTF-8). A chain that is whole proves that no row was
altered, removed or put elsewhere since; `sign`, a keyed hash, proves that it was not written anew by somebody who had
the database but not the keys. Rows cut off at the end show by the count of numbers given out.
"""

import hashlib
import itertools
import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from enum import StrEnum

START = ""


@dataclass(frozen=True)
class Link:
    """One opening as it is hashed. `number` counts from 1 without gaps; `previous` is the hash of the link before."""

    number: int
    person: int
    name: str
    job: int
    kinds: tuple[str, ...]
    reason: str
    at: datetime
    previous: str
    hash: str = ""
    seal: str = ""


class Fault(StrEnum):
    ALTERED = "altered"
    REMOVED = "removed"
    REORDERED = "reordered"
    FORGED = "forged"


@dataclass(frozen=True)
class Finding:
    """One thing wrong with the chain, at the link numbered `number`."""

    number: int
    fault: Fault
    words: str


def hash_of(link: Link) -> str:
    """SHA-256, in hexadecimal, of everything in the link but its hash and seal."""
    row = {
        "number": link.number,
        "person": link.person,
        "name": link.name,
        "job": link.job,
        "kinds": sorted(link.kinds),
        "reason": link.reason,
        "at": link.at.astimezone(UTC).isoformat(timespec="microseconds"),
        "previous": link.previous,
    }
    text = json.dumps(row, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def linked(link: Link, sign: Callable[[str], str]) -> Link:
    """The link with its hash and seal."""
    made = hash_of(link)
    return replace(link, hash=made, seal=sign(made))


def verify_openings(
    links: Iterable[Link], *, given_out: int | None = None, sign: Callable[[str], str] | None = None
) -> list[Finding]:
    """What is wrong with a chain, given in the order in which its rows lie; empty when it is whole.

    `given_out` is how many numbers were ever given out, `sign` the keyed hash of a link's hash.
    """
    rows = list(links)
    found = _out_of_order(rows)
    rows.sort(key=lambda link: link.number)
    before: Link | None = None
    for link in rows:
        found += _of_link(link, before, sign)
        before = link
    last = before.number if before else 0
    if given_out is not None and given_out > last:
        found.append(_removed(last + 1, given_out))
    return sorted(found, key=lambda finding: finding.number)


def _of_link(link: Link, before: Link | None, sign: Callable[[str], str] | None) -> list[Finding]:
    found = []
    expected = before.number + 1 if before else 1
    if link.number > expected:
        found.append(_removed(expected, link.number - 1))
    elif link.number < expected:
        found.append(Finding(link.number, Fault.FORGED, f"There are two openings numbered {link.number}."))
    if hash_of(link) != link.hash:
        words = f"Opening {link.number} was altered: it does not give the hash that was written with it."
        found.append(Finding(link.number, Fault.ALTERED, words))
    elif sign and sign(link.hash) != link.seal:
        words = f"Opening {link.number} was not written by this program with this shop's keys."
        found.append(Finding(link.number, Fault.FORGED, words))
    is_next = link.number == expected
    if is_next and link.previous != (before.hash if before else START):
        words = f"Opening {link.number} does not fit the one before it: one of the two was altered or replaced."
        found.append(Finding(link.number, Fault.ALTERED, words))
    return found


def _out_of_order(rows: Sequence[Link]) -> list[Finding]:
    pairs = itertools.pairwise(rows)
    return [
        Finding(after.number, Fault.REORDERED, f"Opening {after.number} lies after opening {one.number}.")
        for one, after in pairs
        if after.number < one.number
    ]


def _removed(first: int, last: int) -> Finding:
    words = f"Opening {first} is missing." if first == last else f"Openings {first} to {last} are missing."
    return Finding(first, Fault.REMOVED, words)
