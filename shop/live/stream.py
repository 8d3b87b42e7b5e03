"""The address of live news, `/live`: server-sent events beside Django, so that an open page holds no thread.

(HTML Living Standard, section 9.2 "Server-sent events".)
"""

import asyncio
import io
from collections.abc import Awaitable, Callable, MutableMapping
from importlib import import_module
from typing import Any

from asgiref.sync import sync_to_async
from django.conf import settings
from django.contrib.auth import get_user
from django.core.handlers.asgi import ASGIRequest
from django.db import connections

from shop.live.hub import Screen, hub

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]

PATH = "/live"
KEPT_ALIVE_EVERY = 15.0
# Then the browser comes again by itself and is asked anew who it is: switched-off people stop hearing within minutes.
LONGEST = 300.0
HEADERS = [
    (b"content-type", b"text/event-stream; charset=utf-8"),
    (b"cache-control", b"no-store"),
    (b"x-accel-buffering", b"no"),
]


async def live(scope: Message, receive: Receive, send: Send) -> None:
    """Sends news to one page until it leaves, at most for some minutes. 401 for nobody, 405 for another method."""
    if scope["method"] != "GET":
        return await _refuse(send, 405)
    # The database is given back before the stream begins, or every open page would hold a connection of the pool.
    screen = await sync_to_async(_screen_of, thread_sensitive=False)(scope)
    if screen is None:
        return await _refuse(send, 401)
    await send({"type": "http.response.start", "status": 200, "headers": HEADERS})
    leaving = asyncio.create_task(_left(receive))
    async with hub.joined(screen):
        try:
            async with asyncio.timeout(LONGEST):
                await _stream(screen, send, leaving)
        except TimeoutError:
            pass
        finally:
            leaving.cancel()
    if not leaving.done() or leaving.cancelled():
        await send({"type": "http.response.body", "body": b""})


async def _stream(screen: Screen, send: Send, leaving: "asyncio.Task[None]") -> None:
    await send({"type": "http.response.body", "body": b"retry: 2000\n\n", "more_body": True})
    taking = asyncio.create_task(screen.take())
    try:
        while True:
            done, _ = await asyncio.wait(
                {taking, leaving}, timeout=KEPT_ALIVE_EVERY, return_when=asyncio.FIRST_COMPLETED
            )
            if leaving in done:
                return
            if taking in done:
                body = "".join(f"data: {news}\n\n" for news in taking.result())
                taking = asyncio.create_task(screen.take())
            else:
                body = ": still here\n\n"
            await send({"type": "http.response.body", "body": body.encode(), "more_body": True})
    finally:
        taking.cancel()


async def _left(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass


async def _refuse(send: Send, status: int) -> None:
    await send({"type": "http.response.start", "status": status, "headers": [(b"content-length", b"0")]})
    await send({"type": "http.response.body", "body": b""})


def _screen_of(scope: Message) -> Screen | None:
    """Whose page this is, by the session's cookie; nobody without an active person."""
    request = ASGIRequest(dict(scope), io.BytesIO())
    session = import_module(settings.SESSION_ENGINE).SessionStore
    request.session = session(request.COOKIES.get(settings.SESSION_COOKIE_NAME))
    try:
        person: Any = get_user(request)
        if not (person.is_authenticated and person.is_active):
            return None
        return Screen(person.pk, sees_all=person.is_office or person.is_owner)
    finally:
        connections.close_all()
