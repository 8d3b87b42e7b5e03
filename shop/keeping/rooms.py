"""What each app does about keeping: found by name, so that the floor that runs the night knows none above it.

An app with something to delete, to tell of a customer or to erase has a module `retention` with a ROOM.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from importlib import import_module
from typing import Any

from django.apps import apps
from django.utils.module_loading import module_has_submodule


@dataclass(frozen=True)
class Step:
    """One kind of thing that the night deletes or makes anonymous.

    `due` counts what is due on a day (and not under a hold), `sweep` deletes it and counts. Both take the day; what was
    missed is due as well, and sweeping twice finds nothing the second time.
    """

    kind: str
    words: str
    due: Callable[[date], int]
    sweep: Callable[[date], int]


@dataclass(frozen=True)
class Duty:
    """Why something of a customer is kept. `until` is the last day, None when no day is set.

    `job` is the id of the job that it keeps; `keeps_all` keeps the customer as a whole.
    """

    words: str
    until: date | None = None
    job: int | None = None
    keeps_all: bool = False


@dataclass(frozen=True)
class Spared:
    """Ids that a duty protects while the rest of a customer is erased."""

    jobs: frozenset[int] = frozenset()
    vehicles: frozenset[int] = frozenset()


@dataclass(frozen=True)
class KeptFile:
    """A file of a customer: its name in an export and how to read it."""

    name: str
    read: Callable[[], bytes]


def _no_duties(customer: Any, on: date) -> list[Duty]:
    return []


def _no_data(customer: Any) -> dict[str, Any]:
    return {}


def _no_files(customer: Any) -> Iterable[KeptFile]:
    return ()


def _nothing_erased(customer: Any, on: date, spared: Spared) -> list[str]:
    return []


def _no_facts(jobs: Sequence[int]) -> Mapping[int, Mapping[str, str]]:
    return {}


@dataclass(frozen=True)
class Room:
    """What one app does. `erase` returns, in words, what it erased; `facts` gives what a record rule may want of jobs
    and only this app knows: job id to fact to words."""

    steps: tuple[Step, ...] = ()
    duties: Callable[[Any, date], list[Duty]] = _no_duties
    data: Callable[[Any], dict[str, Any]] = _no_data
    files: Callable[[Any], Iterable[KeptFile]] = _no_files
    erase: Callable[[Any, date, Spared], list[str]] = _nothing_erased
    facts: Callable[[Sequence[int]], Mapping[int, Mapping[str, str]]] = _no_facts


def rooms() -> Iterator[Room]:
    """The rooms of all apps, the lowest floor first."""
    for config in apps.get_app_configs():
        if config.module is not None and module_has_submodule(config.module, "retention"):
            yield import_module(f"{config.name}.retention").ROOM


def all_steps() -> list[Step]:
    return [step for room in rooms() for step in room.steps]
