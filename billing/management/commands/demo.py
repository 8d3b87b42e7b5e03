"""Loads the demo: an invented shop with ninety days behind it."""

from argparse import ArgumentParser
from time import monotonic
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from billing.demo import base
from billing.demo.build import build
from shop.models import Shop
from shop.staff.models import Person


class Command(BaseCommand):
    help = "Loads the demo into an empty shop. Run again it changes nothing; with --afresh it starts over, dated today."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--afresh", action="store_true", help="Throw the demo away and load it again, dated today.")

    def handle(self, *args: Any, **options: Any) -> None:
        is_demo = Person.objects.filter(email=base.OWNER[1]).exists()
        if Person.objects.exists() and not is_demo:
            raise CommandError(
                "This shop has people of its own; the demo is only for an empty one. Nothing was changed."
            )
        if is_demo and not options["afresh"]:
            self.stdout.write("The demo is already loaded. `demo --afresh` starts it over, dated today.")
        else:
            if is_demo:
                call_command("flush", interactive=False, verbosity=0)
                Shop.forget()
            self._load()
        self._sign_ins()

    def _load(self) -> None:
        started = monotonic()
        self.stdout.write("Telling ninety days of an invented shop ...")
        build(timezone.now())
        self.stdout.write(f"Done in {monotonic() - started:.0f} s.")

    def _sign_ins(self) -> None:
        self.stdout.write(f"Sign in with the password {base.PASSWORD} as:")
        people = [("owner", base.OWNER), *(("office", each) for each in base.OFFICE)]
        people += [("technician", each[:2]) for each in base.TECHNICIANS]
        for role, (name, email) in people:
            self.stdout.write(f"  {role:<11} {email:<32} {name}")
