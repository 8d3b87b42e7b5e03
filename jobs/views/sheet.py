"""Drawing the day sheet: whole for a browser, its parts for one that shows it already."""

from dataclasses import dataclass
from datetime import date
from typing import Any
from zlib import crc32

from django.http import HttpResponse
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe

from jobs.day import load_day_sheet
from jobs.day.chosen import load_chosen
from jobs.day.draw import draw_columns
from jobs.states import VisitState
from shop.http import is_htmx
from shop.staff.access import StaffRequest


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of the page that is replaced as a whole; `version` changes with what it shows."""

    html: SafeString
    version: str


def sheet_url(day: date | None, number: int | None = None) -> str:
    path = reverse("jobs:day", args=[day]) if day else reverse("jobs:day")
    return f"{path}?job={number}" if number else path


def draw_sheet(
    request: StaffRequest, day: date, number: int | None, *, forms: dict[str, Any] | None = None, status: int = 200
) -> HttpResponse:
    """The sheet of a day with one job chosen; `forms` are refused ones, kept as they were sent."""
    sheet = load_day_sheet(day)
    chosen = load_chosen(request.user, number, sheet=sheet, forms=forms) if number else None
    context: dict[str, Any] = {"sheet": sheet, "chosen": chosen, "asked_for": number, "legend": VisitState.values[:4]}
    context["columns"] = draw_columns(sheet.columns, chosen=number, now_row=sheet.now_row)
    context["parts"] = {
        "calls": _part("jobs/day/calls.html", context, request),
        "diary": _part("jobs/day/diary.html", context, request),
        "tally": _part("jobs/day/tally.html", context, request),
    }
    template = "jobs/day/parts.html" if is_htmx(request) else "jobs/day.html"
    return HttpResponse(render_to_string(template, context, request), status=status)


def _part(template: str, context: dict[str, Any], request: StaffRequest) -> Part:
    html = mark_safe(render_to_string(template, context))
    return Part(html, f"{crc32(html.encode()):08x}")


def read_day(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text or "")
    except ValueError:
        return None


def read_number(text: str | None) -> int | None:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 16 else None


def today() -> date:
    return timezone.localdate()
