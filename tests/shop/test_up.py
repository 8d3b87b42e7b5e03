"""The whole program as `manage.py up` runs it: served, mended after kill -9 of any part, ended without an orphan."""

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Generator
from pathlib import Path

import psutil
import pytest
from django.conf import settings

from tests.harness.site import answers

# One after another in one process: the first start on the shared folder is the slow one.
pytestmark = pytest.mark.xdist_group("up")

Eventually = Callable[..., object]


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        return int(listening.getsockname()[1])


class Program:
    """A running `manage.py up` with a state folder of its own."""

    def __init__(self, state: Path, port: int, *, spawn: str = "fork") -> None:
        self.url = f"http://127.0.0.1:{port}"
        self.log = state.with_suffix(".log")
        environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "shop.settings", "BITTERN_STATE": str(state)}
        environment |= {"DATABASE_URL": "", "REDIS_URL": "", "BITTERN_SPAWN": spawn, "BITTERN_LOG_LEVEL": "WARNING"}
        command = [sys.executable, "manage.py", "up", "--port", str(port)]
        with self.log.open("ab") as said:
            self.process = subprocess.Popen(
                command, cwd=settings.ROOT, env=environment, stdout=said, stderr=said, start_new_session=True
            )

    def serves(self) -> bool:
        return answers(f"{self.url}/sign-in")

    def is_well(self) -> bool:
        try:
            with urllib.request.urlopen(f"{self.url}/health", timeout=5) as answer:
                return answer.read() == b'{"database": "ok", "queue": "ok"}'
        except OSError:
            return False

    def parts(self) -> set[psutil.Process]:
        """Every process below the supervisor."""
        return set(psutil.Process(self.process.pid).children(recursive=True))

    def named(self, name: str) -> psutil.Process | None:
        """The part called `name`: a server by its program, the others by the name they give themselves."""
        for part in psutil.Process(self.process.pid).children(recursive=True):
            if part.name() == name:
                return part
        return None


@pytest.fixture(scope="module")
def shop_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A state folder that stays from test to test: the first start pays for tables and static files, once."""
    return tmp_path_factory.mktemp("up") / "state"


@pytest.fixture
def program(shop_folder: Path, eventually: Eventually) -> Generator[Program]:
    running = Program(shop_folder, free_port())
    try:
        eventually(running.serves, within=90)
        yield running
    finally:
        if running.process.poll() is None:
            running.process.send_signal(signal.SIGTERM)
        running.process.wait(40)


def gone(processes: set[psutil.Process]) -> Callable[[], bool]:
    return lambda: not [one for one in processes if one.is_running() and one.status() != psutil.STATUS_ZOMBIE]


def test_each_killed_part_is_back_within_ten_seconds(program: Program, eventually: Eventually) -> None:
    for name in ("bittern-web-1", "bittern-web-2", "bittern-worker", "bittern-schedul", "postgres", "valkey-server"):
        before = eventually(lambda name=name: program.named(name))
        assert isinstance(before, psutil.Process)
        before.kill()

        def is_back(name: str = name, before: psutil.Process = before) -> bool:
            now = program.named(name)
            return now is not None and now.pid != before.pid

        eventually(is_back, within=10)
        eventually(program.is_well, within=10)
        eventually(program.serves, within=10)
    assert program.process.poll() is None


def test_a_killed_supervisor_leaves_nothing_behind(program: Program, shop_folder: Path, eventually: Eventually) -> None:
    parts = program.parts()
    assert len(parts) > 8
    program.process.kill()
    program.process.wait()
    eventually(gone(parts), within=20)
    assert not (shop_folder / "postgres" / "postmaster.pid").exists(), "the database was not ended cleanly"


def test_the_end_asked_for_leaves_nothing_behind(program: Program, eventually: Eventually) -> None:
    parts = program.parts()
    started = time.monotonic()
    program.process.send_signal(signal.SIGINT)
    assert program.process.wait(40) == 0
    assert time.monotonic() - started < 20
    eventually(gone(parts), within=1)


def test_a_second_program_on_the_same_folder_or_port_is_told_what_to_do(program: Program, tmp_path: Path) -> None:
    port = int(program.url.rpartition(":")[2])
    same_folder = Program(program.log.with_suffix(""), port + 1)
    assert same_folder.process.wait(60) == 1
    assert "already runs with the state folder" in same_folder.log.read_text()
    (tmp_path / "other").mkdir()
    same_port = Program(tmp_path / "other", port)
    assert same_port.process.wait(60) == 1
    assert f"Port {port} is in use by another program. Choose another: make run PORT={port + 1}" in (
        same_port.log.read_text()
    )
    assert program.serves()


def test_parts_as_programs_of_their_own_serve_and_end(shop_folder: Path, eventually: Eventually) -> None:
    """The way of systems where a fork of a loaded process is not safe."""
    program = Program(shop_folder, free_port(), spawn="exec")
    eventually(program.serves, within=90)
    eventually(program.is_well)
    parts = program.parts()
    program.process.kill()
    program.process.wait()
    eventually(gone(parts), within=20)
