"""The same moment twice: work done by several threads that wait for each other at the start."""

import threading
from collections.abc import Callable
from typing import TypeVar

from django.db import connection

Result = TypeVar("Result")


def at_once(*works: Callable[[], Result]) -> list[Result | Exception]:
    """What each work returned or raised, all begun in the same instant, each on a connection of its own."""
    start = threading.Barrier(len(works))
    results: list[Result | Exception] = [RuntimeError("never ran")] * len(works)

    def run(number: int, work: Callable[[], Result]) -> None:
        try:
            start.wait(timeout=10)
            results[number] = work()
        except Exception as error:
            results[number] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=each) for each in enumerate(works)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    return results
