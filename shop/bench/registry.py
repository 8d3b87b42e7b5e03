"""What is measured, and the views it is compared with."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from django.http.response import HttpResponseBase

if TYPE_CHECKING:
    from shop.bench.run import Bench


@dataclass(frozen=True)
class Result:
    """What came out: words for the table, and whether the bound holds (None: cannot be measured on this machine)."""

    measured: str
    holds: bool | None


@dataclass(frozen=True)
class Figure:
    """One line of the table."""

    name: str
    bound: str
    measure: "Callable[[Bench], Result]"
    order: int


View = Callable[..., HttpResponseBase]
AnyView = TypeVar("AnyView", bound=View)
Measure = TypeVar("Measure", bound="Callable[[Bench], Result]")

figures: list[Figure] = []
baselines: dict[str, View] = {}


def figure(name: str, *, bound: str, order: int = 50) -> Callable[[Measure], Measure]:
    """Registers a measurement; lower `order` runs first, and 90 and above may kill parts of the program."""

    def register(measure: Measure) -> Measure:
        figures.append(Figure(name, bound, measure, order))
        return measure

    return register


def baseline(name: str) -> Callable[[AnyView], AnyView]:
    """Registers a view as the baseline `name`, served at /bench/NAME while the bench runs."""

    def register(view: AnyView) -> AnyView:
        baselines[name] = view
        return view

    return register
