"""The call page: one slip from the number to the job."""

from typing import Any
from uuid import UUID, uuid4

from django.core.exceptions import SuspiciousOperation
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods

from billing.actions.calls import end_call, take_priced_call
from billing.calls import END_REASONS, known_caller, unfinished_calls
from billing.forms.call import CallForm
from billing.prices import distance_words
from billing.views.price_part import PricePart, proposed_part
from billing.views.slip import (
    WINDOWS,
    Typed,
    after_act,
    circumstances,
    new_slip,
    point_typed,
    taken_up,
    typed_of,
)
from jobs.models import CallDraft, Job
from shop.customers.models import Customer
from shop.errors import Refused
from shop.http import is_htmx, see, tell
from shop.models import SentForm, Shop
from shop.money import format_amount
from shop.once import once
from shop.staff.access import StaffRequest, office

DRAFTS_OFFERED = 2
ALREADY_TAKEN = "This call was already taken. Nothing was taken twice."


@office
@require_http_methods(["GET", "POST"])
def take_call(request: StaffRequest) -> HttpResponse:
    """GET lays out a new slip or a kept one (`?draft=`); POST takes the call, ends it, or works one button of it."""
    if request.method == "GET":
        return _lay_out(request)
    key, act = _key_sent(request), request.POST.get("do", "take")
    typed = typed_of(request.POST)
    if act == "take":
        return _take(request, key, typed)
    if act == "end":
        return _end(request, key, typed)
    typed = after_act(typed, act)
    return _show(request, key, typed, act=act)


def _lay_out(request: StaffRequest) -> HttpResponse:
    wanted = request.GET.get("draft", "")
    if wanted:
        key = _read_key(wanted)
        if taken := _taken(key):
            return _to_taken(request, taken)
        draft = get_object_or_404(CallDraft, key=key)
        return _show(request, key, taken_up({name: str(value) for name, value in draft.typed.items()}))
    typed = after_act(new_slip(), f"choose-{request.GET.get('customer', '')}")
    if typed.get("customer"):
        typed = after_act(typed, f"vehicle-{request.GET.get('vehicle', '')}")
    return _show(request, uuid4(), typed)


def _take(request: StaffRequest, key: UUID, typed: Typed) -> HttpResponse:
    form = CallForm(typed)
    part = proposed_part(typed, circumstances(typed))
    if not form.is_valid() or not part.lines.is_valid():
        # Sent in again after it was taken, when its promise has passed: still the same job.
        if taken := _taken(key):
            return _to_taken(request, taken)
        return _show(request, key, typed, form=form, part=part)
    if said := _price_changed(typed, part):
        form.add_error(None, said)
        return _show(request, key, typed, form=form, part=part)
    made: list[Job] = []

    def do() -> str:
        lines = part.lines.lines()
        made.append(take_priced_call(actor=request.user, call=form.facts(), lines=lines, minutes=part.minutes, key=key))
        return f"{reverse('jobs:day')}?{urlencode({'job': made[0].number})}"

    try:
        url = once(request, do)
    except Refused as refused:
        form.refuse(refused)
        return _show(request, key, typed, form=form, part=part)
    tell(request, _words_for(made[0]) if made else ALREADY_TAKEN)
    return see(request, url)


def _price_changed(typed: Typed, part: PricePart) -> str:
    """Words for a total that is not the one the page showed last, which the caller has heard; empty when it is."""
    heard = typed.get("total", "").replace("\u00a0", " ")
    now = format_amount(part.totals.gross, part.totals.currency)
    return (
        f"The price is {now} now, not {heard}. Tell the caller, then take the call." if heard not in {"", now} else ""
    )


def _taken(key: UUID) -> str:
    """The address of the job that this slip became, if it did."""
    return SentForm.objects.filter(key=key).values_list("result_url", flat=True).first() or ""


def _to_taken(request: StaffRequest, url: str) -> HttpResponse:
    tell(request, ALREADY_TAKEN)
    return see(request, url)


def _words_for(job: Job) -> str:
    first = f"Call taken: job {job.number}."
    return f"{first} {job.get_locked_in_display()} is locked in." if job.is_emergency else first


def _end(request: StaffRequest, key: UUID, typed: Typed) -> HttpResponse:
    reason = request.POST.get("end_reason", "")
    try:
        end_call(key, actor=request.user, typed=typed, reason=reason)
    except Refused as refused:
        form = CallForm(typed)
        form.is_valid()
        return _show(request, key, typed, end_error=str(refused))
    tell(request, f"Call ended without a job: {END_REASONS[reason].lower()}. It is kept for 30 days.")
    return see(request, reverse("billing:calls"))


def _show(
    request: StaffRequest,
    key: UUID,
    typed: Typed,
    *,
    act: str = "",
    form: CallForm | None = None,
    part: PricePart | None = None,
    end_error: str = "",
) -> HttpResponse:
    """The page, or for htmx the part of it that the button changes."""
    part = part or proposed_part({**typed, "item_q": request.POST.get("item_q", "")}, circumstances(typed), act=act)
    shop = Shop.current()
    context: dict[str, Any] = {
        "key": key,
        "form": form or CallForm(initial=typed),
        "part": part,
        "price_url": reverse("billing:take_call"),
        "distance": "" if typed.get("km") else distance_words(shop, point_typed(typed)),
        "end_reasons": END_REASONS,
        "end_error": end_error,
        "sum_only": is_htmx(request) and act == "total",
    }
    if is_htmx(request) and (act in {"price", "total"} or act.startswith("line-")):
        return render(request, f"billing/_price.html#{'sum' if act == 'total' else 'price'}", context)
    context |= {
        "known": known_caller(typed.get("customer")),
        "found": _look_up(typed) if act == "look-up" else None,
        "windows": WINDOWS,
        "tomorrow": after_act({}, "when-0"),
        "chosen_vehicle": typed.get("vehicle", ""),
    }
    if is_htmx(request):
        return render(request, "billing/take_call.html#slip", context)
    others = [call for call in unfinished_calls() if call.draft.key != key]
    context |= {"others": others[:DRAFTS_OFFERED], "others_count": len(others)}
    refused = form is not None or bool(end_error)
    return render(request, "billing/take_call.html", context, status=422 if refused else 200)


def _look_up(typed: Typed) -> list[Customer]:
    """Callers found without a script in the browser: the same search, once, on a button."""
    text = typed.get("phone", "").strip()
    return list(Customer.objects.matching(text).with_contacts().order_by("name")[:6]) if text else []


def _key_sent(request: StaffRequest) -> UUID:
    return _read_key(request.POST.get("form_key", ""))


def _read_key(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise SuspiciousOperation("This is not the key of a call.") from None
