"""A part used or spoiled."""

from django import forms
from django.db import models

from shop.forms import PlainForm
from shop.stock.forms.fields import QuantityField
from shop.stock.models import SpoiledReason

MOST = 500


class Outcome(models.TextChoices):
    """What became of a part: the first two are uses, the rest the ways of spoiling one."""

    USED = "used", "Used, the customer pays"
    USED_FREE = "used_free", "Used, no charge"
    MISCUT = SpoiledReason.MISCUT.value, "Spoiled: miscut"
    NOT_PROGRAMMED = SpoiledReason.NOT_PROGRAMMED.value, "Spoiled: would not program"
    TRIAL = SpoiledReason.TRIAL.value, "Spoiled: trial key"
    DAMAGED = SpoiledReason.DAMAGED.value, "Spoiled: damaged"


USES = frozenset({Outcome.USED, Outcome.USED_FREE})


class PartForm(PlainForm):
    quantity = QuantityField(
        label="How many",
        most=MOST,
        error_messages={"min_value": "Give a number of at least one. What was not used is taken back instead."},
    )
    outcome = forms.ChoiceField(
        label="What became of it",
        choices=Outcome.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Say what became of it.", "invalid_choice": "Choose one of these."},
    )
