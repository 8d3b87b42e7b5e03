"""Money taken in."""

from decimal import Decimal
from typing import Any

from django import forms

from billing.models import Invoice, PaymentMethod
from shop.forms import MoneyField, PlainForm


class PaymentForm(PlainForm):
    """A payment for one invoice; proposes all that is left to pay."""

    method = forms.ChoiceField(
        choices=PaymentMethod,
        widget=forms.RadioSelect,
        label="Paid by",
        error_messages={"required": "Say how it was paid."},
    )
    amount = MoneyField(label="Amount", at_least=Decimal("0"))
    reference = forms.CharField(
        required=False, max_length=100, label="Reference", help_text="Cheque number, slip of the terminal."
    )

    def __init__(self, *args: Any, invoice: Invoice, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"amount": str(invoice.balance)})
        super().__init__(*args, **kwargs)
