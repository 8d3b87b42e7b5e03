"""The life of the running program, from the first check to the last part's end."""

import errno
import os
import socket
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

from django.conf import settings
from django.core.management.base import CommandError

from shop.embedded.hold import Hold
from shop.embedded.kinds import log_tail, server
from shop.embedded.servers import Lock
from shop.running.parts import Part, all_parts
from shop.running.prepare import prepare
from shop.running.servers import own_servers
from shop.running.starting import FORKS, Starter
from shop.running.supervisor import Supervisor
from shop.running.warm import finish, warm, warm_background

READY_WITHIN_S = 60.0
LAST_RUN_ENDS_WITHIN_S = 40.0
Say = Callable[[str], object]


class CannotStart(Exception):
    """The program cannot start; the words say why and what to do."""


def up(*, host: str, port: int, demo: bool, say: Say) -> None:
    """Run everything until the end is asked for.

    Raises:
        CannotStart: it runs already, the port is taken, or a server or the preparation fails.
    """
    address = f"http://{'localhost' if host in {'127.0.0.1', '0.0.0.0', '::'} else host}:{port}/"
    sole = _be_the_only_one(address, say)
    with _listen(host, port) as listening:
        run = _Run(listening, [Hold(name, settings.STATE) for name in own_servers()], say)
        try:
            run.start(demo=demo)
            if not run.supervisor.is_ending:
                say(f"\nBittern is at {address}\nCtrl-C ends it.")
            run.supervisor.run()
        finally:
            run.supervisor.end(release=run.let_go)
    sole.drop()


@dataclass
class _Run:
    listening: socket.socket
    shares: list[Hold]
    say: Say

    def __post_init__(self) -> None:
        self.supervisor = Supervisor(start=lambda part: starter(part), say=self._warn)
        starter = Starter(settings.STATE, self.listening, self.supervisor.leave)
        self.supervisor.listen()

    def start(self, *, demo: bool) -> None:
        """Servers; then, side by side, the preparation and the loading of the program; then pages, and the rest."""
        parts = all_parts(self.listening, settings.STATE, own_servers())
        self.supervisor.add([part for part in parts if part.log])
        self._wait_for_servers()
        preparing = Part("preparation", lambda: self._prepare(demo=demo), once=True)
        self.supervisor.add([preparing])
        if FORKS:
            warm()
        self._wait_for(preparing)
        if FORKS:
            finish()
        self._add([part for part in parts if part.serves])
        if FORKS:
            warm_background()
        self._add([part for part in parts if not part.serves and not part.log])

    def _add(self, parts: list[Part]) -> None:
        if not self.supervisor.is_ending:
            self.supervisor.add(parts)

    def _wait_for_servers(self) -> None:
        deadline = time.monotonic() + READY_WITHIN_S
        waiting = [server(name, settings.STATE) for name in own_servers()]
        while waiting and not self.supervisor.is_ending:
            self.supervisor.step(0.02)
            waiting = [one for one in waiting if not one.is_ready()]
            for one in waiting:
                if self.supervisor.codes.get(one.name) or time.monotonic() > deadline:
                    raise CannotStart(f"{one.name} cannot run. {log_tail(settings.PLACES, one.name)}")

    def _wait_for(self, part: Part) -> None:
        while part.name not in self.supervisor.codes and not self.supervisor.is_ending:
            self.supervisor.step(1.0)
        if self.supervisor.codes.get(part.name) and not self.supervisor.is_ending:
            raise CannotStart("Not started: the preparation failed, see above.")

    def _prepare(self, *, demo: bool) -> int:
        try:
            prepare(demo=demo, say=self.say)
        except CommandError as error:
            self._warn(str(error))
            return 1
        return 0

    def let_go(self) -> None:
        """Give back the shares in the embedded servers."""
        for share in self.shares:
            share.drop()

    def _warn(self, words: str) -> None:
        print(words, file=sys.stderr, flush=True)  # noqa: T201


def _be_the_only_one(address: str, say: Say) -> Lock:
    """The lock of the running program. Waits for the parts of a run whose supervisor was killed."""
    path = settings.PLACES.locks / "up"
    sole = Lock(path)
    deadline = time.monotonic() + LAST_RUN_ENDS_WITHIN_S
    told = False
    while not sole.try_take():
        pid, _, running_at = path.read_text().partition(" ")
        if time.monotonic() > deadline or (pid.isdigit() and _lives(int(pid))):
            raise CannotStart(
                f"Bittern already runs with the state folder {settings.STATE}, at {running_at or 'some address'} "
                f"(process {pid}). End it first, or give this one a folder of its own: BITTERN_STATE=/some/folder."
            )
        if not told:
            say("Waiting for the parts of the last run to end.")
            told = True
        time.sleep(0.1)
    path.write_text(f"{os.getpid()} {address}")
    return sole


def _lives(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def _listen(host: str, port: int) -> socket.socket:
    try:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        return socket.create_server((host, port), family=family, backlog=512)
    except OSError as error:
        if error.errno == errno.EADDRINUSE:
            raise CannotStart(
                f"Port {port} is in use by another program. Choose another: make run PORT={port + 1}, "
                f"or python manage.py up --port {port + 1}."
            ) from error
        raise CannotStart(f"Cannot listen on {host} port {port}: {error.strerror}.") from error
