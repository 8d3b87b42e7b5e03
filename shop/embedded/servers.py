"""What a keeper knows of a server: how to prepare, start, ask and stop it."""

import fcntl
import os
import signal
import socket
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from shop.embedded.places import Places


class EmbeddedError(Exception):
    """An embedded server cannot run; the words say why and what to do."""


@dataclass(frozen=True)
class Launch:
    """A command ready to run, and the signal that asks it for a quick clean stop."""

    command: list[str]
    stop_signal: signal.Signals
    environment: dict[str, str]


class Server(Protocol):
    """One kind of embedded server, bound to a state folder."""

    name: str

    def prepare(self) -> Launch:
        """Make folders and data, clear what a killed run left. Called only under the server's lock."""

    def is_ready(self) -> bool:
        """Whether the server answers now."""


class Lock:
    """A file lock that the kernel drops when the last process that has it open ends, however it ends."""

    def __init__(self, path: Path, *, shared: bool = False) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        self._descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        self._kind = fcntl.LOCK_SH if shared else fcntl.LOCK_EX

    def take(self) -> None:
        """Wait until the lock is ours."""
        fcntl.flock(self._descriptor, self._kind)

    def try_take(self) -> bool:
        """Take the lock if nobody has it."""
        try:
            fcntl.flock(self._descriptor, self._kind | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def fileno(self) -> int:
        """The open file; a child that inherits it holds the lock too."""
        return self._descriptor

    def drop(self) -> None:
        """Close our copy; the lock is free when no child has one."""
        os.close(self._descriptor)


def server_lock(places: Places, name: str) -> Lock:
    """Held by a running server and all its processes."""
    return Lock(places.locks / f"{name}.running")


def keeper_lock(places: Places, name: str) -> Lock:
    """Held by the keeper that may end the server."""
    return Lock(places.locks / f"{name}.keeper")


def users_lock(places: Places, name: str, *, shared: bool) -> Lock:
    """Held shared by every process that uses the server; its keeper stops the server once it gets it alone."""
    return Lock(places.locks / f"{name}.users", shared=shared)


def answers(path: Path) -> bool:
    """Whether a process listens on the Unix socket at `path`."""
    with socket.socket(socket.AF_UNIX) as tried:
        tried.settimeout(1)
        try:
            tried.connect(str(path))
        except OSError:
            return False
    return True


def clean_environment() -> dict[str, str]:
    """Our environment without the variables that would steer PostgreSQL or its clients elsewhere."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PG")}
    return {**kept, "LC_ALL": "C"}
