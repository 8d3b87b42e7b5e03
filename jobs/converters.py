"""A day in an address."""

from datetime import date, datetime

from django.utils import timezone

from jobs.forms.fields import YEARS


class DayConverter:
    """`2026-11-25`; a day that is in no calendar or no diary is no page. A moment stands for its day in the shop."""

    regex = r"[0-9]{4}-[0-9]{2}-[0-9]{2}"

    def to_python(self, value: str) -> date:
        day = date.fromisoformat(value)
        if day.year not in YEARS:
            raise ValueError(value)
        return day

    def to_url(self, value: date | datetime | str) -> str:
        if isinstance(value, datetime):
            return timezone.localdate(value).isoformat()
        return value if isinstance(value, str) else value.isoformat()
