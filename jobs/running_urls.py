"""Addresses of procedures being run."""

from django.urls import path

from jobs.views import family_history, running

urlpatterns = [
    path("round/<int:visit_id>/procedure", running.procedure, name="procedure"),
    path(
        "round/<int:visit_id>/procedure/variant/<int:variant_id>", running.procedure_variant, name="procedure_variant"
    ),
    path("round/<int:visit_id>/procedure/begin/<int:version_id>", running.begin_procedure, name="begin_procedure"),
    path("round/<int:visit_id>/procedure/<int:run_id>", running.run, name="run"),
    path("round/<int:visit_id>/procedure/<int:run_id>/mark", running.mark, name="mark_step"),
    path("round/<int:visit_id>/procedure/<int:run_id>/end", running.end, name="end_run"),
    path("jobs/history", family_history.family_history, name="family_history"),
]
