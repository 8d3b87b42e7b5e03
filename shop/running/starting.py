"""How a part becomes a process: forked from the supervisor or, where that is unsafe, a program of its own."""

import os
import signal
import socket
import subprocess
import sys
import threading
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from shop.embedded.kinds import open_log
from shop.embedded.leash import call_it, die_with_parent
from shop.embedded.places import Places
from shop.running.parts import Part
from shop.running.supervisor import exit_code

FORKS = os.environ.get("BITTERN_SPAWN", "fork" if sys.platform.startswith("linux") else "exec") == "fork"
"""macOS ends a process forked from one that has its frameworks loaded. `BITTERN_SPAWN=exec` forces the other way."""
_ROOT = Path(__file__).resolve().parent.parent.parent


@dataclass(frozen=True)
class Starter:
    """Starts a part as a process, and gives its number."""

    state: Path
    listening: socket.socket
    leave: Callable[[], None]
    """Undoes, in a forked child, what the supervisor set up for itself."""

    def __call__(self, part: Part) -> int:
        """The number of the new process."""
        if part.command:
            return self._execute(part, list(part.command))
        if FORKS or part.once:
            return self._fork(part)
        command = ["shop.running.part", part.name, "--parent", str(os.getpid())]
        return self._execute(part, [*command, "--socket", str(self.listening.fileno())])

    def _fork(self, part: Part) -> int:
        parent = os.getpid()
        sys.stdout.flush()
        sys.stderr.flush()
        pid = os.fork()
        if pid:
            return pid
        code = 1
        try:
            os.setsid()
            call_it(f"bittern-{part.name}")
            self.leave()
            if not part.serves:
                self.listening.close()
            end_with(parent, part.last_signal)
            code = exit_code(part)
        except BaseException:
            traceback.print_exc()
        finally:
            _flush()
            # Not sys.exit: the supervisor's own clean-up is on this stack too, and is not ours to run.
            os._exit(code)

    def _execute(self, part: Part, command: list[str]) -> int:
        log = open_log(Places(self.state), part.log) if part.log else None
        started = subprocess.Popen(
            [sys.executable, "-m", *command],
            cwd=_ROOT,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            pass_fds=[self.listening.fileno()] if part.serves else [],
            start_new_session=True,
        )
        if log is not None:
            os.close(log)
        # The supervisor collects its children by number; this object must not wait for one as well.
        started.returncode = 0
        return started.pid


def end_with(parent: int, number: signal.Signals) -> None:
    """Let this process get signal `number` when `parent` is gone, by the kernel or by a watching thread."""
    if not die_with_parent(number, parent):
        threading.Thread(target=_watch, args=(parent, number), daemon=True, name="parent-watch").start()


def _watch(parent: int, number: signal.Signals) -> None:
    while os.getppid() == parent:
        time.sleep(0.5)
    os.kill(os.getpid(), number)


def _flush() -> None:
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except (OSError, ValueError):
            continue
