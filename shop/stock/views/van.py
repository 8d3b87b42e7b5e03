"""A technician's own van on the phone: what the books say is in it, counted line by line."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from shop.http import render_form, see, tell, typed
from shop.once import once
from shop.staff.access import StaffRequest, technician
from shop.stock.actions import count
from shop.stock.forms.movements import VanCountForm
from shop.stock.models import Balance, Place
from shop.stock.reads import van_lines
from shop.stock.views.movements import count_words


@technician
@require_safe
def van(request: StaffRequest) -> HttpResponse:
    return _page(request, Place.objects.filter(driver=request.user).first())


@technician
@require_POST
def count_van(request: StaffRequest, item_id: int) -> HttpResponse:
    line = get_object_or_404(
        Balance.objects.select_related("item", "place"), place__driver=request.user, item_id=item_id
    )
    form = VanCountForm(request.POST)
    if not form.is_valid():
        return _page(request, line.place, form=form, counted=item_id)

    def do() -> str:
        counted = form.cleaned_data["counted"]
        moved = count(line.item, actor=request.user, place=line.place, counted=counted)
        tell(request, f"{line.item.name}. {count_words(moved, counted)}")
        return f"{reverse('stock:van')}#item-{item_id}"

    return see(request, once(request, do))


def _page(
    request: StaffRequest, place: Place | None, *, form: VanCountForm | None = None, counted: int | None = None
) -> HttpResponse:
    text = typed(request)
    lines = van_lines(place, text) if place else []
    context = {"place": place, "lines": lines, "text": text, "form": form, "counted": counted}
    return render_form(request, "stock/van.html", context)
