"""Parts used and spoiled on a visit, out of the technician's own van."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.actions import spoil_part, take_back_part, use_part
from jobs.forms.parts import USES, Outcome, PartForm
from jobs.models import PartUse, Visit
from jobs.round.parts import found_items, place_of, usual_items
from jobs.views.own import on_own_visit
from shop.errors import Refused
from shop.http import is_htmx, render_form, see, tell, tell_refused, typed
from shop.once import once
from shop.staff.access import StaffRequest
from shop.stock.models import Item, Place


@on_own_visit
@require_safe
def parts(request: StaffRequest, visit: Visit) -> HttpResponse:
    place = place_of(request.user)
    wanted = typed(request)
    context = {"visit": visit, "job": visit.job, "place": place, "typed": wanted, "found": found_items(wanted, place)}
    if is_htmx(request):
        return render(request, "jobs/round/parts.html#found", context)
    used = visit.job.parts.standing().select_related("item", "movement__place").order_by("-id")
    usual = [] if wanted else usual_items(visit.job, place)
    return render(request, "jobs/round/parts.html", {**context, "used": used, "usual": usual})


@on_own_visit
@require_http_methods(["GET", "POST"])
def part(request: StaffRequest, visit: Visit, item_id: int) -> HttpResponse:
    place = place_of(request.user)
    item = get_object_or_404(Item.objects.active().with_quantity_at(place.pk if place else None), pk=item_id)
    form = PartForm(request.POST or None, initial={"quantity": 1, "outcome": Outcome.USED})

    def do() -> str:
        kept = _take(request, visit, item, place, form.cleaned_data["quantity"], Outcome(form.cleaned_data["outcome"]))
        back = reverse("jobs:part_back", args=[visit.pk, kept.pk])
        tell(request, _words(kept, place), undo=back)
        return reverse("jobs:parts", args=[visit.pk])

    if request.method == "POST" and form.is_valid():
        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(
        request, "jobs/round/part.html", {"visit": visit, "job": visit.job, "item": item, "place": place, "form": form}
    )


@on_own_visit
@require_POST
def part_back(request: StaffRequest, visit: Visit, part_id: int) -> HttpResponse:
    used = get_object_or_404(PartUse.objects.select_related("item", "movement__place"), pk=part_id, job=visit.job)
    page = reverse("jobs:parts", args=[visit.pk])

    def do() -> str:
        take_back_part(used, actor=request.user)
        tell(request, f"{used.quantity} × {used.item.name} taken back to {used.movement.place.name}.")
        return page

    try:
        return see(request, once(request, do))
    except Refused as refused:
        tell_refused(request, str(refused))
        return see(request, page)


def _take(
    request: StaffRequest, visit: Visit, item: Item, place: Place | None, quantity: int, outcome: Outcome
) -> PartUse:
    if place is None:
        raise Refused("No van is yours and the shop has no shelf yet. Ask the owner for a van.")
    if outcome in USES:
        return use_part(
            visit.job,
            actor=request.user,
            item=item,
            quantity=quantity,
            place=place,
            visit=visit,
            is_charged=outcome == Outcome.USED,
        )
    return spoil_part(
        visit.job, actor=request.user, item=item, quantity=quantity, place=place, reason=outcome.value, visit=visit
    )


def _words(kept: PartUse, place: Place | None) -> str:
    """What was done, and plainly when the books held less than that."""
    movement = kept.movement
    done = f"{kept.quantity} × {kept.item.name}: {Outcome(movement.reason).label.lower()}." if movement.reason else ""
    done = done or f"{kept.quantity} × {kept.item.name} used."
    if place is None:
        return done
    held = Item.objects.with_quantity_at(place.pk).get(pk=kept.item_id).here
    if held >= 0:
        return done
    return f"{done} The books of {place.name} held only {held + kept.quantity}. It is kept; count the van when you can."
