"""What a button on the call slip does to what is typed there. Nothing here writes."""

import re
from datetime import timedelta
from typing import Any

from django.utils import timezone

from billing.calls import KnownCaller, known_caller
from billing.forms.call import CallForm, round_up, usual_promise
from billing.views.price_part import Circumstances
from jobs.models import Payer
from jobs.states import LockedIn
from shop.customers.models import CustomerKind
from shop.errors import Refused
from shop.geo import Point, parse_place
from shop.models import Shop
from shop.phones import read_phone, shown

Typed = dict[str, str]

MOST_NAMES = 500
LONGEST_VALUE = 4000
_NOT_TYPED = frozenset({"csrfmiddlewaretoken", "form_key", "do", "end_reason", "item_q", "ended"})
_NAME = re.compile(r"[a-z_]{1,30}|line-[0-9]{1,3}-[a-z_]{1,20}")
_ACT = re.compile(r"(choose|place|vehicle|when)-([0-9]{1,18})")
WINDOWS = ((30, "30 min"), (60, "1 hour"), (120, "2 hours"), (180, "3 hours"))


def typed_of(post: Any) -> Typed:
    """What was typed on a slip, by name, as plain text; what no slip has is left out."""
    names = [name for name in post if _NAME.fullmatch(name) and name not in _NOT_TYPED][:MOST_NAMES]
    return {name: str(post[name]).replace("\0", "")[:LONGEST_VALUE] for name in names}


def new_slip() -> Typed:
    """A slip before anybody typed: the usual promise from now, nobody locked in, the caller pays."""
    promise = usual_promise(timezone.now(), Shop.current().promise_minutes)
    return {"locked_in": LockedIn.NOBODY.value, "payer": Payer.CALLER.value, **promise}


def taken_up(typed: Typed) -> Typed:
    """A kept slip, on the table again: a promise that has passed meanwhile is told anew."""
    fresh = {**new_slip(), **typed}
    form = CallForm(fresh)
    form.is_valid()
    promise = form.cleaned_data.get("promise")
    has_passed = promise is not None and promise[1] < timezone.now()
    return {**fresh, **usual_promise(timezone.now(), Shop.current().promise_minutes)} if has_passed else fresh


def after_act(typed: Typed, act: str) -> Typed:
    """What the slip says after a button: a caller, a place or a promise chosen, or the caller let go again."""
    if act == "forget":
        return {**typed, "customer": "", "vehicle": "", "caller_name": "", "comeback_of": ""}
    match = _ACT.fullmatch(act)
    if not match:
        return typed
    fill = {"choose": _with_caller, "place": _with_place, "vehicle": _with_vehicle, "when": _with_window}[match[1]]
    return fill(typed, int(match[2]))


def circumstances(typed: Typed) -> Circumstances:
    """What the price depends on, read without complaint: whatever cannot be read is not known yet."""
    form = CallForm(typed)
    form.is_valid()
    told = form.cleaned_data
    start, _ = told.get("promise") or (timezone.now(), None)
    vehicle = told.get("vehicle")
    return Circumstances(
        told.get("kind_of_work", ""),
        at=start,
        point=told.get("coordinates"),
        km=told.get("km"),
        make=vehicle.make if vehicle else told.get("make", ""),
        model=vehicle.model if vehicle else told.get("model", ""),
    )


def point_typed(typed: Typed) -> Point | None:
    """The coordinates on the slip, if they can be read."""
    try:
        return parse_place(typed.get("coordinates", ""))
    except Refused:
        return None


def _with_caller(typed: Typed, pk: int) -> Typed:
    known = known_caller(pk)
    if known is None:
        return typed
    customer = known.customer
    filled = {**typed, "customer": str(pk), "name": "", "phone": _number_for(typed.get("phone", ""), known)}
    filled["caller_name"] = typed.get("caller_name") or customer.contact_name or customer.name
    if customer.kind == CustomerKind.ACCOUNT:
        filled["payer"] = Payer.ACCOUNT.value
    return {**filled, "vehicle": "", "comeback_of": ""}


def _number_for(text: str, known: KnownCaller) -> str:
    """The number typed, when it is a whole one; else (a name, a plate, a part of a number) the customer's first."""
    region = Shop.current().country
    try:
        return shown(read_phone(text, region=region).e164, region=region)
    except Refused:
        first = known.customer.phones.all()[:1]
        return shown(first[0].number, region=region) if first else ""


def _with_place(typed: Typed, pk: int) -> Typed:
    known = known_caller(typed.get("customer"))
    address = next((each for each in known.addresses if each.pk == pk), None) if known else None
    if address is None:
        return typed
    has_point = address.latitude is not None
    return {
        **typed,
        "street": address.street,
        "town": address.town,
        "access_notes": address.access_notes,
        "coordinates": f"{address.latitude}, {address.longitude}" if has_point else "",
        "km": "",
        "keep_address": "",
    }


def _with_vehicle(typed: Typed, pk: int) -> Typed:
    return {**typed, "vehicle": str(pk)}


def _with_window(typed: Typed, minutes: int) -> Typed:
    """A promise from now for so many minutes; 0 is tomorrow morning."""
    if minutes:
        return {**typed, **usual_promise(timezone.now(), min(minutes, 12 * 60))}
    shop = Shop.current()
    opens = round_up(timezone.localtime(timezone.now()) + timedelta(days=1)).replace(
        hour=shop.day_starts.hour, minute=shop.day_starts.minute
    )
    return {
        **typed,
        "promise_day": f"{opens:%Y-%m-%d}",
        "promise_from": f"{opens:%H:%M}",
        "promise_until": f"{opens + timedelta(hours=2):%H:%M}",
    }
