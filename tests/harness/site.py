"""The site and its worker as they really run, on the test database."""

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Generator, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

import pytest
from django.conf import settings
from django.db import connection

Found = TypeVar("Found")


def eventually_true(check: Callable[[], Found], within: float = 10.0) -> Found:
    """The first true value of `check()`; fails after `within` seconds."""
    deadline = time.monotonic() + within
    while not (value := check()):
        if time.monotonic() > deadline:
            raise AssertionError(f"Not so within {within:g} s: {getattr(check, '__name__', check)} (last {value!r})")
        time.sleep(0.05)
    return value


@pytest.fixture(scope="session")
def eventually() -> Callable[..., object]:
    """Waits until a check is true."""
    return eventually_true


def answers(url: str) -> bool:
    """Whether `url` answers with any page."""
    try:
        with urllib.request.urlopen(url, timeout=5) as answer:
            return bool(answer.status == 200)
    except OSError:
        return False


@contextmanager
def running(command: list[str], log: Path, **popen: object) -> Iterator[subprocess.Popen[bytes]]:
    """A process for the length of a block, told to end by SIGTERM; what it says goes to `log`."""
    environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings"}
    environment["BITTERN_SERVED_DATABASE"] = str(connection.settings_dict["NAME"])
    environment["PYTHONWARNINGS"] = "default"
    with log.open("ab") as said:
        process = subprocess.Popen(
            command, cwd=settings.ROOT, env=environment, stdout=said, stderr=said, start_new_session=True, **popen
        )  # type: ignore[call-overload]
    try:
        yield process
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(15)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


@pytest.fixture(scope="session")
def _served(django_db_setup: None, tmp_path_factory: pytest.TempPathFactory) -> Generator[str]:
    log = tmp_path_factory.mktemp("site") / "uvicorn.log"
    with socket.create_server(("127.0.0.1", 0)) as listening:
        url = f"http://127.0.0.1:{listening.getsockname()[1]}"
        command = [sys.executable, "-m", "uvicorn", "shop.asgi:application", "--fd", str(listening.fileno())]
        command += ["--timeout-graceful-shutdown", "3", "--log-level", "warning", "--no-access-log"]
        with running(command, log, pass_fds=[listening.fileno()]):
            eventually_true(lambda: answers(f"{url}/health"), within=60)
            yield url


@pytest.fixture
def live(transactional_db: None, _served: str) -> Generator[str]:
    """The address of the running site, for example http://127.0.0.1:40231."""
    yield _served
    # A page still being made would stand in the way of emptying the tables, and meet it as a deadlock.
    eventually_true(_is_quiet, within=20)


def _is_quiet() -> bool:
    """Whether nobody else asks this test's database for anything just now."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
            " AND backend_type = 'client backend' AND state <> 'idle'"
        )
        return bool(cursor.fetchone()[0] == 0)


@pytest.fixture
def worker(transactional_db: None, tmp_path: Path) -> Generator[None]:
    """A Celery worker does the tasks that this test sends.

    It ends with the test: left running, it would take the tasks of the next test, which means to do them itself.
    """
    log = tmp_path / "celery.log"
    command = [sys.executable, "-m", "celery", "-A", "shop", "worker", "--loglevel", "INFO", "--concurrency", "1"]
    command += ["--without-gossip", "--without-mingle", "--purge", "--hostname", f"tests-{os.getpid()}@%h"]
    with running(command, log):
        eventually_true(lambda: " ready." in log.read_text(), within=60)
        yield
