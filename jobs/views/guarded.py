"""Guarded data of a job is shown only after its opening is written down: the reason is asked once, then it serves."""

from collections.abc import Iterable

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from jobs.actions import open_guarded
from jobs.errors import ReasonNeeded
from jobs.forms.reason import ReasonForm
from jobs.identity import PHOTO_KIND, SIGNATURE_KIND, kinds_of, opened
from jobs.models import AuthorityCheck, AuthorityPhoto, Job
from shop.errors import Refused
from shop.guarded import NotPermitted, Permit
from shop.http import see
from shop.once import once
from shop.staff.access import StaffRequest, roles
from shop.staff.roles import Role


def permit_or_ask(request: StaffRequest, job: Job, kinds: Iterable[str], *, what: str) -> Permit | HttpResponse:
    """A permit where an opening serves already; else the page that asks for the reason, or says that it may not be.

    A POST with `reason` writes the opening and leads back to the same address. `what` ends "You open ...".
    """
    form, status = ReasonForm(request.POST if request.method == "POST" else None), 200
    try:
        if request.method != "POST":
            return open_guarded(job, actor=request.user, kinds=kinds)
        if form.is_valid():
            return see(request, once(request, lambda: _opened(request, job, kinds, form.cleaned_data["reason"])))
        status = 422
    except ReasonNeeded as needed:
        if form.is_bound:
            form.refuse(needed)
    except NotPermitted as refused:
        context = {"job": job, "words": str(refused), "back": _back(request, job)}
        return render(request, "jobs/guarded/refused.html", context, status=403)
    except Refused as refused:
        form.refuse(refused)
        status = 422
    context = {"job": job, "form": form, "what": what, "back": _back(request, job)}
    return render(request, "jobs/guarded/reason.html", context, status=status)


def _opened(request: StaffRequest, job: Job, kinds: Iterable[str], reason: str) -> str:
    open_guarded(job, actor=request.user, kinds=kinds, reason=reason)
    return request.get_full_path()


def _back(request: StaffRequest, job: Job) -> str:
    """The page of the job that this person works with."""
    if request.user.roles & {Role.OFFICE, Role.OWNER}:
        return reverse("jobs:show", args=[job.number])
    visit = job.visits.filter(technician=request.user).order_by("-during").first()
    return reverse("jobs:visit", args=[visit.pk]) if visit else reverse("jobs:round")


@roles(Role.OWNER, Role.TECHNICIAN)
@never_cache
@require_http_methods(["GET", "POST"])
def identity(request: StaffRequest, number: int) -> HttpResponse:
    """Birth date, document number, signature and photos of the check that holds."""
    job = get_object_or_404(Job.objects.for_user(request.user), number=number)
    check = get_object_or_404(AuthorityCheck.objects.filter(job=job).order_by("-pk")[:1])
    leave = permit_or_ask(request, job, kinds_of(check), what="the identity papers of who asked")
    if isinstance(leave, HttpResponse):
        return leave
    context = {"job": job, "check": check, "opened": opened(check, leave), "back": _back(request, job)}
    return render(request, "jobs/guarded/identity.html", context)


@roles(Role.OWNER, Role.TECHNICIAN)
@never_cache
@require_safe
def signature(request: StaffRequest, check_id: int) -> HttpResponse:
    """A drawn signature as a picture, while an opening serves."""
    mine = AuthorityCheck.objects.filter(job__in=Job.objects.for_user(request.user), is_signature_drawn=True)
    check = get_object_or_404(mine.select_related("job"), pk=check_id)
    permit = _permit_for_picture(request, check.job, SIGNATURE_KIND)
    if isinstance(permit, HttpResponse):
        return permit
    return HttpResponse(opened(check, permit).signature_svg, content_type="image/svg+xml")


@roles(Role.OWNER, Role.TECHNICIAN)
@never_cache
@require_safe
def paper_photo(request: StaffRequest, paper_id: int) -> HttpResponse:
    """A photo of papers, while an opening serves."""
    mine = AuthorityPhoto.objects.filter(job__in=Job.objects.for_user(request.user), authority_check__isnull=False)
    photo = get_object_or_404(mine.select_related("job"), pk=paper_id)
    permit = _permit_for_picture(request, photo.job, PHOTO_KIND)
    if isinstance(permit, HttpResponse):
        return permit
    return HttpResponse(photo.read(permit), content_type="image/jpeg", headers={"X-Content-Type-Options": "nosniff"})


def _permit_for_picture(request: StaffRequest, job: Job, kind: str) -> Permit | HttpResponse:
    """A picture has no room to ask for a reason: the page that shows it does."""
    try:
        return open_guarded(job, actor=request.user, kinds=[kind])
    except ReasonNeeded:
        return see(request, reverse("jobs:identity", args=[job.number]))
    except NotPermitted:
        return HttpResponse(status=403)
