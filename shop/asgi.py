"""The site as an ASGI application: Django's pages, and beside them the stream of live news."""

import os
from typing import Any

from django.core.asgi import get_asgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
pages = get_asgi_application()

from shop.live.stream import PATH, live  # noqa: E402  (needs the settings that the line above read)


async def application(scope: Any, receive: Any, send: Any) -> None:
    """Serves one request."""
    if scope["type"] == "http" and scope["path"] == PATH:
        await live(scope, receive, send)
    else:
        await pages(scope, receive, send)
