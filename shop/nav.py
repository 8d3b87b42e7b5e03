"""The places at the top of every desk page, by role."""

from dataclasses import dataclass
from typing import Any

from django.urls import NoReverseMatch, reverse

OWNER, OFFICE, TECHNICIAN = "owner", "office", "technician"


@dataclass(frozen=True)
class Place:
    """One entry of the strip: its words, the route it opens, the roles that see it, other routes that lie in it."""

    label: str
    route: str
    roles: frozenset[str]
    is_first_act: bool = False
    also: tuple[str, ...] = ()


@dataclass(frozen=True)
class Link:
    """A place with its address, and whether the page shown lies in it."""

    label: str
    url: str
    is_here: bool
    is_first_act: bool


PLACES = (
    Place("Take call", "billing:take_call", frozenset({OFFICE, OWNER}), is_first_act=True),
    Place("Day sheet", "jobs:day", frozenset({OFFICE, OWNER})),
    Place("Round", "jobs:round", frozenset({TECHNICIAN})),
    Place("My van", "stock:van", frozenset({TECHNICIAN})),
    Place("Jobs", "jobs:list", frozenset({OFFICE, OWNER})),
    Place("Customers", "customers:list", frozenset({OFFICE, OWNER})),
    Place(
        "Keys",
        "vehicles:key_systems",
        frozenset({OFFICE, OWNER, TECHNICIAN}),
        also=("vehicles:code_books", "vehicles:workbench"),
    ),
    Place("Vehicles", "vehicles:families", frozenset({OFFICE, OWNER, TECHNICIAN})),
    Place("Stock", "stock:items", frozenset({OFFICE, OWNER})),
    Place("Prices", "billing:price_book", frozenset({OFFICE, OWNER})),
    Place("Invoices", "billing:invoices", frozenset({OFFICE, OWNER})),
    Place("Margins", "billing:margins", frozenset({OWNER})),
    Place(
        "Shop",
        "staff:people",
        frozenset({OWNER}),
        also=("staff:shop", "jobs:rules", "jobs:openings", "jobs:keeping", "jobs:inspection"),
    ),
)


def links_for(roles: frozenset[Any], path: str) -> list[Link]:
    """The places these roles may open; a route that does not exist is left out.

    Where the reader is: the place with the longest address that `path` lies in.
    """
    found = [
        (place, url, _depth(place, path)) for place in PLACES if place.roles & roles and (url := _address(place.route))
    ]
    deepest = max((depth for *_, depth in found), default=0)
    return [Link(place.label, url, 0 < depth == deepest, place.is_first_act) for place, url, depth in found]


def _depth(place: Place, path: str) -> int:
    addresses = [_address(route) for route in (place.route, *place.also)]
    return max((len(url) for url in addresses if url and _lies_in(path, url)), default=0)


def _address(route: str) -> str:
    try:
        return reverse(route)
    except NoReverseMatch:
        return ""


def _lies_in(path: str, url: str) -> bool:
    return path == url or path.startswith(url.rstrip("/") + "/")
