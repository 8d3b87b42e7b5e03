"""Looking into the code books, and the owner's page of who looked."""

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from shop.errors import Refused
from shop.http import render_form
from shop.staff.access import StaffRequest, everyone, owner
from shop.staff.roles import Role
from vehicles.cards import cutting_card
from vehicles.code_books import fingerprint, look_for_cuts, look_up
from vehicles.code_table import plain_code
from vehicles.key_forms import CodeLookForm, CutsLookForm
from vehicles.keys import KeysError, parse_bitting
from vehicles.models import CodeBook, CodeBookLook

LOOKS_ON_A_PAGE = 50


@everyone
@require_safe
def code_books(request: StaffRequest) -> HttpResponse:
    return render(request, "vehicles/keys/books.html", _page(request))


@everyone
@sensitive_post_parameters("code")
@require_http_methods(["GET", "POST"])
def look_for_code(request: StaffRequest) -> HttpResponse:
    """A code to its cuts."""
    form = CodeLookForm(request.POST or None)
    context = _page(request) | {"code_form": form}
    if request.method == "POST" and form.is_valid():
        try:
            rows = look_up(actor=request.user, **form.cleaned_data)
            context["asked_code"] = plain_code(form.cleaned_data["code"])
            context["found"] = [(row, cutting_card(row.book.key_system.system, row.labels)) for row in rows]
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "vehicles/keys/books.html", context, form="code_form")


@everyone
@sensitive_post_parameters("cuts")
@require_http_methods(["GET", "POST"])
def look_for_codes(request: StaffRequest) -> HttpResponse:
    """Cuts, some of them unknown, to the codes that have them."""
    form = CutsLookForm(request.POST or None)
    context = _page(request) | {"cuts_form": form}
    if request.method == "POST" and form.is_valid():
        facts = dict(form.cleaned_data)
        sheet, cuts = facts.pop("key_system"), facts.pop("cuts")
        try:
            known = parse_bitting(sheet.system, cuts)
            rows, count = look_for_cuts(sheet, known, actor=request.user, **facts)
            asked = [label or "?" for label in known]
            context |= {"codes": rows, "codes_count": count, "asked_cuts": asked, "asked_system": sheet}
        except KeysError as error:
            form.add_error("cuts", str(error))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "vehicles/keys/books.html", context, form="cuts_form")


def _page(request: StaffRequest) -> dict[str, Any]:
    may_keep = bool(request.user.roles & {Role.OFFICE, Role.OWNER})
    return {
        "books": CodeBook.objects.in_order(),
        "may_keep": may_keep,
        "is_owner": Role.OWNER in request.user.roles,
        "code_form": CodeLookForm(),
        "cuts_form": CutsLookForm(),
    }


@owner
@require_http_methods(["GET", "POST"])
def looks(request: StaffRequest) -> HttpResponse:
    """Every look, the newest first. A code is asked about by POST, so that it stands in no address."""
    rows = CodeBookLook.objects.select_related("person", "book", "key_system").order_by("-looked_at", "-id")
    job = request.GET.get("job", "").replace("\0", "").strip()[:20]
    code = plain_code(request.POST.get("code", "").replace("\0", ""))[:40]
    if job:
        rows = rows.filter(job_number=job)
    if code:
        rows = rows.filter(fingerprint=fingerprint(code))
    page = Paginator(rows, LOOKS_ON_A_PAGE).get_page(request.GET.get("page"))
    return render(request, "vehicles/keys/looks.html", {"page": page, "job": job, "code": code})
