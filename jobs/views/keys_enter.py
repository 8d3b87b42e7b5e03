"""What is known of a key, entered on the phone: a code, a lock that was read, a worn key that was measured."""

from collections.abc import Callable
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods

from jobs.actions import record_code, record_known_cuts, record_readings
from jobs.forms.keys import CodeForm, CutsForm, ReadingsForm
from jobs.models import KeyWork, Visit
from jobs.views.keys import frame, key_address, key_page
from shop.errors import Refused
from shop.forms import PlainForm
from shop.http import render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest
from vehicles.code_books import has_book
from vehicles.keys import BadReadings, KeysError, KeySystem, UnitsDoubt
from vehicles.models import KeySystemSheet
from vehicles.workbench import BadEntry


@key_page
@require_http_methods(["GET", "POST"])
def key_code(request: StaffRequest, visit: Visit) -> HttpResponse:
    work, _ = _work(visit)
    form = CodeForm(request.POST or None)

    def do() -> None:
        kept = record_code(visit.job, actor=request.user, visit=visit, **form.cleaned_data)
        if kept.trials is None and kept.left is None:
            tell(request, "No code book has this code. Read a lock, or measure a key.")

    if request.method == "POST" and form.is_valid():
        done = _done(request, visit, form, do)
        if done:
            return done
    return render_form(request, "jobs/key/code.html", {**frame(visit, work), "form": form})


@key_page
@require_http_methods(["GET", "POST"])
def key_cuts(request: StaffRequest, visit: Visit) -> HttpResponse:
    """The cuts that a lock gave, picked cut by cut."""
    work, sheet = _work(visit)
    system, books = sheet.system, has_book(sheet)
    lock = request.POST.get("lock", request.GET.get("lock", _likeliest(system)))
    lock = lock if lock in system.locks else ""
    form = CutsForm(request.POST or None, system=system, has_book=books)

    def do() -> None:
        in_books = bool(form.cleaned_data.get("in_books"))
        record_known_cuts(visit.job, actor=request.user, known=form.known, lock=lock, in_books=in_books, visit=visit)

    if request.method == "POST" and form.is_valid():
        done = _done(request, visit, form, do)
        if done:
            return done
    reads = system.locks.get(lock) or tuple(range(1, system.cuts + 1))
    cuts = [form[f"cut_{spot.position}"] for spot in system.spots]
    shown = {
        "lock": lock,
        "locks": sorted(system.locks, key=lambda name: (len(system.locks[name]), name)),
        "read": [cut for place, cut in enumerate(cuts, 1) if place in reads],
        "unread": [cut for place, cut in enumerate(cuts, 1) if place not in reads],
    }
    return render_form(request, "jobs/key/cuts.html", {**frame(visit, work), "form": form, **shown})


@key_page
@require_http_methods(["GET", "POST"])
def key_readings(request: StaffRequest, visit: Visit) -> HttpResponse:
    """Caliper readings, typed cut by cut; ones that look like another unit are asked about."""
    work, sheet = _work(visit)
    system = sheet.system
    form = ReadingsForm(request.POST or None, system=system, has_book=has_book(sheet))
    context: dict[str, Any] = {**frame(visit, work), "form": form}
    wrong: tuple[int, ...] = ()

    def do() -> None:
        facts = form.cleaned_data
        record_readings(
            visit.job,
            actor=request.user,
            readings_mm=form.readings_mm,
            from_lock=facts["source"] == "lock",
            in_books=bool(facts.get("in_books")),
            visit=visit,
        )

    if request.method == "POST" and form.is_valid():
        try:
            done = _done(request, visit, form, do)
            if done:
                return done
        except UnitsDoubt as doubt:
            # The figures as they would be in mm, to be sent again when the person agrees.
            meant = ["" if value is None else f"{value:f}" for value in doubt.readings_mm]
            context |= {"doubt": str(doubt), "meant": meant}
        except (BadReadings, BadEntry) as error:
            wrong = error.positions if isinstance(error, BadReadings) else (error.position,)
            form.add_error(None, str(error))
        except KeysError as error:
            form.add_error(None, str(error))
    context["cells"] = _cells(system, form.texts if form.is_bound else [""] * system.cuts, wrong)
    if "doubt" in context:
        return render(request, "jobs/key/readings.html", context, status=422)
    return render_form(request, "jobs/key/readings.html", context)


def _work(visit: Visit) -> tuple[KeyWork, KeySystemSheet]:
    """The key work with its key system, which is chosen before anything is entered."""
    works = KeyWork.objects.select_related("key_system").filter(key_system__isnull=False)
    work: KeyWork = get_object_or_404(works, job=visit.job)
    assert work.key_system is not None
    return work, work.key_system


def _done(request: StaffRequest, visit: Visit, form: PlainForm, do: Callable[[], None]) -> HttpResponse | None:
    """The way back to the next step when it was done; None with the refusal on the form."""

    def and_back() -> str:
        do()
        return key_address(visit)

    try:
        return see(request, once(request, and_back))
    except Refused as refused:
        form.refuse(refused)
    return None


def _likeliest(system: KeySystem) -> str:
    """The lock that technicians read first: a door, else the one that reads fewest cuts."""
    doors = [name for name in system.locks if "door" in name]
    return min(doors or system.locks, key=lambda name: len(system.locks[name]), default="")


def _cells(system: KeySystem, texts: list[str], wrong: tuple[int, ...]) -> list[dict[str, Any]]:
    return [
        {
            "name": f"reading_{spot.position}",
            "position": spot.position,
            "words": spot.words,
            "value": text,
            "is_wrong": spot.position in wrong,
            "starts_edge": spot.starts_edge and spot.edge > 1,
        }
        for spot, text in zip(system.spots, texts, strict=True)
    ]
