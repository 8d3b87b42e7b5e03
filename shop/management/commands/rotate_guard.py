"""Brings guarded data under the newest key."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from shop.guarded.errors import WrongGuardKey
from shop.guarded.proof import prove_keys
from shop.guarded.rotation import rotate


class Command(BaseCommand):
    help = (
        "Re-encrypts all guarded data under the first of GUARD_KEYS. Put the new key first and keep the old one behind "
        "it until this has finished; then the old one can go. It can be stopped and run again."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            prove_keys()
            renewed = rotate(self._show)
        except WrongGuardKey as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"\n{renewed} values and files are now under the newest key. The older keys can go.")

    def _show(self, what: str, done: int, total: int) -> None:
        self.stdout.write(f"\r{what}: {done} of {total}", ending="" if done < total else "\n")
