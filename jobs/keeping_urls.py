"""Addresses of keeping, holds, a customer's data and inspection; part of the jobs app's."""

from django.urls import path

from jobs.views import customer_data, inspection, keeping

urlpatterns = [
    path("keeping", keeping.keeping, name="keeping"),
    path("keeping/decisions", keeping.decisions, name="keeping_decisions"),
    path("keeping/holds/add", keeping.hold, name="add_hold"),
    path("keeping/holds/<int:hold_id>/lift", keeping.lift, name="lift_hold"),
    path("keeping/exports/<int:export_id>", customer_data.export_file, name="export_file"),
    path("keeping/exports/<int:export_id>/state", customer_data.export_state, name="export_state"),
    path("customers/<int:customer_id>/data", customer_data.customer_data, name="customer_data"),
    path("inspection", inspection.inspection, name="inspection"),
    path("keeping/notes", keeping.owner_notes, name="owner_notes"),
    path("inspection/requests/add", inspection.add_request, name="add_inspection_request"),
    path("inspection/requests/<int:request_id>", inspection.show_request, name="inspection_request"),
    path("inspection/requests/<int:request_id>/open", inspection.open_records, name="open_inspection"),
    path("inspection/requests/<int:request_id>/sheet", inspection.sheet, name="inspection_sheet"),
    path("inspection/requests/<int:request_id>/csv", inspection.as_csv, name="inspection_csv"),
]
