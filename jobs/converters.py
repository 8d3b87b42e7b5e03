"""A day in an address."""

from datetime import date, datetime

from django.utils import timezone


class DayConverter:
    """`2026-11-25`; a day that does not exist is no page. A moment stands for its day in the shop."""

    regex = r"[0-9]{4}-[0-9]{2}-[0-9]{2}"

    def to_python(self, value: str) -> date:
        return date.fromisoformat(value)

    def to_url(self, value: date | datetime | str) -> str:
        if isinstance(value, datetime):
            return timezone.localdate(value).isoformat()
        return value if isinstance(value, str) else value.isoformat()
