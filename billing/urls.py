from django.urls import URLPattern, path

from billing.views import (
    calls,
    finish,
    handover,
    invoice,
    invoices,
    margins,
    new_price,
    panels,
    papers,
    price_book,
    take_call,
)

app_name = "billing"

CALLS = [
    path("calls", calls.calls, name="calls"),
    path("calls/new", take_call.take_call, name="take_call"),
    path("calls/<uuid:key>/keep", calls.keep_draft, name="keep_draft"),
    path("calls/<uuid:key>/throw-away", calls.throw_away, name="throw_away"),
    path("prices", price_book.price_book, name="price_book"),
    path("prices/items", price_book.find_item, name="find_item"),
    path("prices/taxes/<int:pk>/remove", price_book.remove_tax_rate, name="remove_tax_rate"),
    path("jobs/<int:number>/price", new_price.new_price, name="new_price"),
    path("jobs/<int:number>/price/<int:pk>/accept", new_price.accept, name="accept_price"),
]

MONEY = [
    path("invoices", invoices.invoices, name="invoices"),
    path("invoices/<int:invoice_id>", invoice.invoice, name="invoice"),
    path("invoices/<int:invoice_id>/issue", invoice.issue, name="issue"),
    path("invoices/<int:invoice_id>/redraft", invoice.redraft, name="redraft"),
    path("invoices/<int:invoice_id>/pay", invoice.pay, name="pay"),
    path("invoices/<int:invoice_id>/paper", papers.paper, name="paper"),
    path("invoices/<int:invoice_id>/paper/state", papers.paper_state, name="paper_state"),
    path("payments/<int:payment_id>/receipt", papers.receipt, name="receipt"),
    path("payments/<int:payment_id>/receipt/state", papers.receipt_state, name="receipt_state"),
    path("jobs/<int:number>/invoice", invoice.draft, name="draft"),
    path("jobs/<int:number>/money", panels.job_panel, name="job_panel"),
    path("customers/<int:customer_id>/money", panels.customer_panel, name="customer_panel"),
    path("round/<int:visit_id>/finish", finish.finish, name="finish"),
    path("round/<int:visit_id>/handover", handover.handover, name="handover"),
    path("round/<int:visit_id>/invoice", handover.draft, name="draft_on_round"),
    path("margins", margins.margins, name="margins"),
    path("margins/jobs/<int:number>", margins.margin_job, name="margin_job"),
]

urlpatterns: list[URLPattern] = [*CALLS, *MONEY]
