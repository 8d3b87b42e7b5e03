"""What every template may use: the shop, and the places this person may go."""

from typing import Any

from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from shop.http import read_htmx_config
from shop.models import Shop
from shop.nav import links_for

THEMES = frozenset({"light", "dark"})
HTMX_CONFIG = read_htmx_config()


def shop(request: HttpRequest) -> dict[str, Any]:
    """The shop's row, the strip's links, the theme chosen on this device, and the settings of htmx."""
    chosen = request.COOKIES.get("theme", "")
    return {
        "shop": SimpleLazyObject(Shop.current),
        "nav": SimpleLazyObject(lambda: _links(request)),
        "theme": chosen if chosen in THEMES else "",
        "htmx_config": HTMX_CONFIG,
    }


def _links(request: HttpRequest) -> list[Any]:
    user = getattr(request, "user", None)
    return links_for(user.roles, request.path) if user and user.is_authenticated else []
