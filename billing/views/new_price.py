"""A new price told on a job, at the desk or on the phone, and the yes to one told before."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from billing.actions import accept_price, tell_price
from billing.forms.lines import row_of
from billing.forms.quotations import AcceptPriceForm, TellPriceForm
from billing.models import Quotation
from billing.prices import distance_words, lines_of, point_of, propose_lines
from billing.views.price_part import PricePart, part_of, typed_part
from billing.views.slip import typed_of
from jobs.models import Job, Visit
from shop.errors import Refused
from shop.http import is_htmx, see, tell, tell_refused
from shop.models import Shop
from shop.once import once
from shop.staff.access import StaffRequest, everyone
from shop.staff.roles import Role


@everyone
@require_http_methods(["GET", "POST"])
def new_price(request: StaffRequest, number: int) -> HttpResponse:
    """The lines of the price told last (or the price book's), to be typed over and told anew. Old prices stay."""
    job = get_object_or_404(Job.objects.for_user(request.user).select_related("customer", "vehicle"), number=number)
    if request.method == "GET":
        return _show(request, job, _first_part(job), TellPriceForm())
    act = request.POST.get("do", "tell")
    typed = {**typed_of(request.POST), "item_q": request.POST.get("item_q", "")}
    part = typed_part(typed, act=act)
    if act != "tell":
        return _show(request, job, part, TellPriceForm(initial=typed), act=act)
    form = TellPriceForm(typed)
    if not part.lines.is_valid() or not form.is_valid():
        return _show(request, job, part, form, is_refused=True)
    return _tell(request, job, part, form)


@everyone
@require_POST
def accept(request: StaffRequest, number: int, pk: int) -> HttpResponse:
    """The yes to a price told before."""
    job = get_object_or_404(Job.objects.for_user(request.user), number=number)
    quotation = get_object_or_404(Quotation.objects.select_related("job"), pk=pk, job=job)
    form = AcceptPriceForm(request.POST)
    if not form.is_valid():
        tell_refused(request, " ".join(str(words) for words in form.errors["accepted_by"]))
        return see(request, back_to_job(request, job))

    def do() -> str:
        accept_price(quotation, actor=request.user, accepted_by=form.cleaned_data["accepted_by"])
        tell(request, "Price accepted.")
        return back_to_job(request, job)

    try:
        return see(request, once(request, do))
    except Refused as refused:
        tell_refused(request, str(refused))
        return see(request, back_to_job(request, job))


def back_to_job(request: StaffRequest, job: Job) -> str:
    """The page of the job for this person: the desk's, or the phone's of their own live visit."""
    if request.user.roles & {Role.OFFICE, Role.OWNER}:
        return reverse("jobs:show", args=[job.number])
    visit = Visit.objects.for_user(request.user).standing().filter(job=job).order_by("-during").first()
    return reverse("jobs:visit", args=[visit.pk]) if visit else reverse("jobs:round")


def _first_part(job: Job) -> PricePart:
    told = Quotation.objects.with_lines().filter(job=job).newest_first().first()
    lines = lines_of(told) if told else propose_lines(job.kind_of_work, at=_time_of(job), point=point_of(job))
    return part_of(row_of(line) for line in lines)


def _time_of(job: Job) -> Any:
    return job.promise_from or job.called_at


def _tell(request: StaffRequest, job: Job, part: PricePart, form: TellPriceForm) -> HttpResponse:
    def do() -> str:
        said = form.said_yes(job.caller_name or job.customer.name)
        tell_price(job, actor=request.user, lines=part.lines.lines(), accepted_by=said)
        tell(request, "Price told and accepted." if said else "Price told. It is not accepted yet.")
        return back_to_job(request, job)

    try:
        return see(request, once(request, do))
    except Refused as refused:
        form.refuse(refused)
        return _show(request, job, part, form, is_refused=True)


def _show(
    request: StaffRequest, job: Job, part: PricePart, form: TellPriceForm, *, act: str = "", is_refused: bool = False
) -> HttpResponse:
    context: dict[str, Any] = {
        "job": job,
        "part": part,
        "form": form,
        "distance": distance_words(Shop.current(), point_of(job)),
        "sum_only": act == "total" and is_htmx(request),
    }
    if act and is_htmx(request):
        return render(request, f"billing/_price.html#{'sum' if act == 'total' else 'price'}", context)
    at_desk = request.user.roles & {Role.OFFICE, Role.OWNER}
    context |= {
        "base": "shop/base.html" if at_desk else "shop/phone.html",
        "at_desk": bool(at_desk),
        "back": back_to_job(request, job),
        "told": Quotation.objects.with_lines().filter(job=job).newest_first(),
    }
    return render(request, "billing/new_price.html", context, status=422 if is_refused else 200)
