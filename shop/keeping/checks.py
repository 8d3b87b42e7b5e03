"""The system check of retention decisions: run by `manage.py check` and at the start of the program."""

from typing import Any

from django.apps import apps
from django.core.checks import CheckMessage, Error, register

from shop.keeping.decisions import BadDecisions, read_decisions, undecided


@register("retention")
def every_field_is_decided(**kwargs: Any) -> list[CheckMessage]:
    """An error for every model field without a retention decision."""
    try:
        faults = undecided(read_decisions(), apps.get_models(include_auto_created=True))
    except BadDecisions as bad:
        faults = [str(bad)]
    return [Error(fault, id="shop.E001") for fault in faults]
