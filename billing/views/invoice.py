"""One invoice: the draft that is changed, the one question before it is issued, the issued paper, its payments."""

from collections.abc import Callable
from decimal import Decimal, InvalidOperation
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from billing import actions
from billing.actions.invoices import parts_not_on, tax_rows, terms_days, totals_now
from billing.errors import TotalMoved
from billing.forms.draft import DraftFactsForm, draft_lines
from billing.forms.payment import PaymentForm
from billing.models import Invoice, InvoiceState, Quotation
from jobs.models import Job
from shop.errors import Refused
from shop.http import render_form, safe_next, see, tell, tell_refused
from shop.money import format_amount
from shop.once import once
from shop.staff.access import StaffRequest, everyone, office


@office
@require_http_methods(["GET", "POST"])
def invoice(request: StaffRequest, invoice_id: int) -> HttpResponse:
    """The draft with its lines to change, or the issued invoice with its payments."""
    found = _invoice(request, invoice_id)
    if found.state == InvoiceState.ISSUED:
        return _issued(request, found)
    lines = draft_lines(found, request.POST or None)
    facts = DraftFactsForm(request.POST or None, initial={"purchase_order": found.purchase_order, "note": found.note})
    if request.method == "POST" and lines.is_valid() and facts.is_valid():

        def do() -> str:
            kept = lines.bill_lines(found)
            actions.change_draft(found, actor=request.user, lines=kept, **facts.cleaned_data)
            if "issue" in request.POST:
                return reverse("billing:issue", args=[found.pk])
            tell(request, "The draft is changed.")
            return reverse("billing:invoice", args=[found.pk])

        try:
            return see(request, once(request, do))
        except Refused as refused:
            facts.refuse(refused)
    context = _about(found) | {"lines": lines, "facts": facts, "pay": PaymentForm(invoice=found)}
    status = 422 if request.method == "POST" else 200
    return render(request, "billing/draft.html", context | {"beyond": parts_not_on(found)}, status=status)


@everyone
@require_http_methods(["GET", "POST"])
def issue(request: StaffRequest, invoice_id: int) -> HttpResponse:
    """Asks once, with the figures that will be on the paper, because this cannot be undone."""
    found = _invoice(request, invoice_id)
    after = safe_next(request, reverse("billing:invoice", args=[found.pk]))
    if found.state == InvoiceState.ISSUED:
        return redirect(after)
    refusal = ""
    if request.method == "POST":

        def do() -> str:
            issued = actions.issue_invoice(found, actor=request.user, seen=seen_total(request.POST.get("seen", "")))
            tell(request, f"Invoice {issued.number} is issued.")
            return after

        try:
            return see(request, once(request, do))
        except Refused as refused:
            refusal = str(refused)
            found = _invoice(request, invoice_id)
    context = (
        _about(found)
        | _figures_now(found)
        | {
            "after": after,
            "refusal": refusal,
            "lines": found.lines.all(),
            "terms_days": terms_days(found),
            "beyond": parts_not_on(found),
            "frame": "shop/base.html" if request.user.is_office or request.user.is_owner else "shop/phone.html",
        }
    )
    return render(request, "billing/issue.html", context, status=409 if refusal else 200)


@everyone
@require_http_methods(["GET", "POST"])
def pay(request: StaffRequest, invoice_id: int) -> HttpResponse:
    """Takes a payment; the form also stands on the pages that post here."""
    found = _invoice(request, invoice_id)
    after = safe_next(request, reverse("billing:invoice", args=[found.pk]))
    form = PaymentForm(request.POST or None, invoice=found)
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            payment = actions.record_payment(found, actor=request.user, **form.cleaned_data)
            tell(request, f"{format_amount(payment.amount, payment.currency)} taken, receipt {payment.number}.")
            return after

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    context = _about(found) | {
        "pay": form,
        "after": after,
        "frame": "shop/base.html" if request.user.is_office or request.user.is_owner else "shop/phone.html",
    }
    return render_form(request, "billing/pay.html", context, form="pay")


@office
@require_POST
def draft(request: StaffRequest, number: int) -> HttpResponse:
    """Draws up the invoice of a job, or brings its draft up to date with the parts used."""
    job = get_object_or_404(Job.objects.for_user(request.user), number=number)

    def do() -> str:
        return reverse("billing:invoice", args=[actions.draft_invoice(job, actor=request.user).pk])

    return _do(request, do, otherwise=reverse("billing:invoices"))


@everyone
@require_POST
def redraft(request: StaffRequest, invoice_id: int) -> HttpResponse:
    """Draws a draft up again from the price told and the parts used."""
    found = _invoice(request, invoice_id)
    here = safe_next(request, reverse("billing:invoice", args=[found.pk]))

    def do() -> str:
        actions.redraft_invoice(found, actor=request.user)
        tell(request, "Drawn up again from the price told and the parts used.")
        return here

    return _do(request, do, otherwise=here)


def _issued(request: StaffRequest, found: Invoice) -> HttpResponse:
    if request.method == "POST":
        tell_refused(request, f"Invoice {found.number} is issued and does not change. Nothing was changed.")
        return see(request, reverse("billing:invoice", args=[found.pk]))
    context = _about(found) | {"lines": found.lines.all(), "pay": PaymentForm(invoice=found)}
    return render(request, "billing/invoice.html", context)


def _invoice(request: StaffRequest, invoice_id: int) -> Invoice:
    found: Invoice = get_object_or_404(Invoice.objects.for_user(request.user).with_parties(), pk=invoice_id)
    return found


def seen_total(text: str) -> Decimal:
    """The total that the page showed, as it sends it back. Raises TotalMoved for anything else."""
    try:
        seen = Decimal(text)
    except InvalidOperation:
        seen = Decimal("NaN")
    if not seen.is_finite():
        raise TotalMoved("This page is from before a change. Nothing was issued; look at the total, then issue it.")
    return seen


def _figures_now(found: Invoice) -> dict[str, Any]:
    """A draft's figures at the rates that will be on the paper, put onto `found`; as kept if that cannot be."""
    if found.state == InvoiceState.ISSUED:
        return {}
    try:
        totals = totals_now(found)
    except Refused:
        return {}
    found.net, found.tax, found.total = totals.net, totals.tax, totals.gross
    difference = None if found.price_told is None else found.total - found.price_told
    return {"taxes": tax_rows(found, totals), "difference": difference}


def _about(found: Invoice) -> dict[str, Any]:
    told = Quotation.objects.standing_of(found.job) if found.job else None
    parts = found.payment_parts.select_related("payment__taken_by").order_by("payment__received_at", "pk")
    difference = None if found.price_told is None else found.total - found.price_told
    return {
        "invoice": found,
        "job": found.job,
        "told": told,
        "difference": difference,
        "taxes": list(found.taxes.all()),
        "payments": list(parts),
    }


def _do(request: StaffRequest, do: Callable[[], str], *, otherwise: str) -> HttpResponse:
    try:
        return see(request, once(request, do))
    except Refused as refused:
        tell_refused(request, str(refused))
        return see(request, otherwise)
