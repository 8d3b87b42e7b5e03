"""What a technician writes down about a visit: a note, a photo, the VIN, the times as they were."""

from collections.abc import Callable
from typing import Any

from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from jobs.actions import add_note, add_photo, correct_times, record_vin
from jobs.forms.closing import NoteForm
from jobs.forms.photo import PhotoForm
from jobs.forms.times import TimesForm
from jobs.forms.vin import VinForm
from jobs.models import Visit
from jobs.views.own import on_own_visit
from shop.errors import Refused
from shop.forms import PlainForm
from shop.http import render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest

TIMES = ("set_off_at", "arrived_at", "finished_at")


@on_own_visit
@require_http_methods(["GET", "POST"])
def note(request: StaffRequest, visit: Visit) -> HttpResponse:
    form = NoteForm(request.POST or None)
    form.fields["words"].widget.attrs.update({"rows": 6, "autocapitalize": "sentences", "spellcheck": "true"})

    def keep() -> None:
        add_note(visit.job, actor=request.user, visit=visit, words=form.cleaned_data["words"])
        tell(request, "Note kept.")

    return _form_page(request, visit, form, keep, "jobs/round/note.html")


@on_own_visit
@require_http_methods(["GET", "POST"])
def photo(request: StaffRequest, visit: Visit) -> HttpResponse:
    form = PhotoForm(request.POST, request.FILES) if request.method == "POST" else PhotoForm()

    def keep() -> None:
        add_photo(visit.job, actor=request.user, **form.cleaned_data)
        tell(request, "Photo kept.")

    return _form_page(request, visit, form, keep, "jobs/round/photo.html")


@on_own_visit
@require_http_methods(["GET", "POST"])
def vin(request: StaffRequest, visit: Visit) -> HttpResponse:
    known = visit.job.vehicle.vin if visit.job.vehicle else ""
    form = VinForm(request.POST or None, initial={"vin": known})

    def keep() -> None:
        record_vin(visit.job, actor=request.user, vin=form.cleaned_data["vin"], visit=visit)
        tell(request, " ".join(["VIN kept.", *form.reading.warnings]))

    return _form_page(request, visit, form, keep, "jobs/round/vin.html")


@on_own_visit
@require_http_methods(["GET", "POST"])
def times(request: StaffRequest, visit: Visit) -> HttpResponse:
    form = TimesForm(request.POST or None, initial={name: getattr(visit, name) for name in TIMES})

    def keep() -> None:
        correct_times(visit, actor=request.user, **form.cleaned_data)
        tell(request, "Times kept.")

    return _form_page(request, visit, form, keep, "jobs/round/times.html")


def _form_page(
    request: StaffRequest, visit: Visit, form: PlainForm, keep: Callable[[], None], template: str, **more: Any
) -> HttpResponse:
    """A page with one form of a visit; once it is kept, the visit is shown again."""

    def do() -> str:
        keep()
        return reverse("jobs:visit", args=[visit.pk])

    if request.method == "POST" and form.is_valid():
        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, template, {"visit": visit, "job": visit.job, "form": form, **more})
