"""Tags and filters that every template has at hand (they are builtins): marks, icons, fields, figures."""

from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import lru_cache
from typing import Any
from uuid import uuid4

from django import template
from django.contrib.messages import ERROR
from django.forms import BoundField, CheckboxInput, CheckboxSelectMultiple, RadioSelect
from django.template.defaultfilters import date as format_date
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from lucide import IconDoesNotExist, _render_icon

from shop import http, phones
from shop.models import Shop
from shop.money import format_amount
from shop.once import FIELD

register = template.Library()

STATES: dict[str, tuple[str, str]] = {
    "waiting": ("0", "Waiting"),
    "booked": ("1", "Booked"),
    "on_the_way": ("2", "On the way"),
    "on_site": ("3", "On site"),
    "finished": ("4", "Finished"),
    "called_off": ("struck", "Called off"),
    "turned_away": ("struck", "Turned away"),
    "no_answer": ("struck", "No answer"),
}

# One disc, filled clockwise from twelve; centre 8, radius 6.25.
_DISCS = {
    "0": "",
    "1": '<path d="M8 8V1.75A6.25 6.25 0 0 1 14.25 8Z" fill="currentColor"/>',
    "2": '<path d="M8 1.75A6.25 6.25 0 0 1 8 14.25Z" fill="currentColor"/>',
    "3": '<path d="M8 8V1.75A6.25 6.25 0 1 1 1.75 8Z" fill="currentColor"/>',
    "4": '<circle cx="8" cy="8" r="6.25" fill="currentColor"/>',
    "struck": '<path d="M1.5 14.5 14.5 1.5" stroke="currentColor" stroke-width="1.75" stroke-linecap="round"/>',
}


@register.simple_tag
def icon(name: str, size: int = 20) -> SafeString:
    """An icon drawn in the text's colour, hidden from screen readers: the words beside it carry the meaning."""
    return _drawn_icon(str(name), size)


@lru_cache(maxsize=256)
def _drawn_icon(name: str, size: int) -> SafeString:
    try:
        drawn = _render_icon(name, size, stroke_width="1.75", aria_hidden="true", **{"class": "icon"})
    except IconDoesNotExist as error:
        raise template.TemplateSyntaxError(str(error)) from error
    return mark_safe(" ".join(drawn.split()))


@register.simple_tag
def disc(fill: str) -> SafeString:
    """The disc alone: fill 0 (empty) to 4 (full) quarters, or `struck`."""
    return mark_safe(
        '<svg class="disc" viewBox="0 0 16 16" width="16" height="16" aria-hidden="true" focusable="false">'
        '<circle cx="8" cy="8" r="6.25" fill="none" stroke="currentColor" stroke-width="1.5"/>'
        f"{_DISCS[str(fill)]}</svg>"
    )


@register.simple_tag
def mark(fill: str | int, words: str) -> SafeString:
    """A disc with any words, for states other than a job's: `{% mark 2 "Part paid" %}`."""
    return format_html('<span class="mark mark-{}">{}<span>{}</span></span>', fill, disc(str(fill)), words)


@register.simple_tag
@lru_cache(maxsize=64)
def state_mark(state: str) -> SafeString:
    """The filling disc of a job's or visit's state, always with its word."""
    fill, words = STATES[str(state)]
    return mark(fill, words)


@register.simple_tag
def form_key() -> SafeString:
    """The hidden key by which a form sent twice is taken in once (see `shop.once`)."""
    return format_html('<input type="hidden" name="{}" value="{}">', FIELD, uuid4())


@register.inclusion_tag("shop/field.html")
def field(bound: BoundField, size: str = "", label: str = "", autofocus: bool = False) -> dict[str, Any]:
    """A form field with label, help, widget and errors, tied together for screen readers.

    `size` is a class of `forms.css`: full (the default), half, third, quarter, sixth.
    """
    widget = bound.field.widget
    group = isinstance(widget, RadioSelect | CheckboxSelectMultiple)
    tick = isinstance(widget, CheckboxInput)
    kind = "group" if group else "tick" if tick else "line"
    drawn = bound.as_widget(attrs={"autofocus": True} if autofocus else None)
    if bound.field.show_hidden_initial:
        drawn += bound.as_hidden(only_initial=True)
    return {"field": bound, "kind": kind, "size": size, "label": label or bound.label, "widget": drawn}


@register.inclusion_tag("shop/form_errors.html")
def form_errors(form: Any) -> dict[str, Any]:
    """What is wrong with the form as a whole, above its fields."""
    return {"errors": form.non_field_errors()}


@register.simple_tag
def undo_of(message: Any) -> str:
    """The address that takes back what a message tells, or an empty string."""
    return http.undo_address(message.extra_tags)


@register.filter
def is_refused(message: Any) -> bool:
    """Whether a message says that something was not done."""
    return bool(message.level >= ERROR)


@register.filter
def phone(number: str | None) -> str:
    """An E.164 number as people of the shop's country write it."""
    return phones.shown(number, region=Shop.current().country) if number else ""


@register.filter
def money(amount: Decimal | None, currency: str) -> str:
    """`1,234.50 USD`; an em dash when there is no amount."""
    return "—" if amount is None else format_amount(amount, str(currency)).replace(" ", "\u00a0")


@register.filter
def vin(text: str | None) -> SafeString | str:
    """A VIN in groups for reading aloud: 3 (maker), 6 (kind), 8 (this car). Other lengths are grouped by four."""
    if not text:
        return ""
    bare = "".join(str(text).split())
    cuts = [(0, 3), (3, 9), (9, 13), (13, 17)] if len(bare) == 17 else [(i, i + 4) for i in range(0, len(bare), 4)]
    groups = mark_safe("".join(format_html("<span>{}</span>", bare[a:b]) for a, b in cuts))
    return format_html('<span class="code grouped">{}</span>', groups)


@register.filter
def code(text: str | None) -> SafeString | str:
    """A plate, key code or part number in the fixed-width face."""
    return format_html('<span class="code">{}</span>', text) if text else ""


@register.filter
def clock(moment: datetime | time | None) -> str:
    """`14:05` in the shop's zone."""
    if moment is None:
        return ""
    shown = timezone.localtime(moment).time() if isinstance(moment, datetime) else moment
    return shown.strftime("%H:%M")


@register.filter
def day(moment: date | datetime | None) -> str:
    """`Tue 24 Nov` in the shop's zone; with the year when it is not this one."""
    if moment is None:
        return ""
    shown = _local_day(moment)
    return format_date(shown, "D j M" if shown.year == timezone.localdate().year else "D j M Y")


@register.filter
def long_day(moment: date | datetime | None) -> str:
    """`Tuesday 24 November 2026` in the shop's zone."""
    return "" if moment is None else format_date(_local_day(moment), "l j F Y")


@register.filter
def day_clock(moment: datetime | None) -> str:
    """`Tue 24 Nov 14:05`; only the time when it is today."""
    if moment is None:
        return ""
    is_today = _local_day(moment) == timezone.localdate()
    return clock(moment) if is_today else f"{day(moment)} {clock(moment)}"


def _local_day(moment: date | datetime) -> date:
    return timezone.localdate(moment) if isinstance(moment, datetime) else moment


@register.filter
def minutes(length: int | Decimal | timedelta | None) -> str:
    """A length of time given in minutes or as a timedelta: `45 min`, `1 h 20`, `2 h`."""
    if length is None:
        return ""
    whole = round(length.total_seconds() / 60) if isinstance(length, timedelta) else round(length)
    sign, (hours, rest) = "−" if whole < 0 else "", divmod(abs(whole), 60)
    if not hours:
        return f"{sign}{rest}\u00a0min"
    return f"{sign}{hours}\u00a0h" + (f"\u00a0{rest:02d}" if rest else "")
