"""Throws away everything the program keeps."""

import shutil
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from shop.embedded.servers import Lock, server_lock


class Command(BaseCommand):
    """`clean_state`: an empty state folder, for developers."""

    help = "Deletes the state folder: database, queue, files, keys. Asks first."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        """The command line."""
        parser.add_argument("--yes", action="store_true", help="do not ask")

    def handle(self, *, yes: bool, **options: Any) -> None:
        """Delete the folder unless the program runs on it."""
        locks = [
            Lock(settings.PLACES.locks / "up"),
            *(server_lock(settings.PLACES, name) for name in ("postgres", "broker")),
        ]
        if not all(lock.try_take() for lock in locks):
            raise CommandError(f"Bittern runs on {settings.STATE}. End it first.")
        if not yes and input(f"Delete {settings.STATE} with all its data? Type yes: ") != "yes":
            raise CommandError("Nothing was deleted.")
        shutil.rmtree(settings.STATE)
        shutil.rmtree(settings.PLACES.run, ignore_errors=True)
        self.stdout.write(f"Deleted {settings.STATE}.")
