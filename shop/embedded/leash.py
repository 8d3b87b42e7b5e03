"""Runs a program that ends when its parent ends, as an unprivileged user where the parent is root.

    python leash.py --parent PID --signal NUMBER [--uid UID --gid GID [--reach]] -- PROGRAM ARGUMENTS

On Linux the kernel sends NUMBER when the parent dies, even by kill -9, and this process becomes the program. Elsewhere
it stays between the two, watches the parent and passes signals on. A script that imports only the standard library.
"""

import argparse
import ctypes
import os
import signal
import sys
import time
from collections.abc import Sequence

_PR_SET_PDEATHSIG, _PR_SET_KEEPCAPS, _PR_SET_NAME, _PR_CAP_AMBIENT, _PR_CAP_AMBIENT_RAISE = 1, 8, 15, 47, 2
_CAP_DAC_OVERRIDE = 1
_CAPABILITY_VERSION_3 = 0x20080522
_WATCH_EVERY_S = 0.5


def die_with_parent(signal_number: int, parent: int) -> bool:
    """Ask the kernel to send `signal_number` when `parent` dies. False where the system cannot (not Linux)."""
    if not sys.platform.startswith("linux"):
        return False
    _prctl(_PR_SET_PDEATHSIG, signal_number)
    if os.getppid() != parent:
        raise SystemExit("The parent ended before its child began.")
    return True


def call_it(name: str) -> None:
    """The name that `ps` and `top` show for this process (at most 15 letters), on Linux."""
    if sys.platform.startswith("linux"):
        shown = ctypes.create_string_buffer(name.encode()[:15])
        ctypes.CDLL(None).prctl(_PR_SET_NAME, shown, 0, 0, 0)


def become(uid: int, gid: int, *, reach: bool) -> None:
    """Give up root. With `reach` keep the one right to enter folders closed to others (Linux)."""
    if reach:
        _prctl(_PR_SET_KEEPCAPS, 1)
    os.setgroups([])
    os.setgid(gid)
    os.setuid(uid)
    if reach:
        _keep_only(_CAP_DAC_OVERRIDE)
        _prctl(_PR_CAP_AMBIENT, _PR_CAP_AMBIENT_RAISE, _CAP_DAC_OVERRIDE)


def _prctl(*arguments: int) -> None:
    library = ctypes.CDLL(None, use_errno=True)
    padded = [ctypes.c_ulong(argument) for argument in (*arguments, 0, 0, 0, 0)[1:5]]
    if library.prctl(arguments[0], *padded) != 0:
        number = ctypes.get_errno()
        raise OSError(number, os.strerror(number))


def _keep_only(capability: int) -> None:
    """Set this process's effective, permitted and inheritable capabilities to one (capset(2), version 3)."""
    header = (ctypes.c_uint32 * 2)(_CAPABILITY_VERSION_3, 0)
    bit = 1 << capability
    data = (ctypes.c_uint32 * 6)(bit, bit, bit, 0, 0, 0)
    library = ctypes.CDLL(None, use_errno=True)
    if library.capset(header, data) != 0:
        number = ctypes.get_errno()
        raise OSError(number, os.strerror(number))


def watch(program: Sequence[str], signal_number: int, parent: int) -> int:
    """Run `program` as a child until it ends, or until `parent` is gone: then end it by `signal_number`."""
    child = os.fork()
    if not child:
        os.execv(program[0], list(program))
    for passed in (signal.SIGTERM, signal.SIGINT, signal.SIGQUIT, signal.SIGHUP):
        signal.signal(passed, lambda number, _frame: os.kill(child, number))
    told = False
    while True:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status)
        if not told and os.getppid() != parent:
            os.kill(child, signal_number)
            told = True
        time.sleep(_WATCH_EVERY_S)


def main(arguments: Sequence[str]) -> int:
    """Read the command line and become the program; returns only where the parent must be watched."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--parent", type=int, required=True)
    parser.add_argument("--signal", type=int, required=True)
    parser.add_argument("--uid", type=int)
    parser.add_argument("--gid", type=int)
    parser.add_argument("--reach", action="store_true")
    parser.add_argument("--watch", action="store_true", help="watch the parent even where the kernel could")
    parser.add_argument("program", nargs="+")
    chosen = parser.parse_args(arguments)
    if chosen.uid is not None:
        become(chosen.uid, chosen.gid, reach=chosen.reach)
    if chosen.watch or not die_with_parent(chosen.signal, chosen.parent):
        return watch(chosen.program, chosen.signal, chosen.parent)
    os.execv(chosen.program[0], chosen.program)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
