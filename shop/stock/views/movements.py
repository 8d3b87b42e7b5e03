"""One item is received, moved, counted or spoiled."""

from collections.abc import Callable
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from shop.errors import Refused
from shop.forms import PlainForm
from shop.http import render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest, office
from shop.stock import actions
from shop.stock.forms.movements import CountForm, MoveForm, ReceiveForm, SpoilForm
from shop.stock.models import Balance, Item


@office
@require_http_methods(["GET", "POST"])
def receive(request: StaffRequest, pk: int) -> HttpResponse:
    kept = get_object_or_404(Item, pk=pk)

    def do(facts: dict[str, Any]) -> str:
        actions.receive(kept, actor=request.user, **facts)
        return f"{facts['quantity']} received at {facts['place']}."

    return _act(request, kept, ReceiveForm(request.POST or None), do, "Receive")


@office
@require_http_methods(["GET", "POST"])
def move(request: StaffRequest, pk: int) -> HttpResponse:
    kept = get_object_or_404(Item, pk=pk)

    def do(facts: dict[str, Any]) -> str:
        actions.move(kept, actor=request.user, **facts)
        return f"{facts['quantity']} moved from {facts['origin']} to {facts['target']}."

    return _act(request, kept, MoveForm(request.POST or None), do, "Move")


@office
@require_http_methods(["GET", "POST"])
def count(request: StaffRequest, pk: int) -> HttpResponse:
    kept = get_object_or_404(Item, pk=pk)

    def do(facts: dict[str, Any]) -> str:
        return count_words(actions.count(kept, actor=request.user, **facts), facts["counted"])

    return _act(request, kept, CountForm(request.POST or None), do, "Count")


@office
@require_http_methods(["GET", "POST"])
def spoil(request: StaffRequest, pk: int) -> HttpResponse:
    kept = get_object_or_404(Item, pk=pk)

    def do(facts: dict[str, Any]) -> str:
        actions.spoil(kept, actor=request.user, **facts)
        return f"{facts['quantity']} spoiled at {facts['place']}."

    return _act(request, kept, SpoilForm(request.POST or None), do, "Write off")


def count_words(movement: Any, counted: int) -> str:
    """What a count changed."""
    if movement is None:
        return f"Counted {counted}, as the books said."
    more = abs(movement.quantity)
    return f"Counted {counted}: {more} {'more' if movement.quantity > 0 else 'fewer'} than the books said."


def _act(
    request: StaffRequest, kept: Item, form: PlainForm, act: Callable[[dict[str, Any]], str], title: str
) -> HttpResponse:
    def do() -> str:
        tell(request, act(form.cleaned_data))
        return reverse("stock:item", args=[kept.pk])

    if request.method == "POST" and form.is_valid():
        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    balances = Balance.objects.filter(item=kept).select_related("place").order_by("place__kind", "place__name")
    return render_form(request, "stock/act.html", {"item": kept, "form": form, "title": title, "balances": balances})
