"""Runs one embedded server for as long as somebody uses it.

    python -m shop.embedded.keeper postgres STATE [--wait]

The keeper ends the server when it can take the users' lock alone: the kernel drops a user's share when that user ends,
even by kill -9. The server itself dies with its keeper (leash.py).
"""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

from shop.embedded.kinds import server
from shop.embedded.places import Places
from shop.embedded.programs import ProgramMissing
from shop.embedded.servers import EmbeddedError, keeper_lock, server_lock, users_lock

LOOK_EVERY_S = 0.1
STOP_WITHIN_S = 20.0
"""After this a server that does not stop is killed: both recover what they had acknowledged."""


class Stopped(Exception):
    """The keeper was told to end."""


def keep(name: str, state: Path) -> int:
    """Start the server and stay until it ends, nobody uses it, or a signal asks for the end. Returns an exit code."""
    places = Places(state)
    running = server_lock(places, name)
    users = users_lock(places, name, shared=False)
    signal.signal(signal.SIGTERM, _stop)
    signal.signal(signal.SIGINT, _stop)
    try:
        while not running.try_take():
            if users.try_take():
                return 0
            time.sleep(LOOK_EVERY_S)
        launch = server(name, state).prepare()
    except Stopped:
        return 0
    except (EmbeddedError, ProgramMissing, OSError) as error:
        print(error, file=sys.stderr, flush=True)  # noqa: T201
        return 1
    child = subprocess.Popen(
        launch.command, env=launch.environment, cwd="/", pass_fds=[running.fileno()], stdin=subprocess.DEVNULL
    )
    os.close(running.fileno())
    try:
        while child.poll() is None and not users.try_take():
            time.sleep(LOOK_EVERY_S)
    except Stopped:
        pass
    if child.poll() is not None:
        return 1
    _end(child, launch.stop_signal)
    return 0


def _stop(_number: int, _frame: object) -> None:
    raise Stopped


def _end(child: subprocess.Popen[bytes], stop_signal: signal.Signals) -> None:
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, signal.SIG_IGN)
    child.send_signal(stop_signal)
    try:
        child.wait(STOP_WITHIN_S)
    except subprocess.TimeoutExpired:
        child.kill()
        child.wait()


def main() -> int:
    """The keeper as a program. A second one for the same server leaves at once or, with --wait, waits its turn."""
    name, state = sys.argv[1], Path(sys.argv[2])
    sole = keeper_lock(Places(state), name)
    return keep(name, state) if sole.try_take() or "--wait" in sys.argv[3:] else 0


if __name__ == "__main__":
    sys.exit(main())
