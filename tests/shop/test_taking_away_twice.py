"""A form that takes a row away is answered the same the second time, although the row is gone by then."""

from collections.abc import Callable

import pytest

from tests.cast import once_key, signed_in
from tests.world import World, make_world

WAYS: dict[str, Callable[[World], str]] = {
    "address": lambda world: f"/addresses/{world.address.pk}/remove",
    "day off": lambda world: f"/days-off/{world.day_off.pk}/remove",
    "tax rate": lambda world: f"/prices/taxes/{world.tax_rate.pk}/remove",
}


@pytest.mark.django_db
@pytest.mark.parametrize("way", WAYS)
def test_second_copy_goes_where_the_first_went(way: str) -> None:
    world = make_world()
    boss, url, key = signed_in(world.owner), WAYS[way](world), once_key()
    first, second = (boss.post(url, {"form_key": key}) for _ in range(2))
    assert (first.status_code, second.status_code) == (302, 302)
    assert first["Location"] == second["Location"]
    assert boss.post(url, {"form_key": once_key()}).status_code == 404
