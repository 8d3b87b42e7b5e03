"""Answers that suit a plain request and one of htmx (headers as the htmx 2 reference lists them)."""

import json

import pytest
from django import forms
from django.contrib.auth.models import AnonymousUser
from django.contrib.messages import get_messages
from django.contrib.messages.storage.cookie import CookieStorage
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.test import RequestFactory
from django.utils import timezone
from django_htmx.middleware import HtmxDetails

from shop.http import render_form, safe_next, see, tell, tell_refused
from shop.middleware import ShopMiddleware
from shop.models import Shop

pytestmark = pytest.mark.django_db


def made_request(path: str = "/", *, htmx: bool, current: str = "", method: str = "GET") -> HttpRequest:
    headers = {"HX-Request": "true", "HX-Current-URL": current} if htmx else {}
    request = RequestFactory(headers=headers).generic(method, path)
    request.htmx = HtmxDetails(request)  # type: ignore[attr-defined]
    request.user = AnonymousUser()
    request._messages = CookieStorage(request)  # type: ignore[attr-defined]
    return request


def test_see_redirects_a_plain_request() -> None:
    response = see(made_request(htmx=False), "/jobs")
    assert (response.status_code, response["Location"]) == (302, "/jobs")


def test_see_gives_htmx_a_whole_new_page() -> None:
    response = see(made_request(htmx=True), "/jobs")
    assert (response.status_code, response["HX-Redirect"]) == (200, "/jobs")
    assert not response.has_header("Location")


class OneForm(forms.Form):
    name = forms.CharField()


@pytest.mark.parametrize(("data", "status"), [(None, 200), ({"name": "Ines"}, 200), ({}, 422)])
def test_a_form_with_errors_answers_422(data: dict[str, str] | None, status: int) -> None:
    # RFC 9110, 15.5.21: understood, but it cannot be done with what was sent.
    response = render_form(made_request(htmx=True), "shop/field_words.html", {"form": OneForm(data)})
    assert response.status_code == status


def through_middleware(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    return ShopMiddleware(lambda _: response)(request)


def test_expired_session_sends_the_whole_page_to_sign_in_and_back() -> None:
    request = made_request("/fragments/7", htmx=True, current="http://testserver/day?on=2026-11-24")
    response = through_middleware(request, HttpResponseRedirect("/sign-in?next=/fragments/7"))
    assert response.status_code == 200
    assert response["HX-Redirect"] == "/sign-in?next=%2Fday%3Fon%3D2026-11-24"


def test_expired_session_of_a_plain_request_is_left_alone() -> None:
    response = through_middleware(made_request(htmx=False), HttpResponseRedirect("/sign-in?next=/jobs"))
    assert response.status_code == 302


def test_what_an_expired_session_posted_is_told_lost_and_leads_back_to_its_page() -> None:
    # The address of the form may answer no GET (RFC 9110, 15.5.6), which is what the browser sends after signing in.
    request = made_request("/round/7/set-off", htmx=False, method="POST")
    request.META["HTTP_REFERER"] = "http://testserver/round/7"
    response = through_middleware(request, HttpResponseRedirect("/sign-in?next=/round/7/set-off"))
    assert (response.status_code, response["Location"]) == (302, "/sign-in?next=%2Fround%2F7")
    assert ["not kept" in str(message) for message in get_messages(request)] == [True]


def test_signing_out_tells_of_no_loss() -> None:
    request = made_request("/sign-out", htmx=False, method="POST")
    assert through_middleware(request, HttpResponseRedirect("/sign-in"))["Location"] == "/sign-in"
    assert not list(get_messages(request))


def test_what_was_told_comes_with_a_part_of_a_page() -> None:
    request = made_request(htmx=True, method="POST")
    tell(request, "Moved.", undo="/visits/7/back")
    tell_refused(request, "Bo has the day off.")
    response = through_middleware(request, HttpResponse("part"))
    sent = json.loads(response["HX-Trigger-After-Settle"])["toasts"]["toasts"]
    assert sent == [
        {"words": "Moved.", "undo": "/visits/7/back", "refused": False},
        {"words": "Bo has the day off.", "undo": "", "refused": True},
    ]


@pytest.mark.parametrize("method", ["POST", "GET"])
def test_what_was_told_waits_for_the_next_page(method: str) -> None:
    request = made_request(htmx=True, method=method)
    tell(request, "Moved.")
    response = through_middleware(request, see(request, "/jobs") if method == "POST" else HttpResponse("part"))
    assert not response.has_header("HX-Trigger-After-Settle")
    assert [str(message) for message in request._messages] == ["Moved."]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("wanted", "url"),
    [("/day", "/day"), ("https://elsewhere.example/", "/home"), ("//elsewhere.example", "/home"), ("", "/home")],
)
def test_next_stays_on_this_site(wanted: str, url: str) -> None:
    request = RequestFactory().get("/sign-in", {"next": wanted})
    assert safe_next(request, "/home") == url


@pytest.mark.parametrize(("zone", "name"), [("Europe/Oslo", "Europe/Oslo"), ("Moon/Tycho", "UTC"), ("../etc", "UTC")])
def test_times_are_shown_in_the_shops_zone(zone: str, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Shop, "current", classmethod(lambda cls: Shop(time_zone=zone)))
    seen: list[str] = []

    def view(_: HttpRequest) -> HttpResponse:
        seen.append(timezone.get_current_timezone_name())
        return HttpResponse()

    ShopMiddleware(view)(made_request(htmx=False))
    assert seen == [name]
