"""The database and queue of the test session, and its static files."""

import os
import shutil
from collections.abc import Generator
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command

from shop.embedded import hold
from shop.embedded.servers import Lock, server_lock


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix: None) -> None:
    """Start the servers and collect static files before the first test database is made."""
    if not settings.REDIS_URL:
        hold("broker", state=settings.STATE)
    if not os.environ["DATABASE_URL"]:
        hold("postgres", state=settings.STATE)
    _collect_static_once()


def _collect_static_once() -> None:
    once = Lock(settings.PLACES.locks / "static")
    once.take()
    if not (Path(settings.STATIC_ROOT) / "staticfiles.json").exists():
        call_command("collectstatic", interactive=False, verbosity=0)
    once.drop()


@pytest.hookimpl(trylast=True)
def pytest_unconfigure(config: pytest.Config) -> None:
    """The session's first process removes the temporary state folder, once its servers have ended."""
    if hasattr(config, "workerinput"):
        return
    from shop.embedded.hold import drop_all

    drop_all()
    for name in ("postgres", "broker"):
        running = server_lock(settings.PLACES, name)
        running.take()
        running.drop()
    shutil.rmtree(settings.STATE, ignore_errors=True)
    if settings.PLACES.run.is_dir():
        shutil.rmtree(settings.PLACES.run, ignore_errors=True)


@pytest.fixture
def state(tmp_path: Path) -> Generator[Path]:
    """An empty state folder for a program of its own; checked at the end to have no process left in it."""
    folder = tmp_path / "state"
    folder.mkdir()
    yield folder
    for name in ("postgres", "broker"):
        lock = server_lock(settings.PLACES.__class__(folder), name)
        assert lock.try_take(), f"{name} still runs in {folder}"
        lock.drop()
