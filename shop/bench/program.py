"""The program under measurement: started as `manage.py up`, looked at, and hurt, from outside."""

import contextlib
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path

from django.conf import settings

START_WITHIN_S = 120.0


def until(check: Callable[[], object], within_s: float) -> float:
    """Seconds until `check()` is true. Raises TimeoutError."""
    started = time.monotonic()
    while not check():
        if time.monotonic() - started > within_s:
            raise TimeoutError(f"Not so within {within_s:g} s.")
        time.sleep(0.03)
    return time.monotonic() - started


class Program:
    """`manage.py up` on the bench's own state folder and a free port."""

    def __init__(self) -> None:
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = int(free.getsockname()[1])
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> float:
        """Start it; seconds until the first page."""
        log = settings.PLACES.logs / "up.log"
        log.parent.mkdir(parents=True, exist_ok=True)
        command = [sys.executable, "manage.py", "up", "--port", str(self.port)]
        with log.open("ab") as said:
            self._process = subprocess.Popen(
                command, cwd=settings.ROOT, stdout=said, stderr=said, start_new_session=True
            )
        try:
            return until(self._serves_or_ended, START_WITHIN_S)
        except TimeoutError as error:
            raise RuntimeError(f"The program did not start; see {log}.") from error

    def stop(self) -> None:
        """End it as Ctrl-C would."""
        if self._process and self._process.poll() is None:
            self._process.send_signal(signal.SIGINT)
            self._process.wait()

    def serves(self) -> bool:
        """Whether the sign-in page is there."""
        return self._gets("/sign-in")

    def is_well(self) -> bool:
        """Whether pages, database and queue work."""
        return self._gets("/health", b'"queue": "ok"') and self.serves()

    def parts(self) -> dict[int, str]:
        """Numbers and names of all processes of the program (Linux)."""
        assert self._process
        below: dict[int, list[int]] = {}
        names: dict[int, str] = {}
        for folder in Path("/proc").glob("[0-9]*"):
            with contextlib.suppress(OSError):
                head, _, tail = (folder / "stat").read_text().rpartition(")")
                names[int(folder.name)] = head.partition("(")[2]
                below.setdefault(int(tail.split()[1]), []).append(int(folder.name))
        found: dict[int, str] = {}
        todo = [self._process.pid]
        while todo:
            number = todo.pop()
            found[number] = names.get(number, "")
            todo += below.get(number, [])
        return found

    def memory_mb(self) -> float:
        """Proportional set size of all processes together, in MB (Linux)."""
        return sum(map(_pss_kb, self.parts())) / 1024

    def kill(self, name: str) -> int:
        """Kill -9 the first part called `name` and tell its number."""
        number = min(pid for pid, called in self.parts().items() if called == name)
        os.kill(number, signal.SIGKILL)
        return number

    def _serves_or_ended(self) -> bool:
        assert self._process
        if self._process.poll() is not None:
            raise TimeoutError("It ended.")
        return self.serves()

    def _gets(self, path: str, words: bytes = b"") -> bool:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.port}{path}", timeout=5) as answer:
                return answer.status == 200 and words in answer.read()
        except OSError:
            return False


def _pss_kb(pid: int) -> int:
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0
    return next(int(line.split()[1]) for line in lines if line.startswith("Pss:"))
