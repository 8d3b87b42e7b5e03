"""One listener per web process, and the screens that hang on it."""

import asyncio
import contextlib
import json
import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

import psycopg
from django.db import connections

from shop.live.telling import CHANNEL

log = logging.getLogger(__name__)

# A screen that has missed more than this is told once to look at everything again.
MOST_WAITING = 50
LONGEST_PAUSE = 5.0
LOOK_AGAIN = {"topic": "all"}


class Screen:
    """One open page: what it has not been sent yet. The same news twice is kept once."""

    def __init__(self, person_id: int, *, sees_all: bool) -> None:
        self._person_id, self._sees_all = person_id, sees_all
        self._waiting: dict[str, dict[str, Any]] = {}
        self._is_news = asyncio.Event()

    def concerns(self, news: dict[str, Any]) -> bool:
        """Office and owner see all; a technician what names them."""
        return self._sees_all or "people" not in news or self._person_id in news["people"]

    def put(self, news: dict[str, Any]) -> None:
        if len(self._waiting) >= MOST_WAITING:
            self._waiting = {}
            news = LOOK_AGAIN
        self._waiting[json.dumps(news)] = news
        self._is_news.set()

    async def take(self) -> list[str]:
        """All that waits, as JSON texts; waits until there is something."""
        await self._is_news.wait()
        self._is_news.clear()
        taken, self._waiting = list(self._waiting), {}
        return taken


class Hub:
    """Listens while at least one screen is open. After a lost connection it comes back and tells all to look again."""

    def __init__(self) -> None:
        self._screens: set[Screen] = set()
        self._listening: asyncio.Task[None] | None = None
        self._hears = False

    @asynccontextmanager
    async def joined(self, screen: Screen) -> AsyncIterator[Screen]:
        """The screen gets news for the length of the block, first of all to look again: its page is older than this."""
        self._screens.add(screen)
        if self._hears:
            screen.put(LOOK_AGAIN)
        if self._listening is None or self._listening.done():
            self._listening = asyncio.create_task(self._listen())
        try:
            yield screen
        finally:
            self._screens.discard(screen)
            if not self._screens and self._listening:
                self._listening.cancel()
                self._listening = None

    async def _listen(self) -> None:
        pause = 0.1
        while True:
            try:
                async with await self._connect() as listening:
                    await listening.execute(f"LISTEN {CHANNEL}")
                    pause, self._hears = 0.1, True
                    self._tell(LOOK_AGAIN)
                    async for notice in listening.notifies():
                        self._hear(notice.payload)
            except (psycopg.Error, OSError) as error:
                log.warning("The live listener lost the database (%s); trying again.", type(error).__name__)
            finally:
                self._hears = False
            await asyncio.sleep(pause)
            pause = min(LONGEST_PAUSE, pause * 2)

    async def _connect(self) -> "psycopg.AsyncConnection[Any]":
        """A connection of its own: listening in the pool would keep one from every page."""
        database = connections["default"].settings_dict
        options = {key: value for key, value in database["OPTIONS"].items() if key != "pool"}
        facts = {"dbname": database["NAME"], "user": database["USER"], "password": database["PASSWORD"]}
        facts |= {"host": database["HOST"], "port": database["PORT"]}
        given = {key: value for key, value in facts.items() if value}
        return await psycopg.AsyncConnection.connect(**given, **options, autocommit=True)

    def _hear(self, payload: str) -> None:
        with contextlib.suppress(ValueError):
            self._tell(json.loads(payload))

    def _tell(self, news: dict[str, Any]) -> None:
        for screen in self._screens:
            if screen.concerns(news):
                screen.put(news)


hub = Hub()
