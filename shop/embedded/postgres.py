"""The embedded PostgreSQL: made once, started in the state folder, reached over a socket as role `bittern`."""

import locale
import os
import pwd
import shutil
import signal
import subprocess
from pathlib import Path

from shop.embedded.owner import Owner, on_leash, server_owner
from shop.embedded.places import Places
from shop.embedded.programs import postgres_program
from shop.embedded.servers import EmbeddedError, Launch, answers, clean_environment

ROLE = DATABASE = "bittern"

_SETTINGS = {
    "listen_addresses": "",
    "unix_socket_permissions": "0700",
    "max_connections": "80",
    "shared_buffers": "48MB",
    "work_mem": "8MB",
    "maintenance_work_mem": "64MB",
    "effective_cache_size": "512MB",
    "max_wal_size": "512MB",
    "max_wal_senders": "0",
    "autovacuum_max_workers": "2",
    "max_parallel_workers_per_gather": "1",
    "random_page_cost": "1.1",
    "jit": "off",
    "fsync": "on",
    "synchronous_commit": "on",
    "timezone": "UTC",
    "log_timezone": "UTC",
    "log_min_messages": "warning",
    "log_line_prefix": "%m [%p] ",
    "log_statement": "none",
    "log_min_error_statement": "panic",
}


class Postgres:
    """PostgreSQL in one state folder."""

    name = "postgres"

    def __init__(self, places: Places) -> None:
        self._places = places
        self._owner = server_owner()

    def prepare(self) -> Launch:
        """Make the data folder the first time, and clear the marks of a killed server.

        The caller holds the server's lock, which every process of a running PostgreSQL shares: marks that are there are
        stale even where their process number lives on in some other program.
        """
        data, run = self._places.postgres_data, self._places.run
        _refuse_foreign(run, self._owner)
        self._owner.own(run)
        if not data.exists():
            self._make(data)
        self._owner.own(data)
        _check_version(data)
        for stale in (data / "postmaster.pid", run / ".s.PGSQL.5432", run / ".s.PGSQL.5432.lock"):
            stale.unlink(missing_ok=True)
        _let_in(data, self._owner)
        command = [str(postgres_program("postgres")), "-D", str(data), "-k", str(run), "-p", "5432"]
        for name, value in _settings(data).items():
            command += ["-c", f"{name}={value}"]
        leashed = on_leash(command, self._owner, signal.SIGINT, data, run)
        return Launch(leashed, signal.SIGINT, clean_environment())

    def is_ready(self) -> bool:
        """Whether recovery is over and sessions are accepted (the server's own mark, and its socket)."""
        try:
            lines = (self._places.postgres_data / "postmaster.pid").read_text().splitlines()
        except OSError:
            return False
        return len(lines) > 7 and lines[7].strip() == "ready" and answers(self._places.postgres_socket)

    def _make(self, data: Path) -> None:
        """initdb with our role and database, in a folder that gets its name only when complete."""
        unfinished = data.with_name("postgres.making")
        shutil.rmtree(unfinished, ignore_errors=True)
        self._owner.own(unfinished)
        character_type = _character_type()
        self._run(
            [
                *(str(postgres_program("initdb")), "-D", str(unfinished), "-U", "postgres", "--encoding=UTF8"),
                *(f"--locale={character_type}", "--lc-messages=C", "--auth=peer", "--no-instructions"),
                "--text-search-config=simple",
            ],
            unfinished,
        )
        self._run(
            [str(postgres_program("postgres")), "--single", "-D", str(unfinished), "template1"],
            unfinished,
            f"CREATE ROLE {ROLE} LOGIN CREATEDB;\nCREATE DATABASE {DATABASE} OWNER {ROLE};\n",
        )
        unfinished.rename(data)

    def _run(self, command: list[str], data: Path, typed: str = "") -> None:
        done = subprocess.run(
            on_leash(command, self._owner, signal.SIGTERM, data),
            input=typed,
            capture_output=True,
            text=True,
            env=clean_environment(),
            cwd="/",
            check=False,
        )
        if done.returncode or "ERROR:" in done.stderr or "FATAL:" in done.stderr:
            raise EmbeddedError(f"PostgreSQL could not make its data folder {data}:\n{done.stderr.strip()}")


def _settings(data: Path) -> dict[str, str]:
    """Our settings; from version 18 on, reading in the server's own processes (three fewer to keep in memory)."""
    if int(_version(data)) >= 18:
        return {**_SETTINGS, "io_method": "sync"}
    return _SETTINGS


def _version(data: Path) -> str:
    return (data / "PG_VERSION").read_text().strip()


def _check_version(data: Path) -> None:
    """Refuse data of another major version: PostgreSQL would, but in words of no use to a shop."""
    made = _version(data)
    program = subprocess.run([postgres_program("postgres"), "--version"], capture_output=True, text=True, check=True)
    found = program.stdout.split()[2].split(".")[0]
    if made != found:
        raise EmbeddedError(
            f"The data in {data} was made by PostgreSQL {made}, but the program found is PostgreSQL {found}. Install "
            "the version that fits (BITTERN_POSTGRES_BIN names the folder of its programs), make a backup with it, and "
            "restore it."
        )


def _let_in(data: Path, owner: Owner) -> None:
    """Only the user who starts the server may be role `bittern`; that name may change when the folder moves."""
    starter = pwd.getpwuid(os.getuid()).pw_name
    lines = {
        "pg_hba.conf": "local all all peer map=bittern\n",
        "pg_ident.conf": f'bittern "{starter}" {ROLE}\nbittern "{starter}" postgres\n',
    }
    for name, line in lines.items():
        file = data / name
        if not file.exists() or file.read_text() != line:
            file.write_text(line)
            file.chmod(0o600)
            os.chown(file, owner.uid, owner.gid)


def _refuse_foreign(run: Path, owner: Owner) -> None:
    """A socket folder in /tmp that somebody else made first is not ours to use."""
    if run.exists() and run.stat().st_uid not in {os.getuid(), owner.uid}:
        raise EmbeddedError(
            f"The folder {run} belongs to another user. Remove it, or set BITTERN_STATE to a shorter path."
        )


def _character_type() -> str:
    """A UTF-8 locale that this system has, so that letters beyond ASCII count as letters in a search."""
    before = locale.setlocale(locale.LC_CTYPE)
    try:
        for name in ("C.UTF-8", "C.utf8", "en_US.UTF-8", "UTF-8"):
            try:
                locale.setlocale(locale.LC_CTYPE, name)
            except locale.Error:
                continue
            return name
    finally:
        locale.setlocale(locale.LC_CTYPE, before)
    raise EmbeddedError(
        "This system has no UTF-8 locale. On Debian: apt-get install locales, then dpkg-reconfigure locales."
    )
