"""Checks the chain of openings of guarded data."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from jobs.actions.openings import numbers_given_out, sign
from jobs.models import Opening
from jobs.opening_chain import verify_openings


class Command(BaseCommand):
    help = "Proves that no opening of guarded data was altered, removed or put elsewhere. Ends with 1 when one was."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--noted", default="", help="A hash noted earlier, which must still be in the chain.")

    def handle(self, *args: Any, **options: Any) -> None:
        links = Opening.objects.as_links()
        found = [each.words for each in verify_openings(links, given_out=numbers_given_out(), sign=sign)]
        noted = options["noted"].strip().lower()
        if noted and noted not in {link.hash for link in links}:
            found.append("The hash that was noted is no longer in the chain.")
        if found:
            raise CommandError("\n".join(found))
        self.stdout.write(f"{len(links)} openings, none altered or removed.")
        if links:
            last = max(links, key=lambda link: link.number)
            self.stdout.write(f"Note the last hash and keep it elsewhere: {last.hash}")
