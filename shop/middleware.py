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

from shop.http import is_htmx, send_toasts
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
        return self._for_htmx(request, response) if is_htmx(request) else response

    def _for_htmx(self, request: HttpRequest, response: HttpResponse) -> HttpResponse:
        if _asks_to_sign_in(response):
            return HttpResponseClientRedirect(_sign_in_and_back(request))
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


def _sign_in_and_back(request: HttpRequest) -> str:
    # The page the person sees, not the fragment that htmx asked for.
    seen = urlsplit(request.headers.get("HX-Current-URL", ""))
    back = seen.path + (f"?{seen.query}" if seen.query else "")
    query = f"?{urlencode({'next': back})}" if back else ""
    return f"{resolve_url(settings.LOGIN_URL)}{query}"


def _leaves_page(response: HttpResponse) -> bool:
    return 300 <= response.status_code < 400 or any(
        response.has_header(name) for name in ("HX-Redirect", "HX-Location", "HX-Refresh")
    )
