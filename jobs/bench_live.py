"""How long it takes from a commit until every open screen has the news."""

import asyncio
import time

from asgiref.sync import sync_to_async
from django.conf import settings

from jobs.actions import add_note
from jobs.models import Job
from shop.bench.asking import Times, session_of
from shop.staff.models import Person


def news_times(port: int, person: Person, job: Job, *, screens: int, changes: int) -> Times:
    """Milliseconds from the commit of each change to its arrival on each of so many streams on this machine."""
    return Times(tuple(asyncio.run(_measure(port, session_of(person), job, screens, changes))))


async def _measure(port: int, session: str, job: Job, screens: int, changes: int) -> list[float]:
    heard: list[asyncio.Queue[float]] = [asyncio.Queue() for _ in range(screens)]
    readers = [asyncio.create_task(_read(port, session, queue)) for queue in heard]
    await asyncio.gather(*(_heard(queue) for queue in heard))
    await asyncio.sleep(0.5)
    for queue in heard:
        while not queue.empty():
            queue.get_nowait()
    times: list[float] = []
    for number in range(changes):
        committed = await sync_to_async(_change)(job, number)
        times += [(at - committed) * 1000 for at in await asyncio.gather(*(_heard(queue) for queue in heard))]
        await asyncio.sleep(0.05)
    for reader in readers:
        reader.cancel()
    return times


def _change(job: Job, number: int) -> float:
    add_note(job, actor=None, words=f"Change {number}")
    return time.perf_counter()


async def _heard(queue: "asyncio.Queue[float]") -> float:
    return await asyncio.wait_for(queue.get(), 10)


async def _read(port: int, session: str, heard: "asyncio.Queue[float]") -> None:
    """One open screen: puts down when each news came."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    cookie = f"{settings.SESSION_COOKIE_NAME}={session}"
    writer.write(f"GET /live HTTP/1.1\r\nHost: localhost:{port}\r\nCookie: {cookie}\r\n\r\n".encode())
    try:
        while line := await reader.readline():
            if line.startswith(b"data: "):
                heard.put_nowait(time.perf_counter())
    finally:
        writer.close()
