"""Trial keys and final keys on the phone."""

from typing import Any

from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods, require_POST

from jobs.actions import (
    answer_trial,
    choose_trial_blank,
    discard_trial_blank,
    record_final_key,
    spoil_final_key,
    undo_answer,
)
from jobs.actions.key_final import FINAL_KINDS
from jobs.actions.key_trials import TRIAL_KINDS
from jobs.forms.keys import BlankForm, FinalForm
from jobs.key_run.page import grouped
from jobs.models import KeyStage, KeyWork, Visit
from jobs.round.parts import place_of
from jobs.views.keys import act_on_key, frame, key_address, key_page, open_for_work, trials_page
from shop.errors import Refused
from shop.http import render_form, see, tell, tell_refused
from shop.once import once
from shop.staff.access import StaffRequest
from shop.stock.models import Item, ItemKind, Place
from vehicles.cards import cutting_card

NO_PLACE = "No van is yours and the shop has no shelf yet. Ask the owner for a van."


@key_page
@require_http_methods(["GET", "POST"])
def key_blank(request: StaffRequest, visit: Visit) -> HttpResponse:
    """The plain blank for trial keys, chosen once."""
    work = _work(visit)
    place = place_of(request.user)
    items = _items(TRIAL_KINDS, place)
    chosen = work.trial_item_id or (items[0].pk if items else None)
    form = BlankForm(request.POST or None, items=items, place=place, initial={"item": chosen})

    def do() -> str:
        if place is None:
            raise Refused(NO_PLACE)
        choose_trial_blank(visit.job, actor=request.user, item=form.cleaned_data["item"], place=place)
        return key_address(visit)

    if request.method == "POST" and form.is_valid():
        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    context = {**frame(visit, work), "form": form, "place": place, "items": items}
    return render_form(request, "jobs/key/blank.html", context)


@key_page
@require_POST
def key_answer(request: StaffRequest, visit: Visit) -> HttpResponse:
    sent = request.POST
    return act_on_key(
        request,
        visit,
        lambda: answer_trial(
            visit.job,
            actor=request.user,
            answer=sent.get("answer", ""),
            lock=sent.get("lock", ""),
            seen=_number(sent, "seen"),
            visit=visit,
        ),
    )


@key_page
@require_POST
def key_undo(request: StaffRequest, visit: Visit) -> HttpResponse:
    """Withdraws an answer; `never` says that the try was not even cut."""
    sent = request.POST
    return act_on_key(
        request,
        visit,
        lambda: undo_answer(
            visit.job,
            actor=request.user,
            number=_number(sent, "number"),
            was_cut="never" not in sent,
            seen=_number(sent, "seen"),
            visit=visit,
        ),
    )


@key_page
@require_POST
def key_broke(request: StaffRequest, visit: Visit) -> HttpResponse:
    sent = request.POST
    number = _number(sent, "number") or 0

    def do() -> None:
        discard_trial_blank(visit.job, actor=request.user, number=number, seen=_number(sent, "seen"), visit=visit)
        tell(request, f"Blank {number} is put aside. The plan goes on without it.")

    return act_on_key(request, visit, do)


@key_page
@require_http_methods(["GET", "POST"])
def key_final(request: StaffRequest, visit: Visit) -> HttpResponse:
    """The customer's keys: how many were cut on which blank, and where they turn."""
    work = _work(visit)
    final = _final(request, visit, work)
    if final is None:
        tell_refused(request, "More than one candidate is left. Try plain keys first, or ask the owner.")
        return see(request, key_address(visit))
    place = place_of(request.user)
    items = _items(FINAL_KINDS, place)
    chosen = work.final_item_id or next((item.pk for item in items if item.kind == ItemKind.TRANSPONDER_BLANK), None)
    form = FinalForm(request.POST or None, items=items, place=place, work=work, initial={"item": chosen, "count": 1})

    def do() -> str:
        if place is None:
            raise Refused(NO_PLACE)
        facts = form.cleaned_data
        record_final_key(
            visit.job,
            actor=request.user,
            item=facts["item"],
            place=place,
            count=facts["count"],
            turned_in=facts.get("turned_in", []),
            seen=_number(request.POST, "seen"),
            visit=visit,
        )
        return key_address(visit)

    if request.method == "POST" and form.is_valid():
        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    context = {**frame(visit, work), "form": form, "place": place, "items": items, **final}
    return render_form(request, "jobs/key/final.html", context)


@key_page
@require_POST
def key_spoiled(request: StaffRequest, visit: Visit) -> HttpResponse:
    """A customer's blank that became no key: miscut, or it does not turn."""
    place = place_of(request.user)
    items = Item.objects.active().filter(kind__in=FINAL_KINDS)
    item = get_object_or_404(items, pk=_number(request.POST, "item") or 0) if "item" in request.POST else None
    turned = False if request.POST.get("what") == "does not turn" else None

    def do() -> None:
        if place is None or item is None:
            raise Refused(NO_PLACE if place is None else "Choose the blank that was spoiled.")
        seen = _number(request.POST, "seen")
        spoil_final_key(visit.job, actor=request.user, item=item, place=place, turned=turned, seen=seen, visit=visit)
        tell(request, f"{item.name} is counted as spoiled.")

    return act_on_key(request, visit, do)


def _final(request: StaffRequest, visit: Visit, work: KeyWork) -> dict[str, Any] | None:
    """The cuts of the final key with their card; None while they are not sure enough."""
    system = work.key_system.system if work.key_system else None
    if system is None:
        return None
    page = trials_page(request, visit, work)
    if page is None:
        return None
    if work.bitting is not None:
        bitting, words = tuple(work.bitting.open(open_for_work(request, visit))), ""
    elif page.advice is not None and page.advice.may_cut:
        bitting, words = page.advice.bitting, page.advice.words
    else:
        return None
    is_found = work.stage in (KeyStage.FOUND, KeyStage.MADE)
    groups, card = grouped(system, bitting), cutting_card(system, bitting)
    return {"card": card, "groups": groups, "words": words, "is_found": is_found, "seen": page.seen}


def _work(visit: Visit) -> KeyWork:
    works = KeyWork.objects.select_related("key_system", "trial_item", "final_item")
    work: KeyWork = get_object_or_404(works, job=visit.job, key_system__isnull=False)
    return work


def _items(kinds: frozenset[ItemKind], place: Place | None) -> list[Any]:
    """Items of these kinds, those at hand first."""
    items = Item.objects.active().filter(kind__in=kinds).with_quantity_at(place.pk if place else None)
    return list(items.order_by("-here", "number")[:30])


def _number(sent: QueryDict, name: str) -> int | None:
    text = sent.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 9 else None
