"""Starts parts, starts again the ones that die, and ends them in order."""

import os
import select
import signal
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from types import FrameType

from shop.running.parts import Part

STEADY_AFTER_S = 10.0
"""A part that lived this long is started again at once when it dies; a younger one after a growing wait."""
FIRST_WAIT_S, LONGEST_WAIT_S = 0.25, 5.0
END_WITHIN_S = 10.0
"""Parts that have not ended by then are killed."""
SERVER_END_WITHIN_S = 15.0

Starter = Callable[[Part], int]
"""Starts a part as a process and returns its number."""


@dataclass
class _Running:
    part: Part
    pid: int = 0
    started_at: float = 0.0
    wait_s: float = 0.0
    due_at: float = 0.0


@dataclass
class Supervisor:
    """Only waits: for signals, for parts that die, and for the time to start one again."""

    start: Starter
    say: Callable[[str], None]
    codes: dict[str, int] = field(default_factory=dict)
    """The last exit code of every part that ended (negative: the signal that ended it)."""
    _running: dict[str, _Running] = field(default_factory=dict)
    _ending: bool = False
    _asked_twice: bool = False
    _bell: tuple[int, int] = (-1, -1)

    def listen(self) -> None:
        """Take over the signals: SIGTERM, SIGINT (Ctrl-C) and SIGHUP (a closed terminal) end the program."""
        self._bell = os.pipe()
        for end in self._bell:
            os.set_blocking(end, False)
        signal.set_wakeup_fd(self._bell[1], warn_on_full_buffer=False)
        signal.signal(signal.SIGCHLD, lambda _number, _frame: None)
        for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
            signal.signal(number, self._end_asked)

    def leave(self) -> None:
        """In a forked child: nothing of the supervisor's signals and pipe stays."""
        signal.set_wakeup_fd(-1)
        for number in (signal.SIGCHLD, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, signal.SIG_DFL)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        for end in self._bell:
            os.close(end)

    @property
    def is_ending(self) -> bool:
        """Whether the end was asked for."""
        return self._ending

    def add(self, parts: Sequence[Part]) -> None:
        """Start parts and keep them running."""
        for part in parts:
            self._running[part.name] = _Running(part)
            self._begin(self._running[part.name])

    def step(self, longest_s: float) -> None:
        """Wait at most `longest_s` for something to happen and deal with it."""
        now = time.monotonic()
        self._sleep(max(0.0, min([longest_s, *(one.due_at - now for one in self._dead())])))
        self._reap()
        now = time.monotonic()
        for one in self._dead():
            if not self._ending and one.due_at <= now:
                self._begin(one)

    def run(self) -> None:
        """Keep the parts running until the end is asked for."""
        while not self._ending:
            self.step(60.0)

    def end(self, *, release: Callable[[], None]) -> None:
        """End pages and tasks, then let go of the servers by `release`: they end when nobody else uses them."""
        self._ending = True
        users = [one for one in self._running.values() if not one.part.log]
        self._tell(users, signal.SIGTERM)
        self._wait(users, END_WITHIN_S)
        self._tell(users, signal.SIGKILL)
        self._wait(users, END_WITHIN_S)
        release()
        servers = [one for one in self._running.values() if one.part.log]
        self._wait(servers, SERVER_END_WITHIN_S)
        for one in servers:
            if one.pid:
                self.say(f"{one.part.name} goes on for another command that uses it.")

    def _tell(self, group: list[_Running], number: signal.Signals) -> None:
        for one in group:
            if one.pid:
                os.kill(one.pid, number)

    def _wait(self, group: list[_Running], within_s: float) -> None:
        """Until all have ended, the time is over, or the end is asked for again."""
        self._asked_twice = False
        deadline = time.monotonic() + within_s
        while True:
            self._reap()
            if not any(one.pid for one in group) or time.monotonic() > deadline or self._asked_twice:
                return
            self._sleep(0.5)

    def _dead(self) -> list[_Running]:
        return [one for one in self._running.values() if not one.pid and not one.part.once]

    def _begin(self, one: _Running) -> None:
        one.started_at = time.monotonic()
        one.pid = self.start(one.part)

    def _sleep(self, seconds: float) -> None:
        ready, _, _ = select.select([self._bell[0]], [], [], seconds)
        if ready:
            os.read(self._bell[0], 4096)

    def _reap(self) -> None:
        """Collect every child that has ended; unknown ones are grandchildren that came to us."""
        while True:
            try:
                pid, status = os.waitpid(-1, os.WNOHANG)
            except ChildProcessError:
                return
            if not pid:
                return
            for one in self._running.values():
                if one.pid == pid:
                    self._note_death(one, os.waitstatus_to_exitcode(status))

    def _note_death(self, one: _Running, code: int) -> None:
        one.pid = 0
        self.codes[one.part.name] = code
        if self._ending or one.part.once:
            return
        now = time.monotonic()
        if now - one.started_at >= STEADY_AFTER_S:
            one.wait_s = 0.0
        one.due_at = now + one.wait_s
        how = f"was ended by {signal.Signals(-code).name}" if code < 0 else f"ended with code {code}"
        self.say(f"{one.part.name} {how}; starting it again{f' in {one.wait_s:g} s' if one.wait_s else ''}.")
        one.wait_s = min(LONGEST_WAIT_S, max(FIRST_WAIT_S, one.wait_s * 2))

    def _end_asked(self, _number: int, _frame: FrameType | None) -> None:
        self._asked_twice = self._ending
        self._ending = True


def exit_code(part: Part) -> int:
    """What the part ends with, as a process's exit code."""
    try:
        return part.run() if part.run else 0
    except SystemExit as ended:
        if isinstance(ended.code, str):
            print(ended.code, file=sys.stderr)  # noqa: T201
            return 1
        return ended.code or 0
    except KeyboardInterrupt:
        return 0
