"""Answers that suit both a plain request and one sent by htmx."""

import json
from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils.http import url_has_allowed_host_and_scheme
from django_htmx.http import HttpResponseClientRedirect, trigger_client_event

UNDO = "undo:"


def is_htmx(request: HttpRequest) -> bool:
    """True when htmx sent the request and swaps the answer into the page."""
    return bool(getattr(request, "htmx", False))


def see(request: HttpRequest, url: str) -> HttpResponse:
    """Sends the browser on to `url`: a redirect, or for htmx a whole new page instead of a swap."""
    return HttpResponseClientRedirect(url) if is_htmx(request) else HttpResponseRedirect(url)


def render_form(
    request: HttpRequest, template: str, context: Mapping[str, Any] | None = None, *, form: str = "form"
) -> HttpResponse:
    """Renders a page or partial with a form; status 422 when that form was sent and has errors."""
    bound = (context or {}).get(form)
    refused = bound is not None and bound.is_bound and not bound.is_valid()
    return render(request, template, dict(context or {}), status=422 if refused else 200)


def tell(request: HttpRequest, words: str, *, undo: str = "") -> None:
    """Says what was done in a toast, on this page or after a redirect; `undo` is the address that a POST takes back."""
    messages.success(request, words, extra_tags=f"{UNDO}{undo}" if undo else "")


def tell_refused(request: HttpRequest, words: str) -> None:
    """Says in a toast that something was not done, and why."""
    messages.error(request, words)


def send_toasts(request: HttpRequest, response: HttpResponse) -> None:
    """Hands waiting messages to a page that htmx is changing in part, which no template would show otherwise."""
    toasts = [
        {"words": str(message), "undo": undo_address(message.extra_tags), "refused": message.level >= messages.ERROR}
        for message in messages.get_messages(request)
    ]
    if toasts:
        trigger_client_event(response, "toasts", {"toasts": toasts}, after="settle")


def undo_address(extra_tags: str | None) -> str:
    """The address in a message's tags that takes the thing back, or an empty string."""
    tags = extra_tags or ""
    return tags.removeprefix(UNDO) if tags.startswith(UNDO) else ""


def typed(request: HttpRequest, name: str = "q", *, most: int = 100) -> str:
    """What was typed into a search, cut to a length, without the one character that PostgreSQL cannot compare."""
    return request.GET.get(name, "").replace("\0", "").strip()[:most]


def safe_next(request: HttpRequest, fallback: str) -> str:
    """`next` from the request if it stays on this site, else `fallback`."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    is_ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return wanted if is_ours else fallback


def read_htmx_config() -> str:
    """The settings of htmx as JSON for its meta element: nothing that the content policy would refuse."""
    return json.dumps(
        {
            "includeIndicatorStyles": False,
            "allowEval": False,
            "allowScriptTags": False,
            "selfRequestsOnly": True,
            "historyCacheSize": 0,
            "scrollIntoViewOnBoost": False,
            "defaultSwapDelay": 0,
            "defaultSettleDelay": 0,
            "responseHandling": [
                {"code": "204", "swap": False},
                {"code": "[23]..", "swap": True},
                {"code": "422", "swap": True},
                {"code": "409", "swap": True},
                {"code": "...", "swap": False, "error": True},
            ],
        },
        separators=(",", ":"),
    )
