"""Finds an embedded server running, or has it started, for as long as the caller lives."""

import atexit
import os
import subprocess
import sys
import time
from pathlib import Path

from shop.embedded.kinds import log_tail, open_log, server
from shop.embedded.places import Places
from shop.embedded.servers import EmbeddedError, Lock, keeper_lock, users_lock

READY_WITHIN_S = 60.0
"""Recovery after a crash can take a while on a slow disk; a server that ends says so at once."""
_started: list[subprocess.Popen[bytes]] = []
"""Keepers outlive their Hold by a moment; kept so that each is a known child until this process ends."""
_ROOT = Path(__file__).resolve().parent.parent.parent


class Hold:
    """A share in a server's use. Dropping it (or ending, however) lets the server stop."""

    def __init__(self, name: str, state: Path) -> None:
        self.name, self._state = name, state
        self._places = Places(state)
        self._lock: Lock | None = users_lock(self._places, name, shared=True)
        self._lock.take()
        self._pid = os.getpid()
        self._keeper: subprocess.Popen[bytes] | None = None

    def ensure(self) -> None:
        """Wait until the server answers, starting it when nobody has.

        Raises:
            EmbeddedError: it cannot be started; the words hold the end of its log.
        """
        wanted = server(self.name, self._state)
        deadline = time.monotonic() + READY_WITHIN_S
        while not wanted.is_ready():
            if time.monotonic() > deadline:
                raise EmbeddedError(
                    f"{self.name} did not answer within {READY_WITHIN_S:.0f} s. {log_tail(self._places, self.name)}"
                )
            if self._keeper is not None and self._keeper.poll():
                raise EmbeddedError(f"{self.name} could not be started. {log_tail(self._places, self.name)}")
            if self._keeper is None or self._keeper.returncode is not None:
                self._keeper = self._start_keeper()
            time.sleep(0.02)
        self._keeper = None

    def drop(self) -> None:
        """Give the share back."""
        if self._lock and self._pid == os.getpid():
            self._lock.drop()
            self._lock = None

    def _start_keeper(self) -> subprocess.Popen[bytes] | None:
        """A keeper in a session of its own, or None while another one is at work."""
        sole = keeper_lock(self._places, self.name)
        is_free = sole.try_take()
        sole.drop()
        if not is_free:
            return None
        log = open_log(self._places, self.name)
        try:
            keeper = subprocess.Popen(
                [sys.executable, "-B", "-m", "shop.embedded.keeper", self.name, str(self._state)],
                cwd=_ROOT,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        finally:
            os.close(log)
        _started.append(keeper)
        return keeper


_held: dict[tuple[str, Path], Hold] = {}


def hold(*names: str, state: Path) -> None:
    """Make sure that the named servers run and keep them for the life of this process.

    Raises:
        EmbeddedError: a server cannot be started.
    """
    for name in names:
        key = (name, state)
        if key not in _held:
            _held[key] = Hold(name, state)
            atexit.register(_held[key].drop)
        _held[key].ensure()


def drop_all() -> None:
    """Give back every share that `hold` took in this process."""
    for held in _held.values():
        held.drop()
    _held.clear()
