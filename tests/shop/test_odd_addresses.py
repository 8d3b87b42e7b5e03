"""No address breaks the program, whatever stands behind its question mark or in place of its numbers and days."""

from typing import ClassVar

from django.test import Client, TestCase
from django.urls import URLPattern, reverse
from django.urls.converters import IntConverter

from jobs.converters import DayConverter
from shop.models import Shop
from shop.staff.models import Person
from shop.staff.roles import Role
from tests.cast import signed_in
from tests.shop.test_routes import allowed, ask, guarded_routes, sample
from tests.world import World, make_world

NAMES = ("q", "after", "before", "page", "job", "on", "day", "since", "until", "month", "draft", "customer", "vehicle")
# A character that PostgreSQL cannot compare, numbers and days beyond what it keeps, and digits that are not ASCII.
VALUES = ("%00", "99999999999999999999999", "9999-12-31", "0001-01-01", "%D9%A3")
NUMBERS = (2**31, 2**63, 10**30)
DAYS = ("0001-01-01", "1999-12-31", "9999-12-31")


class OddAddresses(TestCase):
    world: ClassVar[World]
    people: ClassVar[dict[Role, Person]]

    @classmethod
    def setUpTestData(cls) -> None:
        Shop.current()
        cls.world = make_world()
        cls.people = {Role.OWNER: cls.world.owner, Role.TECHNICIAN: cls.world.technician}

    def client_for(self, entry: URLPattern) -> Client:
        return signed_in(self.people[Role.OWNER if Role.OWNER in allowed(entry) else Role.TECHNICIAN])

    def broken(self, client: Client, *addresses: str, method: str = "get") -> list[str]:
        return [url for url in addresses if ask(client, method, url).status_code >= 500]

    def test_what_stands_behind_the_question_mark(self) -> None:
        wrong = []
        for name, entry in guarded_routes():
            url = reverse(name, kwargs={each: sample(name, each)(self.world) for each in entry.pattern.converters})
            queries = ("&".join(f"{each}={value}" for each in NAMES) for value in VALUES)
            wrong += self.broken(self.client_for(entry), *(f"{url}?{query}" for query in queries))
        assert not wrong, "\n".join(wrong)

    def test_numbers_and_days_that_no_row_has(self) -> None:
        wrong = []
        for name, entry in guarded_routes():
            usual = {each: sample(name, each)(self.world) for each in entry.pattern.converters}
            for argument, converter in entry.pattern.converters.items():
                odd = NUMBERS if isinstance(converter, IntConverter) else ()
                days = DAYS if isinstance(converter, DayConverter) else ()
                addresses = [reverse(name, kwargs={**usual, argument: each}) for each in (*odd, *days)]
                for method in ("get", "post"):
                    wrong += self.broken(self.client_for(entry), *addresses, method=method)
        assert not wrong, "\n".join(wrong)
