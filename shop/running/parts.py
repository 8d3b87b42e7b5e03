"""The parts of the running program, each as a function that runs until it is told to end."""

import signal
import socket
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

WEB_PROCESSES = 2
"""One alone served a third of what two did while streams were open."""
GRACE_S = 3
"""How long an open page or stream may go on after the end is asked for."""


@dataclass(frozen=True)
class Part:
    """A part: its name, what it runs, and the signal that ends it when the supervisor was killed."""

    name: str
    run: Callable[[], int] | None = None
    command: tuple[str, ...] = ()
    """In place of `run`, a module to run as a small program of its own, and its arguments."""
    last_signal: signal.Signals = signal.SIGTERM
    serves: bool = False
    """Whether it answers on the program's port."""
    log: str = ""
    """For an embedded server, the name of its log file; the others speak on the terminal."""
    once: bool = False
    """Whether its end is its purpose: it is not started again."""


def web(listening: socket.socket) -> int:
    """Serve pages on a socket that is already listening and that other processes share."""
    import uvicorn
    from django.conf import settings
    from django.db import connection

    connection.ensure_connection()
    connection.close()
    config = uvicorn.Config(
        "shop.asgi:application",
        log_level="warning",
        access_log=False,
        lifespan="off",
        server_header=False,
        forwarded_allow_ips=settings.PROXIES,
        timeout_graceful_shutdown=GRACE_S,
    )
    uvicorn.Server(config).run(sockets=[listening])
    return 0


def worker() -> int:
    """Do the tasks of the queue, one at a time, in a child process that may be lost without harm."""
    from shop.celery import app

    # Celery warns a root user of pickled messages; ours are JSON.
    warnings.filterwarnings("ignore", message="You're running the worker with superuser privileges")
    started = app.Worker(
        concurrency=1, loglevel="WARNING", without_gossip=True, without_mingle=True, without_heartbeat=True, quiet=True
    )
    started.start()
    return int(started.exitcode or 0)


def beat() -> int:
    """Send the tasks of shop/schedules.py when their time comes."""
    from shop.celery import app

    app.Beat(loglevel="WARNING", quiet=True).run()
    return 0


def all_parts(listening: socket.socket, state: Path, own_servers: tuple[str, ...]) -> list[Part]:
    """Every part in the order of starting; they end in the opposite order.

    An embedded server has no last signal: when the supervisor is killed, it ends after the last part that uses it.
    """
    servers = [
        Part(name, command=("shop.embedded.keeper", name, str(state), "--wait"), log=name) for name in own_servers
    ]
    pages = [Part(f"web-{number + 1}", lambda: web(listening), serves=True) for number in range(WEB_PROCESSES)]
    background = [Part("worker", worker, last_signal=signal.SIGQUIT), Part("scheduler", beat)]
    return [*servers, *pages, *background]
