"""What the technician says after a try, and what it rules out.

A lock reads only some positions. If it turns, the key is right at those positions; if it
does not, every candidate that is equal to the tried key there is wrong, whatever it is
elsewhere.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from .errors import BadAnswer
from .system import Bitting, KeySystem

TURNS = "turns"
DOES_NOT_TURN = "does not turn"
_ONLY = re.compile(r"turns the (.+) only\Z")


@dataclass(frozen=True)
class Answer:
    """`turned` and `refused` are the locks that are known to have turned or not; `whole` says
    whether this is the key of the car: True, False, or None when that was not tried."""

    turned: frozenset[str] = frozenset()
    refused: frozenset[str] = frozenset()
    whole: bool | None = None

    @property
    def words(self) -> str:
        if self.whole:
            return "turned"
        if self.turned:
            only = " only" if self.whole is False else ""
            return f"turned the {_names(self.turned)}{only}"
        return f"did not turn the {_names(self.refused)}" if self.refused else "did not turn"

    def to_json(self) -> dict[str, Any]:
        return {"turned": sorted(self.turned), "refused": sorted(self.refused), "whole": self.whole}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Answer:
        return cls(frozenset(data["turned"]), frozenset(data["refused"]), data["whole"])


def _names(locks: Iterable[str]) -> str:
    return " and the ".join(sorted(locks))


def read_answer(system: KeySystem, answer: str | Answer, lock: str | None = None) -> Answer:
    """An answer in words as an Answer.

    "turns": this is the key. "does not turn": it is not, and nothing more is known, because
    no lock was named. "turns the door only" (any lock of the system): right at the
    positions that lock reads, but not the key. With `lock`, "turns" and "does not turn"
    speak of that lock alone. Raises BadAnswer.
    """
    given = answer if isinstance(answer, Answer) else _read_words(system, answer.strip().lower(), lock)
    for name in given.turned | given.refused:
        if name not in system.locks:
            locks = ", ".join(system.locks) or "none"
            raise BadAnswer(f"{system.name} has no lock called {name}. Its locks: {locks}.")
    return given


def _read_words(system: KeySystem, words: str, lock: str | None) -> Answer:
    only = _ONLY.match(words)
    if only:
        names = {name.lower(): name for name in system.locks}
        return Answer(turned=frozenset([names.get(only[1], lock or only[1])]), whole=False)
    if words not in (TURNS, DOES_NOT_TURN):
        raise BadAnswer(f'"{words}" is no answer. Say "turns", "does not turn" or "turns the door only".')
    turns = words == TURNS
    if lock is None:
        return Answer(whole=turns)
    named = frozenset([lock])
    return Answer(turned=named) if turns else Answer(refused=named)


def fits(system: KeySystem, tried: Bitting, answer: Answer, candidate: Sequence[str]) -> bool:
    """Whether the candidate can be the key, given this answer to this try."""
    if answer.whole is not None and (tuple(candidate) == tried) != answer.whole:
        return False
    return all(_same(system, tried, candidate, lock) for lock in answer.turned) and not any(
        _same(system, tried, candidate, lock) for lock in answer.refused
    )


def _same(system: KeySystem, tried: Bitting, candidate: Sequence[str], lock: str) -> bool:
    return all(tried[place - 1] == candidate[place - 1] for place in system.locks[lock])


def proves(system: KeySystem, answer: Answer) -> bool:
    """Whether the answer proves the tried key right at every cut."""
    read = {place for lock in answer.turned for place in system.locks[lock]}
    return answer.whole is True or len(read) == system.cuts
