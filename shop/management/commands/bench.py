"""Measures the program and compares it with its bounds."""

import os
import shutil
import sys
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.module_loading import autodiscover_modules

from shop.bench.program import Program
from shop.bench.registry import Figure, Result, figures
from shop.bench.run import Bench
from shop.embedded.places import Places
from shop.embedded.servers import server_lock


class Command(BaseCommand):
    """`bench`: on a state folder of its own, so that the shop's data is neither used nor touched."""

    help = "Measures the figures on a throw-away shop and prints: figure, bound, measured, holds."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        """The command line."""
        parser.add_argument("--only", default="", help="measure only figures whose name holds these words")
        parser.add_argument("--list", action="store_true", help="name the figures and measure nothing")

    def handle(self, *, only: str, list: bool, **options: Any) -> None:
        """Measure, print, and fail when a bound does not hold."""
        import shop.bench.starts  # noqa: F401

        autodiscover_modules("figures")
        chosen = [one for one in sorted(figures, key=lambda one: one.order) if only.lower() in one.name.lower()]
        if list:
            self.stdout.write("\n".join(f"{one.name:<60} {one.bound}" for one in chosen))
            return
        if not os.environ.get("BITTERN_BENCH"):
            _again_on_own_state()
        bench = Bench(program := Program())
        self.stdout.write(f"first start, everything installed: {program.start():.1f} s\n\n")
        self.stdout.write(_row("figure", "bound", "measured", "holds"))
        try:
            failed = [one.name for one in chosen if not self._measure(one, bench)]
        finally:
            program.stop()
        if failed:
            raise CommandError(f"{len(failed)} of {len(chosen)} figures do not hold.")

    def _measure(self, one: Figure, bench: Bench) -> bool:
        try:
            result = one.measure(bench)
        except Exception as error:
            # One figure that cannot be taken must not hide the others.
            result = Result(f"not measured: {type(error).__name__}: {str(error)[:160]}", False)
        words = {True: "yes", False: "NO", None: "-"}[result.holds]
        self.stdout.write(_row(one.name, one.bound, result.measured, words))
        self.stdout.flush()
        return result.holds is not False


def _row(name: str, bound: str, measured: str, holds: str) -> str:
    return f"{name:<52} | {bound:<32} | {holds:<5} | {measured}"


def _again_on_own_state() -> None:
    """Become the same command with the bench's state folder, made anew, and the embedded servers."""
    folder = settings.STATE / "bench"
    if not server_lock(Places(folder), "postgres").try_take():
        raise CommandError("Another bench is running.")
    shutil.rmtree(folder, ignore_errors=True)
    os.environ |= {"BITTERN_STATE": str(folder), "BITTERN_BENCH": "1", "DATABASE_URL": "", "REDIS_URL": ""}
    os.environ |= {"BITTERN_LOG_LEVEL": "WARNING", "BITTERN_DEBUG": "no"}
    sys.stdout.flush()
    os.execv(sys.executable, [sys.executable, *sys.argv])
