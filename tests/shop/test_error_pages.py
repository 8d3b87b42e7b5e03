"""Error pages say what happened, that nothing was lost, and what to do; the last of them needs nothing to work."""

from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied, SuspiciousOperation
from django.http import Http404, HttpRequest
from django.test import Client, RequestFactory
from django.views import defaults

NOTHING_LOST = ("nothing was changed", "nothing was done", "was not stored")


@pytest.fixture
def request_(rf: RequestFactory) -> HttpRequest:
    request = rf.get("/lost")
    request.user = AnonymousUser()
    return request


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("show", "status"),
    [
        (lambda request: defaults.bad_request(request, SuspiciousOperation()), 400),
        (lambda request: defaults.permission_denied(request, PermissionDenied()), 403),
        (lambda request: defaults.page_not_found(request, Http404()), 404),
        (defaults.server_error, 500),
    ],
)
def test_page_says_that_nothing_was_lost(show: Callable[..., Any], status: int, request_: HttpRequest) -> None:
    response = show(request_)
    words = response.content.decode().lower()
    assert response.status_code == status
    assert any(words.count(phrase) for phrase in NOTHING_LOST)
    assert 'href="/"' in words


def test_page_for_a_fault_asks_nothing_of_the_database(request_: HttpRequest) -> None:
    # No database mark: any query fails this test, as it would fail the page when the database is what broke.
    assert defaults.server_error(request_).status_code == 500


@pytest.mark.django_db
def test_a_stale_page_is_told_apart_from_a_closed_one() -> None:
    response = Client(enforce_csrf_checks=True).post("/sign-in", {"email": "a@b.example", "password": "x"})
    assert response.status_code == 403
    assert "grown too old" in response.content.decode()
