"""Money that comes in: in part, too much, at the same moment."""

from decimal import Decimal

import pytest

from billing import actions as billing
from billing.errors import WrongAmount
from billing.models import Invoice, Payment
from shop.errors import Refused
from tests.billing import make
from tests.billing.worked import finished, issued, line
from tests.threads import at_once

D = Decimal


@pytest.fixture(autouse=True)
def _shop(db: None) -> None:
    make.shop(card_fee_percent=D("1.75"))
    make.price_book()


@pytest.mark.django_db
def test_payment_in_parts_brings_the_balance_down_to_nothing() -> None:
    invoice = issued()
    first = billing.record_payment(invoice, actor=None, method="cash", amount=D("30.00"))
    second = billing.record_payment(invoice, actor=None, method="transfer", amount=D("54.00"), reference=" ref 7 ")
    assert (first.number, second.number, second.reference) == (1, 2, "ref 7")
    paid = Invoice.objects.get(pk=invoice.pk)
    assert (paid.paid, paid.balance) == (D("84.00"), 0)
    assert list(Invoice.objects.paid_up()) == [paid]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("amount", "words"),
    [
        ("84.01", "The balance is 84.00 USD; 84.01 USD is more than that."),
        ("0", "more than nothing"),
        ("-5.00", "more than nothing"),
        ("NaN", "more than nothing"),
        ("1.005", "USD has 2 decimals"),
    ],
)
def test_wrong_amount_is_refused_in_words(amount: str, words: str) -> None:
    invoice = issued()
    with pytest.raises(WrongAmount, match=words) as refused:
        billing.record_payment(invoice, actor=None, method="cash", amount=D(amount))
    assert refused.value.field == "amount"
    assert not Payment.objects.exists()


@pytest.mark.django_db
def test_payment_of_a_paid_invoice_is_refused() -> None:
    invoice = issued()
    billing.record_payment(invoice, actor=None, method="cash", amount=D("84.00"))
    with pytest.raises(WrongAmount, match="Nothing is left to pay"):
        billing.record_payment(invoice, actor=None, method="cash", amount=D("0.01"))


@pytest.mark.django_db
def test_unknown_method_is_refused() -> None:
    with pytest.raises(Refused, match="how it was paid"):
        billing.record_payment(issued(), actor=None, method="shells", amount=D("1.00"))


@pytest.mark.django_db
def test_card_costs_the_shop_its_fee_and_cash_does_not() -> None:
    invoice = issued()
    card = billing.record_payment(invoice, actor=None, method="card", amount=D("60.00"))
    cash = billing.record_payment(invoice, actor=None, method="cash", amount=D("24.00"))
    # 1.75 % of 60.00, by hand.
    assert (card.card_fee, cash.card_fee) == (D("1.05"), 0)


@pytest.mark.django_db
def test_payment_on_a_draft_counts_for_the_invoice_it_becomes() -> None:
    draft = billing.draft_invoice(finished(told=[line()]), actor=None)
    billing.record_payment(draft, actor=None, method="cash", amount=D("50.00"))
    assert billing.issue_invoice(draft, actor=None).balance == D("34.00")


@pytest.mark.django_db(transaction=True)
def test_two_payments_at_once_never_exceed_the_balance() -> None:
    invoice = issued()
    pay = lambda: billing.record_payment(invoice, actor=None, method="cash", amount=D("50.00"))  # noqa: E731
    results = at_once(pay, pay, pay, pay)
    refused = [str(each) for each in results if isinstance(each, Exception)]
    assert refused == ["The balance is 34.00 USD; 50.00 USD is more than that."] * 3
    assert Invoice.objects.get(pk=invoice.pk).paid == D("50.00")
    assert [payment.number for payment in Payment.objects.all()] == [1]
