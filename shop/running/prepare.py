"""What must be true before the first page: tables up to date, static files collected, a demo where one is asked for."""

import hashlib
import pkgutil
from collections.abc import Callable
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.checks import run_checks
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection

from shop.guarded.errors import WrongGuardKey
from shop.guarded.proof import prove_keys

_MARK = ".collected"


def prepare(*, demo: bool, say: Callable[[str], object]) -> None:
    """Do what is not done yet; nothing when nothing changed since the last start.

    Raises:
        CommandError: a field has no retention decision, the database was made by a newer version of the program, or
            the guard's keys are not its own.
    """
    check_retention()
    migrate_when_needed()
    prove_guard_keys()
    collect_static_when_needed()
    if demo:
        load_demo(say)


def check_retention() -> None:
    """Refuse to serve a program that would keep something of which nobody has decided how long."""
    if faults := run_checks(tags=["retention"]):
        raise CommandError("\n".join(str(fault.msg) for fault in faults))


def migrate_when_needed() -> None:
    """Apply the migrations that the database lacks."""
    known, applied = _known_migrations(), _applied_migrations()
    ours = {config.label for config in apps.get_app_configs() if _is_ours(config.path)}
    if ahead := sorted(f"{app}.{name}" for app, name in applied - known if app in ours):
        raise CommandError(
            f"The database has changes that this version of the program does not know ({ahead[-1]}). "
            "Update the program, or restore a backup made by this version into an empty state folder."
        )
    if known - applied:
        call_command("migrate", interactive=False, verbosity=0)


def prove_guard_keys() -> None:
    """Refuse to serve with keys that do not open the shop's guarded data."""
    try:
        prove_keys()
    except WrongGuardKey as error:
        raise CommandError(str(error)) from error


def _is_ours(path: str) -> bool:
    return Path(path).is_relative_to(settings.ROOT) and ".venv" not in Path(path).parts


def _known_migrations() -> set[tuple[str, str]]:
    found = set()
    for config in apps.get_app_configs():
        folder = Path(config.path) / "migrations"
        if folder.is_dir():
            names = (module.name for module in pkgutil.iter_modules([str(folder)]) if module.name[0] not in "_~")
            found |= {(config.label, name) for name in names}
    return found


def _applied_migrations() -> set[tuple[str, str]]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT to_regclass('django_migrations') IS NOT NULL")
        if not cursor.fetchone()[0]:
            return set()
        cursor.execute("SELECT app, name FROM django_migrations")
        return set(cursor.fetchall())


def collect_static_when_needed() -> None:
    """Collect and compress static files when one was added, removed or changed."""
    mark = Path(settings.STATIC_ROOT) / _MARK
    wanted = _static_fingerprint()
    if mark.exists() and mark.read_text() == wanted:
        return
    call_command("collectstatic", interactive=False, clear=True, verbosity=0)
    mark.write_text(wanted)


def _static_fingerprint() -> str:
    """Names, sizes and times of every static file of the program and its packages."""
    digest = hashlib.sha256(repr(settings.STORAGES["staticfiles"]).encode())
    for finder in get_finders():
        for path, storage in finder.list([]):
            facts = Path(storage.path(path)).stat()
            digest.update(f"{path}\0{facts.st_size}\0{facts.st_mtime_ns}\n".encode())
    return digest.hexdigest()


def load_demo(say: Callable[[str], object]) -> None:
    """Load the demo into an empty shop and show its sign-ins; a shop with people of its own stays as it is."""
    try:
        call_command("demo")
    except CommandError as error:
        say(str(error))
