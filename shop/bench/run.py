"""One run of the bench: the program, the askers, and comparisons side by side."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from django.conf import settings
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from shop.bench.asking import Asker, Times
from shop.bench.program import Program

WARM_UP, REQUESTS = 30, 220
Made = TypeVar("Made")


@dataclass(frozen=True)
class Ask:
    """A request to time: GET, or POST when there is data; a function makes each data anew."""

    path: str
    data: Callable[[], Mapping[str, Any]] | None = None
    headers: Mapping[str, str] = field(default_factory=dict)


@dataclass
class Bench:
    """What a figure gets to measure with."""

    program: Program
    _made: dict[str, Any] = field(default_factory=dict)

    def once(self, name: str, make: Callable[[], Made]) -> Made:
        """What `make` returns, made once in this run: rows that several figures share."""
        if name not in self._made:
            self._made[name] = make()
        made: Made = self._made[name]
        return made

    def side_by_side(self, *asks: Ask, person: Any, requests: int = REQUESTS) -> list[Times]:
        """Times of several requests as `person`, asked in turn; the first ones are not counted."""
        asker = Asker(self.program.port, person)
        taken: list[list[float]] = [[] for _ in asks]
        for round_number in range(WARM_UP + requests):
            for times, ask in zip(taken, asks, strict=True):
                took = asker.timed(ask.path, ask.data() if ask.data else None, ask.headers)
                if round_number >= WARM_UP:
                    times.append(took)
        asker.close()
        return [Times(tuple(times)) for times in taken]

    def queries(self, path: str, person: Any, headers: Mapping[str, str] | None = None) -> int:
        """How many queries a page takes, sign-in and session included."""
        client = Client(headers=dict(headers or {}), SERVER_NAME=settings.ALLOWED_HOSTS[0])
        client.force_login(person)
        client.get(path)
        with CaptureQueriesContext(connection) as captured:
            answer = client.get(path)
        if answer.status_code != 200:
            raise RuntimeError(f"{path} answered {answer.status_code}.")
        return len(captured)


def baseline_ask(name: str) -> Ask:
    """The request for a baseline: B0 and B1 are read, B2 is sent."""
    return Ask(f"/bench/{name}", dict if name == "B2" else None)
