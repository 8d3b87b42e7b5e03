"""The people whom tests play, made through the actions, and a browser's session for each.

`owner()`, `office()` and `technician()` hold one role each; `person(...)` holds what is named.
"""

from itertools import count
from typing import Any
from uuid import uuid4

from django.test import Client

from shop.staff.actions import add_person
from shop.staff.models import Person
from shop.staff.roles import Role

PASSWORD = "long enough to guess for ages"
_numbers = count(1)


def person(*roles: Role | str, **facts: Any) -> Person:
    """Somebody with these roles; a name and an e-mail of their own unless given."""
    number = next(_numbers)
    named = {"name": f"Person {number}", "email": f"person{number}@shop.example", "password": PASSWORD, **facts}
    return add_person(actor=None, roles=roles, **named)


def owner(**facts: Any) -> Person:
    return person(Role.OWNER, **facts)


def office(**facts: Any) -> Person:
    return person(Role.OFFICE, **facts)


def technician(**facts: Any) -> Person:
    return person(Role.TECHNICIAN, **facts)


def signed_in(someone: Person) -> Client:
    """A browser in which somebody is signed in."""
    client = Client()
    client.force_login(someone)
    return client


def once_key() -> str:
    """What a page's `form_key` holds; send it twice to send the same form twice."""
    return str(uuid4())
