"""The check of a job as the desk sees it, and the owner's answer to an exception."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from jobs.actions import allow_exception, decline_exception
from jobs.authority import current_rule, needs_check
from jobs.forms.reason import AnswerForm
from jobs.models import AuthorityCheck, Job, Outcome
from jobs.record_rules import ExceptionKind
from shop.errors import Refused
from shop.http import is_htmx, render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest, office, owner


@office
@never_cache
@require_safe
def panel(request: StaffRequest, number: int) -> HttpResponse:
    """How the check stands; what is sealed is not shown here."""
    job = get_object_or_404(Job.objects.for_user(request.user).select_related("vehicle"), number=number)
    return render(request, "jobs/authority/desk.html", _context(request, job))


@owner
@never_cache
@require_http_methods(["GET", "POST"])
def answer(request: StaffRequest, number: int) -> HttpResponse:
    """The owner lets the job through with a reason, or does not."""
    job = get_object_or_404(Job.objects.for_user(request.user).select_related("vehicle"), number=number)
    check: AuthorityCheck | None = AuthorityCheck.objects.of(job)
    asked = check if check and check.outcome == Outcome.ASKED else None
    form = AnswerForm(request.POST or None, initial={"exception": asked.exception if asked else ExceptionKind.OWNER})
    form.fields["reason"].label = "Why, if not for the technician's reason" if asked else "Why"

    def do() -> str:
        if request.POST.get("do") == "decline":
            decline_exception(job, actor=request.user, reason=form.cleaned_data["reason"])
            tell(request, "The exception is declined.")
        else:
            allow_exception(job, actor=request.user, **form.cleaned_data)
            tell(request, "The exception is made. The job may go on.")
        return reverse("jobs:show", args=[job.number])

    if request.method == "POST" and form.is_valid():
        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "jobs/authority/answer.html", {**_context(request, job), "form": form})


def _context(request: StaffRequest, job: Job) -> dict[str, object]:
    checks = list(AuthorityCheck.objects.filter(job=job).select_related("rule", "by").order_by("-pk"))
    check = checks[0] if checks else None
    return {
        "job": job,
        "check": check,
        "earlier": checks[1:],
        "rule": check.rule if check else current_rule(),
        "is_check_due": job.is_open and needs_check(job, check),
        "is_asked": check is not None and check.outcome == Outcome.ASKED,
        "is_owner": request.user.is_owner,
        "frame": "jobs/authority/bare.html" if is_htmx(request) else "jobs/authority/page.html",
    }
