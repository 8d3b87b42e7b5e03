"""The kinds of embedded servers by name, and their logs."""

import os
from pathlib import Path

from shop.embedded.broker import Broker
from shop.embedded.places import Places
from shop.embedded.postgres import Postgres
from shop.embedded.servers import Server

_LOG_LIMIT = 5_000_000
_KINDS: dict[str, type[Postgres] | type[Broker]] = {"postgres": Postgres, "broker": Broker}


def server(name: str, state: Path) -> Server:
    """The server called `name` (`postgres` or `broker`) in the state folder."""
    return _KINDS[name](Places(state))


def open_log(places: Places, name: str) -> int:
    """The log file called `name`, open for appending; begun anew when it has grown large."""
    places.logs.mkdir(parents=True, exist_ok=True)
    file = places.logs / f"{name}.log"
    if file.exists() and file.stat().st_size > _LOG_LIMIT:
        file.replace(file.with_suffix(".log.1"))
    return os.open(file, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC, 0o600)


def log_tail(places: Places, name: str) -> str:
    """The last lines of a server's log, with the file's name before them."""
    file = places.logs / f"{name}.log"
    lines = file.read_text(errors="replace").splitlines() if file.exists() else []
    return f"The end of {file}:\n" + "\n".join(lines[-8:])
