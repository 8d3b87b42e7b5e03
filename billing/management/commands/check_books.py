"""Checks that invoices, payments, numbers, margins and papers agree with each other to the cent."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from billing.books import faults
from billing.models import Invoice, Payment


class Command(BaseCommand):
    help = "Checks that invoices, payments, numbers, margins and papers agree to the cent. Changes nothing."

    def handle(self, *args: Any, **options: Any) -> None:
        found = list(faults())
        for words in found:
            self.stderr.write(words)
        if found:
            raise CommandError(f"{len(found)} thing{'s' if len(found) > 1 else ''} in the books do not agree.")
        self.stdout.write(
            f"The books hold: {Invoice.objects.count()} invoices, {Payment.objects.count()} payments, "
            "every sum, number, margin and paper."
        )
