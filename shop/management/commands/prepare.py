"""Makes the database and the static files ready, for those who start the parts themselves."""

from typing import Any

from django.core.management.base import BaseCommand

from shop.running.prepare import prepare


class Command(BaseCommand):
    """`prepare`: what `up` does before it serves."""

    help = "Applies missing migrations and collects static files; does nothing when nothing changed."
    requires_system_checks: list[str] = []

    def handle(self, **options: Any) -> None:
        """Prepare without a demo."""
        prepare(demo=False, say=self.stdout.write)
