"""What every request needs around it: the shop's time, and answers that htmx can use."""

from collections.abc import Callable
from urllib.parse import urlencode, urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import resolve_url
from django.utils import timezone
from django.utils.timezone import get_default_timezone
from django_htmx.http import HttpResponseClientRedirect

from shop.http import is_htmx, send_toasts, tell_refused
from shop.models import Shop

SAFE = frozenset({"GET", "HEAD", "OPTIONS"})


class ShopMiddleware:
    """Shows times in the shop's zone, and mends answers that htmx would swap into the wrong place."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path_info == "/health":  # answers at once even when the database, and so the zone, cannot
            return self.get_response(request)
        with timezone.override(shop_zone()):
            response = self.get_response(request)
        if is_htmx(request):
            return self._for_htmx(request, response)
        if request.method not in SAFE and _asks_to_sign_in(response) and "next=" in response["Location"]:
            # What was posted is gone, and its address may answer no GET: back to the page it was sent from.
            tell_refused(request, "You had been signed out, so what you sent was not kept. Sign in and send it again.")
            response["Location"] = _sign_in_and_back(request.headers.get("Referer", ""))
        return response

    def _for_htmx(self, request: HttpRequest, response: HttpResponse) -> HttpResponse:
        if _asks_to_sign_in(response):
            return HttpResponseClientRedirect(_sign_in_and_back(request.headers.get("HX-Current-URL", "")))
        # What an earlier request told waits for a whole page; a part being refreshed must not take it away.
        if request.method not in SAFE and not _leaves_page(response):
            send_toasts(request, response)
        return response


def shop_zone() -> timezone.datetime.tzinfo:  # type: ignore[name-defined]
    """The zone in which the shop keeps its diary; UTC when its setting names none that exists."""
    try:
        return ZoneInfo(Shop.current().time_zone)
    except (ZoneInfoNotFoundError, ValueError):
        return get_default_timezone()


def _asks_to_sign_in(response: HttpResponse) -> bool:
    if response.status_code != 302:
        return False
    return urlsplit(response["Location"]).path == urlsplit(resolve_url(settings.LOGIN_URL)).path


def _sign_in_and_back(shown: str) -> str:
    # The page the person sees, not the fragment that htmx asked for nor the address of a form.
    seen = urlsplit(shown)
    back = seen.path + (f"?{seen.query}" if seen.query else "")
    query = f"?{urlencode({'next': back})}" if back else ""
    return f"{resolve_url(settings.LOGIN_URL)}{query}"


def _leaves_page(response: HttpResponse) -> bool:
    return 300 <= response.status_code < 400 or any(
        response.has_header(name) for name in ("HX-Redirect", "HX-Location", "HX-Refresh")
    )
