"""The places at the top of every desk page, by role."""

from dataclasses import dataclass
from typing import Any

from django.urls import NoReverseMatch, reverse

OWNER, OFFICE, TECHNICIAN = "owner", "office", "technician"


@dataclass(frozen=True)
class Place:
    """One entry of the strip: its words, the route it opens and the roles that see it."""

    label: str
    route: str
    roles: frozenset[str]
    is_first_act: bool = False


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
    Place("Jobs", "jobs:list", frozenset({OFFICE, OWNER})),
    Place("Customers", "customers:list", frozenset({OFFICE, OWNER})),
    Place("Stock", "stock:items", frozenset({OFFICE, OWNER})),
    Place("Invoices", "billing:invoices", frozenset({OFFICE, OWNER})),
    Place("Margins", "billing:margins", frozenset({OWNER})),
    Place("Shop", "staff:people", frozenset({OWNER})),
)


def links_for(roles: frozenset[Any], path: str) -> list[Link]:
    """The places these roles may open; a route that does not exist is left out. The longest address that begins
    `path` is where the reader is."""
    found = [(place, url) for place in PLACES if place.roles & roles and (url := _address(place.route))]
    here = max((url for _, url in found if _lies_in(path, url)), key=len, default="")
    return [Link(place.label, url, url == here, place.is_first_act) for place, url in found]


def _address(route: str) -> str:
    try:
        return reverse(route)
    except NoReverseMatch:
        return ""


def _lies_in(path: str, url: str) -> bool:
    return path == url or path.startswith(url.rstrip("/") + "/")
