"""Where the embedded servers keep their data, sockets, locks and logs."""

import hashlib
import os
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

SOCKET_PATH_LIMIT = 100
"""Bytes of a Unix socket's path that every system allows (Linux 107, macOS 103), with a margin."""
_LONGEST_SOCKET_NAME = ".s.PGSQL.5432.lock"


def run_folder(state: Path) -> Path:
    """The folder of the sockets: `run` in the state folder or, where that path is too long for one, in /tmp."""
    folder = state / "run"
    if len(os.fsencode(folder / _LONGEST_SOCKET_NAME)) <= SOCKET_PATH_LIMIT:
        return folder
    key = hashlib.sha256(os.fsencode(state)).hexdigest()[:16]
    return Path("/tmp") / f"bittern-{os.getuid()}-{key}"


@dataclass(frozen=True)
class Places:
    """The files of one state folder that the embedded servers use."""

    state: Path

    @cached_property
    def run(self) -> Path:
        """Sockets; only the servers' own user may enter."""
        return run_folder(self.state)

    @property
    def postgres_data(self) -> Path:
        """PostgreSQL's data folder."""
        return self.state / "postgres"

    @property
    def postgres_socket(self) -> Path:
        """PostgreSQL's socket; its folder is the `host` of a connection."""
        return self.run / ".s.PGSQL.5432"

    @property
    def broker_data(self) -> Path:
        """The folder of the queue's append-only file."""
        return self.state / "broker"

    @property
    def broker_socket(self) -> Path:
        """The queue's socket."""
        return self.run / "broker.sock"

    @property
    def locks(self) -> Path:
        """Files whose locks say who runs and who uses a server."""
        return self.state / "locks"

    @property
    def logs(self) -> Path:
        """What the servers and their keepers say."""
        return self.state / "logs"
