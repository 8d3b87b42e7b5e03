"""The price book: the office reads it, the owner changes it."""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import BadRequest, PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from billing.actions import prices
from billing.forms.prices import AfterHoursForm, BandsForm, LabourBookForm, TaxRateForm
from billing.models import CallOutBand, LabourPrice, TaxRate
from billing.prices import current_book
from billing.views.price_part import find_items
from jobs.states import KindOfWork
from shop.errors import Refused
from shop.http import see, tell, tell_refused, typed
from shop.once import answered, once
from shop.staff.access import StaffRequest, everyone, office, owner
from shop.staff.roles import Role


@office
@require_http_methods(["GET", "POST"])
def price_book(request: StaffRequest) -> HttpResponse:
    """The whole book on one page; `do` of a POST names the part that the owner changes."""
    if request.method == "GET":
        return _page(request)
    if Role.OWNER not in request.user.roles:
        raise PermissionDenied
    write = _WRITES.get(request.POST.get("do", ""))
    if write is None:
        raise BadRequest("No such part of the price book.")
    return write(request)


@owner
@require_POST
def remove_tax_rate(request: StaffRequest, pk: int) -> HttpResponse:
    """Takes back a tax rate that does not hold yet."""
    if before := answered(request):
        return see(request, before)
    rate, book = get_object_or_404(TaxRate, pk=pk), reverse("billing:price_book")

    def do() -> str:
        prices.remove_tax_rate(rate, actor=request.user, today=timezone.localdate())
        tell(request, f"{rate} from {rate.holds_from} is taken back.")
        return book

    try:
        return see(request, once(request, do))
    except Refused as refused:
        tell_refused(request, str(refused))
        return see(request, book)


@everyone
@require_GET
def find_item(request: StaffRequest) -> HttpResponse:
    """Items of the shop with their prices, found while typing two letters (`?q=`)."""
    return render(request, "billing/_items_found.html", {"found": find_items(typed(request))})


def _change_bands(request: StaffRequest) -> HttpResponse:
    form = BandsForm(request.POST)
    if not form.is_valid():
        return _page(request, bands=form)
    return _write(request, "Call-out changed.", prices.set_call_out_bands, bands=form.bands)


def _change_labour(request: StaffRequest) -> HttpResponse:
    form = LabourBookForm(request.POST)
    if not form.is_valid():
        return _page(request, labour=form)
    return _write(request, "Labour changed.", prices.set_labour_prices, prices=form.prices)


def _change_after_hours(request: StaffRequest) -> HttpResponse:
    form = AfterHoursForm(request.POST, book=current_book())
    if not form.is_valid():
        return _page(request, after_hours=form)
    return _write(request, "After hours changed.", prices.change_price_book, **form.cleaned_data)


def _add_tax(request: StaffRequest) -> HttpResponse:
    form = TaxRateForm(request.POST)
    if not form.is_valid():
        return _page(request, tax=form)
    try:
        return _write(request, "Tax rate added.", prices.add_tax_rate, **form.cleaned_data)
    except Refused as refused:
        form.refuse(refused)
        return _page(request, tax=form)


_WRITES: dict[str, Callable[[StaffRequest], HttpResponse]] = {
    "bands": _change_bands,
    "labour": _change_labour,
    "after_hours": _change_after_hours,
    "tax": _add_tax,
}


def _write(request: StaffRequest, words: str, action: Callable[..., Any], **facts: Any) -> HttpResponse:
    def do() -> str:
        action(actor=request.user, **facts)
        tell(request, f"{words} Prices told before keep theirs.")
        return reverse("billing:price_book")

    return see(request, once(request, do))


def _page(request: StaffRequest, **sent: Any) -> HttpResponse:
    book = current_book()
    context: dict[str, Any] = {
        "may_change": Role.OWNER in request.user.roles,
        "book": book,
        "rates": TaxRate.objects.all(),
        "today": timezone.localdate(),
    }
    if context["may_change"]:
        context |= {
            "bands": sent.get("bands") or BandsForm(),
            "labour": sent.get("labour") or LabourBookForm(),
            "after_hours": sent.get("after_hours") or AfterHoursForm(book=book),
            "tax": sent.get("tax") or TaxRateForm(initial={"holds_from": timezone.localdate()}),
        }
    else:
        by_kind = {labour.kind_of_work: labour for labour in LabourPrice.objects.all()}
        context |= {
            "bands_read": CallOutBand.objects.all(),
            "labour_read": [(kind.label, by_kind.get(kind.value)) for kind in KindOfWork],
        }
    return render(request, "billing/price_book.html", context, status=422 if sent else 200)
