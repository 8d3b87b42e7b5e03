"""The list of items, one item with its ledger, and what the owner says of it."""

from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from shop.errors import Refused
from shop.http import is_htmx, render_form, see, tell, typed
from shop.models import Shop
from shop.once import once
from shop.staff.access import StaffRequest, office, owner
from shop.stock.actions import add_item, change_item
from shop.stock.forms.catalogue import ItemForm
from shop.stock.models import Item
from shop.stock.reads import SHOWN, chosen, fine_cost, layers_of, ledger_of, page_of_items

FACTS = ("number", "name", "kind", "price", "tax_class", "supplier", "is_active")


@office
@require_safe
def items(request: StaffRequest) -> HttpResponse:
    text = typed(request)
    shown = request.GET.get("show", "")
    page = page_of_items(chosen(shown, text), after=typed(request, "after", most=40), with_value=request.user.is_owner)
    context = {"page": page, "text": text, "shown": shown, "choices": SHOWN}
    return render(request, "stock/items.html#found" if is_htmx(request) else "stock/items.html", context)


@office
@require_safe
def item(request: StaffRequest, pk: int) -> HttpResponse:
    kept = get_object_or_404(Item.objects.select_related("supplier"), pk=pk)
    movements, before = ledger_of(kept, before=_number(request))
    layers = layers_of(kept) if request.user.is_owner else []
    context: dict[str, Any] = {
        "item": kept,
        "balances": kept.balances.select_related("place").order_by("place__kind", "place__name"),
        "movements": movements,
        "before": before,
        "layers": layers,
    }
    context["last_cost"] = fine_cost(kept.last_cost, Shop.current().currency)
    context["value"] = sum((layer.left_cost for layer in layers), Decimal(0))
    return render(request, "stock/item.html", context)


@owner
@require_http_methods(["GET", "POST"])
def add(request: StaffRequest) -> HttpResponse:
    return _item_form(request, ItemForm(request.POST or None), None)


@owner
@require_http_methods(["GET", "POST"])
def change(request: StaffRequest, pk: int) -> HttpResponse:
    kept = get_object_or_404(Item, pk=pk)
    facts: dict[str, Any] = {name: getattr(kept, name) for name in FACTS}
    return _item_form(request, ItemForm(request.POST or None, initial=facts), kept)


def _item_form(request: StaffRequest, form: ItemForm, kept: Item | None) -> HttpResponse:
    def do() -> str:
        facts = form.cleaned_data
        saved = change_item(kept, actor=request.user, **facts) if kept else add_item(actor=request.user, **facts)
        tell(request, f"{saved.number} is kept.")
        return reverse("stock:item", args=[saved.pk])

    if request.method == "POST" and form.is_valid():
        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "stock/item_form.html", {"form": form, "item": kept})


def _number(request: HttpRequest) -> int | None:
    sent = request.GET.get("before", "")
    return int(sent) if sent.isascii() and sent.isdecimal() and len(sent) < 19 else None
