"""Who may have this key: the check on the phone."""

from collections.abc import Callable

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from jobs.actions import ask_exception, keep_paper_photo, pass_check, turn_away
from jobs.authority import current_rule, makes_key, needs_check, standing_of, thing_of_job
from jobs.errors import AuthorityLacks
from jobs.forms.authority import ALWAYS, ASK, FIELDS_OF, PASS, TURN_AWAY, CheckForm
from jobs.models import AuthorityCheck, AuthorityPhoto, Job, Outcome, RecordRule, Visit
from jobs.record_rules import to_ask
from jobs.views.own import on_own_visit
from jobs.vin_compare import VinComparison, compare_vins
from shop.errors import Refused
from shop.http import see, tell
from shop.once import once
from shop.staff.access import StaffRequest
from vehicles.vin import read_vin

# The field of the page in which the reason of each act is typed.
REASONS = {TURN_AWAY: "away_reason", ASK: "exception_reason"}
FOLDED = ("document_number", "born_day", "address", "phone", "lock_type", "confirmed_how")


@on_own_visit
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def authority(request: StaffRequest, visit: Visit) -> HttpResponse:
    check = AuthorityCheck.objects.of(visit.job)
    if request.method == "POST":
        return _sent(request, visit)
    if not visit.job.is_open or (check and check.outcome != Outcome.DECLINED and "again" not in request.GET):
        context = {"visit": visit, "job": visit.job, "check": check, "standing": standing_of(check)}
        context["is_check_due"] = visit.job.is_open and needs_check(visit.job, check)
        return render(request, "jobs/authority/standing.html", context)
    return _page(request, visit, CheckForm(job=visit.job))


@on_own_visit
@never_cache
@sensitive_post_parameters()
@require_POST
def vins(request: StaffRequest, visit: Visit) -> HttpResponse:
    """How the VINs typed so far agree, beside the fields."""
    return render(request, "jobs/authority/vins.html", {"vins": _compared(visit.job, request)})


def _sent(request: StaffRequest, visit: Visit) -> HttpResponse:
    do = request.POST.get("do", PASS)
    form = CheckForm(request.POST, request.FILES, job=visit.job, do=do)
    acts: dict[str, Callable[[], str]] = {
        PASS: lambda: _pass(request, visit, form),
        TURN_AWAY: lambda: _turn_away(request, visit, form),
        ASK: lambda: _ask(request, visit, form),
    }
    if form.is_valid() and do in acts:
        try:
            return see(request, once(request, acts[do]))
        except AuthorityLacks as refused:
            return _page(request, visit, form, lacks=refused.lacks)
        except Refused as refused:
            if refused.field == "reason":
                refused.field = REASONS[do]
            form.refuse(refused)
    return _page(request, visit, form)


def _pass(request: StaffRequest, visit: Visit, form: CheckForm) -> str:
    pass_check(visit.job, actor=request.user, visit=visit, facts=form.facts(_photos(request, visit.job, form)))
    tell(request, "Check passed." + (" The key data opens now." if makes_key(visit.job) else ""))
    return reverse("jobs:visit", args=[visit.pk])


def _turn_away(request: StaffRequest, visit: Visit, form: CheckForm) -> str:
    facts = form.facts(_photos(request, visit.job, form))
    turn_away(visit.job, actor=request.user, visit=visit, facts=facts, reason=form.cleaned_data["away_reason"])
    tell(request, f"Job {visit.job.number} is closed: turned away.")
    return reverse("jobs:round")


def _ask(request: StaffRequest, visit: Visit, form: CheckForm) -> str:
    facts = form.facts(_photos(request, visit.job, form))
    check = ask_exception(
        visit.job,
        actor=request.user,
        visit=visit,
        facts=facts,
        exception=form.exception_kind,
        reason=form.cleaned_data["exception_reason"],
    )
    excepted = check.outcome == Outcome.EXCEPTED
    tell(request, "The exception is recorded." if excepted else "The owner is asked. Key data stays shut until then.")
    return reverse("jobs:visit", args=[visit.pk])


def _photos(request: StaffRequest, job: Job, form: CheckForm) -> list[AuthorityPhoto]:
    """Photos kept by an earlier try of this very person, and those just sent."""
    fresh = [keep_paper_photo(job, actor=request.user, file=each) for each in form.cleaned_data.get("photo") or ()]
    return [*_kept(request, job), *fresh]


def _kept(request: StaffRequest, job: Job) -> list[AuthorityPhoto]:
    ids = [int(each) for each in request.POST.getlist("kept_photo") if each.isdigit() and len(each) < 19]
    mine = AuthorityPhoto.objects.filter(job=job, taken_by=request.user, authority_check=None, pk__in=ids)
    return list(mine.order_by("pk"))


def _page(request: StaffRequest, visit: Visit, form: CheckForm, *, lacks: list[str] | None = None) -> HttpResponse:
    """The page with everything still typed; photos that were good are kept for the next try."""
    job, rule = visit.job, current_rule()
    photos = _photos(request, job, form) if form.is_bound and job.is_open else []
    asked = _fields_asked(rule, job)
    form.mark_asked(asked | {*REASONS.values(), "exception", "typed_name", "witness"})
    context = {
        "visit": visit,
        "job": job,
        "form": form,
        "lacks": lacks,
        "photos": photos,
        "rule": rule,
        "vins": _compared(job, request) if form.is_bound else None,
        "asked": asked,
        "has_more": not asked.issuperset(FOLDED),
        "is_vehicle": thing_of_job(job) == "vehicle",
        "is_owner": request.user.is_owner,
    }
    return render(request, "jobs/authority/check.html", context, status=422 if form.is_bound else 200)


def _fields_asked(rule: RecordRule, job: Job) -> frozenset[str]:
    """The fields that stand on the page; the others lie in a fold."""
    asked = to_ask(rule.rule, thing_of_job(job), job.kind_of_work) | ALWAYS
    return frozenset(name for fact, names in FIELDS_OF.items() if fact in asked for name in names)


def _compared(job: Job, request: StaffRequest) -> VinComparison:
    """The VINs typed, as far as they are whole, and the job's."""
    typed = [read_vin(request.POST.get(name, "")) for name in ("vin_on_car", "vin_on_papers")]
    on_car, on_papers = (reading.vin if reading.is_well_formed else "" for reading in typed)
    return compare_vins(on_car=on_car, on_job=job.vehicle.vin if job.vehicle else "", on_papers=on_papers)
