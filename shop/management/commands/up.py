"""Runs the whole program until Ctrl-C."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shop.running.up import CannotStart, up


class Command(BaseCommand):
    """`up`: web, worker and scheduler, with database and queue where none is configured."""

    help = "Runs everything: pages, background work, and the embedded database and queue. Ctrl-C ends it."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        """The command line."""
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on; 0.0.0.0 for every network")
        parser.add_argument("--port", type=int, default=8000)
        shop = parser.add_mutually_exclusive_group()
        shop.add_argument(
            "--demo", action="store_true", help="load the demo if the shop is empty, and show its sign-ins"
        )
        shop.add_argument("--empty", action="store_true", help="start with the shop as it is (the default)")

    def handle(self, *, host: str, port: int, demo: bool, **options: Any) -> None:
        """Start the parts, say where to look, and stay."""
        try:
            up(host=host, port=port, demo=demo, say=self.stdout.write)
        except CannotStart as error:
            raise CommandError(str(error)) from error
