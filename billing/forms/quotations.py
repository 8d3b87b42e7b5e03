"""A price told on a job, and its yes."""

from django import forms

from shop.forms import PlainForm


class TellPriceForm(PlainForm):
    """Whether the price was accepted, and by whom. The lines stand beside it (`billing.forms.lines`)."""

    is_accepted = forms.BooleanField(required=False, label="Accepted")
    accepted_by = forms.CharField(required=False, max_length=100, label="Accepted by")

    def said_yes(self, usual: str) -> str:
        """Who accepted, or nothing; `usual` stands where nobody was named."""
        facts = self.cleaned_data
        return (facts["accepted_by"] or usual or "The customer")[:100] if facts["is_accepted"] else ""


class AcceptPriceForm(PlainForm):
    """Who said yes to a price told before."""

    accepted_by = forms.CharField(
        max_length=100, label="Accepted by", error_messages={"required": "Say who accepted the price."}
    )
