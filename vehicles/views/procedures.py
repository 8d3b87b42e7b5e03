"""A procedure: read, written down for the first time, and proposed anew."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from shop.errors import Refused
from shop.http import see, tell
from shop.once import once
from shop.staff.access import StaffRequest, everyone
from vehicles.actions import add_procedure, propose_version
from vehicles.difference import difference
from vehicles.errors import ChangedMeanwhile
from vehicles.know_forms import BeginProcedureForm
from vehicles.models import Procedure, ProcedureVersion, VehicleFamily
from vehicles.procedure_content import Content
from vehicles.procedure_rules import may_decide
from vehicles.procedure_sheet import ProcedureSheet
from vehicles.reads_know import content_of
from vehicles.states import StepKind, VersionState

TEMPLATE = "vehicles/know/procedure_form.html"


@everyone
@require_safe
def procedure(request: StaffRequest, procedure_id: int) -> HttpResponse:
    """The version in force, or the one of `version`; the newest while none is in force."""
    shown = get_object_or_404(Procedure.objects.select_related("family", "variant"), pk=procedure_id)
    versions = list(shown.versions.with_steps().order_by("-number"))
    version = _chosen(versions, _number(request, "version"))
    content = content_of(version)
    context = {
        "procedure": shown,
        "family": shown.family,
        "versions": versions,
        "version": version,
        "content": content,
        "in_force": next((each for each in versions if each.state == VersionState.ACCEPTED), None),
        "may_decide": may_decide(request.user, version),
    }
    return render(request, "vehicles/know/procedure.html", context)


@everyone
@require_safe
def compare(request: StaffRequest, procedure_id: int) -> HttpResponse:
    """Version `old` beside version `new`."""
    shown = get_object_or_404(Procedure.objects.select_related("family", "variant"), pk=procedure_id)
    versions = list(shown.versions.with_steps().order_by("-number"))
    new = _chosen(versions, _number(request, "new") or versions[0].number)
    old = _chosen(versions, _number(request, "old") or (new.based_on.number if new.based_on else new.number))
    context = {
        "procedure": shown,
        "family": shown.family,
        "versions": versions,
        "old": old,
        "new": new,
        "sides": [("old", old), ("new", new)],
        "left_words": f"Version {old.number}",
        "right_words": f"Version {new.number}",
        "difference": difference(content_of(old), content_of(new)),
        "may_decide": may_decide(request.user, new),
    }
    return render(request, "vehicles/know/compare.html", context)


@everyone
@require_http_methods(["GET", "POST"])
def add(request: StaffRequest, family_id: int) -> HttpResponse:
    """The first version for a kind of work of a family or variant."""
    family = get_object_or_404(VehicleFamily, pk=family_id)
    initial = {"kind_of_work": request.GET.get("kind", ""), "variant": request.GET.get("variant", "")}
    begin = BeginProcedureForm(request.POST or None, initial=initial, family=family)
    sheet = ProcedureSheet.of_post(request.POST) if request.method == "POST" else ProcedureSheet()
    context = {"family": family, "begin": begin, "sheet": sheet, "kinds": StepKind.choices}
    content = _asked_to_keep(request, sheet)
    if content is None or not begin.is_valid():
        return _render(request, context)

    def do() -> str:
        made = add_procedure(family, actor=request.user, content=content, **begin.cleaned_data)
        tell(request, "Proposed. It is used once it is accepted.")
        return reverse("vehicles:procedure", args=[made.pk])

    try:
        return see(request, once(request, do))
    except Refused as refused:
        begin.refuse(refused)
    return _render(request, context)


@everyone
@require_http_methods(["GET", "POST"])
def propose(request: StaffRequest, procedure_id: int) -> HttpResponse:
    """A new version, made out of the one of `from`: the version in force unless told otherwise."""
    shown = get_object_or_404(Procedure.objects.select_related("family", "variant"), pk=procedure_id)
    versions = list(shown.versions.with_steps().order_by("-number"))
    base = _chosen(versions, _number(request, "from"))
    is_post = request.method == "POST"
    sheet = ProcedureSheet.of_post(request.POST) if is_post else ProcedureSheet.of_content(content_of(base))
    seen = _number(request, "seen") if is_post else versions[0].number
    context = {"procedure": shown, "family": shown.family, "base": base, "sheet": sheet, "seen": seen}
    context["kinds"] = StepKind.choices
    content = _asked_to_keep(request, sheet)
    if content is None:
        return _render(request, context)
    if content == content_of(base):
        sheet.errors["steps"] = f"Nothing is different from version {base.number}."
        return _render(request, context)

    def do() -> str:
        words = sheet.head["change_words"]
        made = propose_version(
            shown, actor=request.user, content=content, based_on=base, seen_number=seen, change_words=words
        )
        tell(request, f"Version {made.number} is proposed.")
        return f"{reverse('vehicles:procedure', args=[shown.pk])}?version={made.number}"

    try:
        return see(request, once(request, do))
    except ChangedMeanwhile as changed:
        return _render(request, context | _meanwhile(changed, base, content))


def _meanwhile(changed: ChangedMeanwhile, base: ProcedureVersion, content: Content) -> dict[str, Any]:
    """What others wrote since this author began, each beside what the author started from."""
    others = ProcedureVersion.objects.with_steps().filter(pk__in=[each.pk for each in changed.versions])
    pairs = [(each, difference(content_of(base), content_of(each))) for each in others]
    return {"meanwhile": pairs, "meanwhile_words": str(changed), "seen": max(each.number for each, _ in pairs)}


def _asked_to_keep(request: HttpRequest, sheet: ProcedureSheet) -> Content | None:
    """The content when it is to be kept and nothing is wrong with it; rows are added and moved on the way."""
    if request.method != "POST" or sheet.change(request.POST.get("do", "")):
        return None
    content = sheet.read()
    return content if request.POST.get("do") == "propose" else None


def _render(request: HttpRequest, context: dict[str, Any]) -> HttpResponse:
    sheet: ProcedureSheet = context["sheet"]
    is_wrong = bool(sheet.errors or "meanwhile" in context or any(row.errors for row in sheet.rows))
    begin = context.get("begin")
    is_wrong = is_wrong or bool(begin and begin.is_bound and request.POST.get("do") == "propose" and begin.errors)
    return render(request, TEMPLATE, context, status=422 if is_wrong else 200)


def _chosen(versions: list[ProcedureVersion], number: int | None) -> ProcedureVersion:
    """The version of this number, else the one in force, else the newest."""
    asked = next((each for each in versions if each.number == number), None)
    return asked or next((each for each in versions if each.state == VersionState.ACCEPTED), versions[0])


def _number(request: HttpRequest, name: str) -> int | None:
    text = request.POST.get(name) or request.GET.get(name) or ""
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 7 else None
