"""Shows whether the estimates of time on site hold, and stores them."""

from argparse import ArgumentParser
from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from billing.prices import usual_minutes
from jobs.actions import store_estimates
from jobs.estimates import LEARNED_FROM, finished_visits
from jobs.states import KindOfWork
from vehicles.estimates import CheckLine, check_held_out, check_shops
from vehicles.estimates.invented import USUAL, invented_visits

HELD_OUT = timedelta(days=30)
FEW = 30
LEAST, MOST = 0.75, 0.85
LEARNED, FORETOLD, SEEDS = (150, 500, 2000), 400, range(1, 7)
HEAD = f"  {'kind of work':<28}{'jobs':>6}{'in range':>10}{'below':>8}{'above':>8}{'error':>9}{'plain':>9}{'gain':>7}"


class Command(BaseCommand):
    help = (
        "Foretells jobs that were not learned from: how many of them the 80 % range holds, and the mean error in "
        "minutes beside that of the plain average of each kind of work. With --store the estimates are worked out anew "
        "and kept."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--store", action="store_true", help="Work the estimates out anew now, and keep them.")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["store"]:
            self.stdout.write(f"{store_estimates(usual=usual_minutes())} rows kept.")
            return
        for count in LEARNED:
            made = [invented_visits(count + FORETOLD, seed=seed) for seed in SEEDS]
            self.stdout.write(
                f"{len(SEEDS)} invented shops, times made in a way the model does not know: {count} visits learned from"
            )
            self._table(check_shops([(each[:count], each[count:]) for each in made], usual=USUAL))
        self._own_history()

    def _own_history(self) -> None:
        now = timezone.now()
        split = now - HELD_OUT
        seen, held_out = finished_visits(split - LEARNED_FROM, split), finished_visits(split, now)
        self.stdout.write(f"This shop's last {HELD_OUT.days} days: {len(seen)} earlier visits learned from")
        if not held_out:
            self.stdout.write("  No visit was finished in them.")
            return
        self._table(check_held_out(seen, held_out, usual=usual_minutes()))

    def _table(self, lines: Sequence[CheckLine]) -> None:
        self.stdout.write(HEAD)
        for line in lines:
            name = KindOfWork(line.kind).label if line.kind else "all"
            self.stdout.write(f"  {name:<28}{_figures(line)}")
        self.stdout.write(f"  {_verdict(lines[-1])}\n\n")


def _figures(line: CheckLine) -> str:
    shares = (f"{100 * count / line.jobs:.0f} %" for count in (line.inside, line.below, line.above))
    inside, below, above = shares
    errors = f"{line.error:>5.1f} min{line.plain_error:>5.1f} min{100 * line.gain:>5.0f} %"
    return f"{line.jobs:>6}{inside:>10}{below:>8}{above:>8}{errors}"


def _verdict(line: CheckLine) -> str:
    held = "hold" if LEAST <= line.coverage <= MOST else "do not hold"
    better = "smaller" if line.error < line.plain_error else "not smaller"
    few = f" Only {line.jobs} jobs: chance weighs much." if line.jobs < FEW else ""
    return f"The ranges {held} (75 to 85 %), the error is {better} than the plain average's.{few}"
