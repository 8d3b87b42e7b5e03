"""The strip shows each role its places, and where the reader is."""

import pytest

from shop import nav
from shop.staff.roles import Role


@pytest.fixture
def addresses(monkeypatch: pytest.MonkeyPatch) -> None:
    """Addresses of our choosing, so that the strip is tried whatever the apps serve; one route does not exist."""
    places = (
        nav.Place("Shop", "staff:people", frozenset({"owner"}), also=("staff:shop",)),
        nav.Place("Nowhere", "staff:no_such_route", frozenset({"owner", "office"})),
        nav.Place("Own password", "staff:my_password", frozenset({"office", "technician"})),
    )
    monkeypatch.setattr(nav, "PLACES", places)


@pytest.mark.usefixtures("addresses")
def test_a_route_that_does_not_exist_is_left_out() -> None:
    assert [link.label for link in nav.links_for(frozenset({Role.OWNER}), "/")] == ["Shop"]


@pytest.mark.usefixtures("addresses")
def test_each_role_sees_its_places_and_several_roles_see_all() -> None:
    assert [link.label for link in nav.links_for(frozenset({Role.TECHNICIAN}), "/")] == ["Own password"]
    both = nav.links_for(frozenset({Role.OWNER, Role.OFFICE}), "/")
    assert [link.label for link in both] == ["Shop", "Own password"]
    assert nav.links_for(frozenset(), "/") == []


@pytest.mark.usefixtures("addresses")
@pytest.mark.parametrize(
    ("path", "is_here"),
    [("/people", True), ("/people/3/week", True), ("/shop", True), ("/peoples", False), ("/", False)],
)
def test_reader_is_in_the_place_the_address_lies_in(path: str, is_here: bool) -> None:
    (link,) = nav.links_for(frozenset({Role.OWNER}), path)
    assert link.is_here is is_here


def test_every_place_of_the_strip_exists() -> None:
    found = nav.links_for(frozenset({Role.OWNER, Role.OFFICE, Role.TECHNICIAN}), "/")
    assert [link.label for link in found] == [place.label for place in nav.PLACES]
