"""Who may open which view. Every view declares its roles; a test walks the URLconf for one that does not."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest
from django.http.response import HttpResponseBase

from shop.staff.models import Person
from shop.staff.roles import Role


class StaffRequest(HttpRequest):
    """A request behind sign-in: its user is one of the shop's people."""

    user: Person


View = Callable[..., HttpResponseBase]


def roles(*allowed: Role) -> Callable[[View], View]:
    """Lets in people who hold at least one of the roles; others are refused with 403."""
    if not allowed:
        raise ValueError("Name at least one role.")

    def declare(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if not request.user.roles & set(allowed):  # type: ignore[union-attr]
                raise PermissionDenied
            return view(request, *args, **kwargs)

        guarded.allowed_roles = frozenset(allowed)  # type: ignore[attr-defined]
        return guarded

    return declare


owner = roles(Role.OWNER)
office = roles(Role.OFFICE, Role.OWNER)
technician = roles(Role.TECHNICIAN)
everyone = roles(Role.OWNER, Role.OFFICE, Role.TECHNICIAN)
