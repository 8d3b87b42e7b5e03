"""The check of the books finds what is wrong, and nothing when all is well."""

from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from billing import actions as billing
from billing.models import Invoice
from tests.billing import make
from tests.billing.worked import issued

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def invoice(tmp_path: Path, settings: Any) -> Invoice:
    settings.MEDIA_ROOT = tmp_path
    make.shop()
    make.price_book()
    invoice = issued()
    billing.record_payment(invoice, actor=None, method="cash", amount=Decimal("50.00"))
    billing.make_paper(invoice.pk)
    return Invoice.objects.get()


def test_books_that_hold(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("check_books")
    assert "The books hold: 1 invoices, 1 payments" in capsys.readouterr().out


def _spoil(sql: str) -> None:
    """Changes a row past the guards, as only somebody with the database in hand could."""
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL bittern.may_erase = 'yes'")
        cursor.execute(sql)


SPOILT: dict[str, Callable[[], object]] = {
    "paid 49": lambda: _spoil("UPDATE billing_invoice SET paid = 49"),
    "net 80.00 of lines 81": lambda: _spoil("UPDATE billing_invoiceline SET amount = 81"),
    "tax 4.00 of 5": lambda: _spoil("UPDATE billing_invoicetax SET amount = 5"),
    "from 7 to 7": lambda: _spoil("UPDATE billing_invoice SET sequence = 7"),
    "the last number is 3": lambda: _spoil("UPDATE billing_payment SET number = 3"),
    "not the file": lambda: Path(Invoice.objects.get().paper.path).write_bytes(b"other"),
    "is missing": lambda: Path(Invoice.objects.get().paper.path).unlink(),
}


@pytest.mark.parametrize(("said", "spoil"), SPOILT.items(), ids=SPOILT.keys())
def test_books_that_do_not_hold_are_told(
    said: str, spoil: Callable[[], object], capsys: pytest.CaptureFixture[str]
) -> None:
    spoil()
    with pytest.raises(CommandError, match="do not agree"):
        call_command("check_books")
    assert said in capsys.readouterr().err
