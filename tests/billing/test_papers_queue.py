"""Papers through the real queue: broker down, worker stopped, worker back."""

import hashlib
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from celery import current_app
from django.db import connection

from billing import actions as billing
from billing.models import Invoice, Payment
from billing.tasks import make_waiting_papers
from tests.billing import make
from tests.billing.worked import finished, issued, line
from tests.harness.site import running
from tests.threads import at_once

D = Decimal
Eventually = Callable[..., object]


@pytest.fixture(autouse=True)
def _shop(transactional_db: None) -> None:
    make.shop()
    make.price_book()
    current_app.control.purge()


def _papers_are_there() -> bool:
    return not Invoice.objects.without_paper().exists() and not Payment.objects.without_receipt().exists()


def test_worker_makes_what_was_queued(worker: None, eventually: Eventually) -> None:
    invoice = issued()
    billing.record_payment(invoice, actor=None, method="cash", amount=D("84.00"))
    eventually(_papers_are_there, within=20)
    assert Path(Invoice.objects.get().paper.path).read_bytes().startswith(b"%PDF-")


def _waiting() -> int:
    """How many tasks lie in the queue."""
    with current_app.connection_for_write() as connection:
        return int(connection.default_channel._size("celery"))  # type: ignore[attr-defined]


@pytest.fixture
def no_worker() -> Iterator[None]:
    """No worker takes from the queue, should an earlier test have left one running."""
    current_app.control.cancel_consumer("celery", reply=True, timeout=1)
    yield
    current_app.control.add_consumer("celery", reply=True, timeout=1)


def test_papers_queued_while_no_worker_runs_are_made_when_it_is_back(
    no_worker: None, tmp_path: Path, eventually: Eventually
) -> None:
    invoice = issued()
    billing.record_payment(invoice, actor=None, method="card", amount=D("10.00"))
    assert _waiting() == 2
    assert not _papers_are_there()
    command = [sys.executable, "-m", "celery", "-A", "shop", "worker", "--concurrency", "1", "--without-mingle"]
    with running([*command, "--hostname", "back@%h"], tmp_path / "worker.log"):
        eventually(_papers_are_there, within=40)


ISSUE = """
import django; django.setup()
from billing import actions as billing
from billing.models import Invoice
print(billing.issue_invoice(Invoice.objects.get(), actor=None).number)
"""


def test_issue_stands_when_the_broker_is_down_and_the_sweep_makes_the_paper() -> None:
    draft = billing.draft_invoice(finished(told=[line()]), actor=None)
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "BITTERN_SERVED_DATABASE": str(connection.settings_dict["NAME"]),
        # Nothing listens on port 1.
        "BITTERN_TEST_REDIS_URL": "redis://127.0.0.1:1",
    }
    done = subprocess.run(
        [sys.executable, "-c", ISSUE], env=environment, capture_output=True, text=True, timeout=60, check=False
    )
    issued_there = Invoice.objects.get(pk=draft.pk)
    assert (done.returncode, done.stdout.strip()) == (0, issued_there.number), done.stderr
    assert "waits for the sweep" in done.stderr
    assert list(Invoice.objects.without_paper()) == [issued_there]
    make_waiting_papers()
    assert _papers_are_there()


def test_one_paper_that_cannot_be_made_holds_up_no_other(no_worker: None, caplog: pytest.LogCaptureFixture) -> None:
    sound = issued()
    make.shop(time_zone="Nowhere/Atall")
    broken = issued(finished(told=[line()], start=make.NOON + timedelta(hours=3)), at=make.NOON + timedelta(hours=5))
    make_waiting_papers()
    assert list(Invoice.objects.without_paper()) == [broken]
    assert Invoice.objects.get(pk=sound.pk).paper
    assert "could not be made" in caplog.text


def test_two_makers_at_once_keep_one_file() -> None:
    pk = issued().pk
    assert not [each for each in at_once(*[lambda: billing.make_paper(pk)] * 3) if isinstance(each, Exception)]
    kept = Invoice.objects.get(pk=pk)
    file = Path(kept.paper.path)
    assert kept.paper_sha256 == hashlib.sha256(file.read_bytes()).hexdigest()
    assert [each.name for each in file.parent.glob("*2026-0001*")] == [file.name]
