"""Figures of the whole program: its starts, its memory, its recovery."""

import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

import redis
from django.contrib.auth import get_user_model
from django.db import connection
from kombu.exceptions import OperationalError

from shop.bench.asking import Asker
from shop.bench.baselines import BENCH_PATH
from shop.bench.program import until
from shop.bench.registry import Result, figure
from shop.bench.run import Bench, baseline_ask
from shop.celery import app
from shop.models import SentForm

ON_LINUX = sys.platform.startswith("linux")
PARTS = ("bittern-web-1", "bittern-worker", "bittern-schedul", "postgres", "valkey-server")
BACK_WITHIN_S = 10.0


@figure("second start, to the first page", bound="5 s", order=0)
def second_start(bench: Bench) -> Result:
    """The best hope of three is no measure: the worst of three."""
    times = []
    for _ in range(3):
        bench.program.stop()
        times.append(bench.program.start())
    return Result(f"{max(times):.1f} s (worst of 3; best {min(times):.1f} s)", max(times) <= 5)


@figure("idle memory of everything, proportional set size", bound="450 MB", order=1)
def idle_memory(bench: Bench) -> Result:
    """After some pages from every web process, at rest."""
    if not ON_LINUX:
        return Result("only measured on Linux", None)
    for _ in range(40):
        bench.program.serves()
    time.sleep(3)
    used = bench.program.memory_mb()
    return Result(f"{used:.0f} MB in {len(bench.program.parts())} processes", used <= 450)


@figure("a row committed, p95 (B2, for reference)", bound="-", order=2)
def reference(bench: Bench) -> Result:
    """What the machine can do today: the plain baselines."""
    someone = bench.once("someone", lambda: get_user_model().objects.create(email="bench@shop.example", name="Bench"))
    text, row = bench.side_by_side(baseline_ask("B0"), baseline_ask("B2"), person=someone)
    return Result(
        f"B0 {text.p95:.1f} ms (median {text.median:.1f}), B2 {row.p95:.1f} ms (median {row.median:.1f})", True
    )


@dataclass
class _Writer:
    """Sends rows all the time and remembers those that the site said it had."""

    asker: Asker
    acknowledged: list[str] = field(default_factory=list)
    over: threading.Event = field(default_factory=threading.Event)

    def write(self) -> None:
        while not self.over.is_set():
            try:
                status, body = self.asker.answer("/bench/B2", {})
            except OSError:
                continue
            if status == 200:
                self.acknowledged.append(body.decode())
            time.sleep(0.005)


@contextmanager
def _writing(bench: Bench) -> Iterator[_Writer]:
    someone = bench.once("someone", lambda: get_user_model().objects.create(email="bench@shop.example", name="Bench"))
    writer = _Writer(Asker(bench.program.port, someone))
    connection.close()  # it would be found broken after the database was killed
    thread = threading.Thread(target=writer.write)
    thread.start()
    try:
        yield writer
    finally:
        writer.over.set()
        thread.join()
        writer.asker.close()


@figure("service back after kill -9 of any one part", bound="10 s, nothing acknowledged lost", order=90)
def killed_parts(bench: Bench) -> Result:
    """Kills each part while rows are being written, and waits until everything works again."""
    if not ON_LINUX:
        return Result("only measured on Linux", None)
    took: dict[str, float] = {}
    with _writing(bench) as writer:
        for name in PARTS:
            time.sleep(1)
            number = bench.program.kill(name)
            took[name] = until(lambda name=name, number=number: _is_back(bench, name, number), 60)  # type: ignore[misc]
        time.sleep(1)
    kept = set(map(str, SentForm.objects.filter(path=BENCH_PATH).values_list("key", flat=True)))
    lost = len(set(writer.acknowledged) - kept)
    words = ", ".join(f"{name.removeprefix('bittern-')} {seconds:.1f} s" for name, seconds in took.items())
    words += f"; {lost} of {len(writer.acknowledged)} acknowledged rows lost"
    return Result(words, max(took.values()) <= BACK_WITHIN_S and not lost)


def _is_back(bench: Bench, name: str, killed: int) -> bool:
    if killed in bench.program.parts() or name not in bench.program.parts().values() or not bench.program.is_well():
        return False
    return name not in {"bittern-worker", "valkey-server"} or _worker_answers()


def _worker_answers() -> bool:
    try:
        with app.connection_for_write() as asked:
            return bool(app.control.ping(timeout=0.5, connection=asked))
    except (OSError, redis.RedisError, OperationalError):
        return False
