"""Families and procedures to and from the open file that shops share."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from shop.errors import Refused
from shop.http import render_form, see, tell
from shop.models import Shop
from shop.once import once
from shop.staff.access import StaffRequest, office
from vehicles.actions.exchange import take_in_families
from vehicles.exchange import BadExchange, plan_exchange, read_exchange, write_exchange
from vehicles.know_forms import ExchangeForm
from vehicles.models import VehicleFamily
from vehicles.reads_exchange import family_facts, what_is_here

TEMPLATE = "vehicles/know/import.html"


@office
@require_safe
def export(request: StaffRequest) -> HttpResponse:
    """Every family, or the one of `family`, with its procedures in force."""
    families = VehicleFamily.objects.order_by("make", "name")
    pk = request.GET.get("family", "")
    if pk.isascii() and pk.isdecimal() and len(pk) < 10:
        families = families.filter(pk=get_object_or_404(VehicleFamily, pk=int(pk)).pk)
    now = timezone.localtime()
    text = write_exchange(
        family_facts(families), shop=Shop.current().name, written_at=now.isoformat(timespec="seconds")
    )
    response = HttpResponse(text, content_type="application/json; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="vehicle-families-{now:%Y-%m-%d}.json"'
    return response


@office
@require_http_methods(["GET", "POST"])
def bring_in(request: StaffRequest) -> HttpResponse:
    """A file is laid beside the shop's own first; sent again with `take` it is taken in."""
    form = ExchangeForm(request.POST or None, request.FILES or None)
    context: dict[str, Any] = {"form": form}
    if request.method != "POST" or not form.is_valid():
        return render_form(request, TEMPLATE, context)
    try:
        families = read_exchange(form.cleaned_data["text"])
    except BadExchange as bad:
        for fault in bad.faults:
            form.add_error("file", fault)
        return render_form(request, TEMPLATE, context)
    name = form.cleaned_data["file_name"]
    if request.POST.get("take"):

        def do() -> str:
            taken = take_in_families(
                families,
                actor=request.user,
                replace=frozenset(request.POST.getlist("replace")),
                shown=request.POST.get("shown", ""),
                source=name or "a file",
            )
            tell(
                request,
                f"{len(taken)} famil{'ies' if len(taken) != 1 else 'y'} taken in. Procedures wait to be accepted.",
            )
            return reverse("vehicles:families")

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    seen = what_is_here()
    plans = plan_exchange(families, seen.here)
    context |= {"plans": plans, "shown": seen.fingerprint, "text": form.cleaned_data["text"], "file_name": name}
    context["brings_something"] = any(plan.brings_something for plan in plans)
    context["replaced"] = request.POST.getlist("replace")
    return render(request, TEMPLATE, context, status=422 if form.errors else 200)
