"""Addresses of authority, record rules and openings; part of the jobs app's."""

from django.urls import path

from jobs.views import authority, authority_desk, guarded, openings, record_rules, work_order

urlpatterns = [
    path("round/<int:visit_id>/authority", authority.authority, name="authority"),
    path("round/<int:visit_id>/authority/vins", authority.vins, name="authority_vins"),
    path("jobs/<int:number>/authority", authority_desk.panel, name="authority_panel"),
    path("jobs/<int:number>/authority/answer", authority_desk.answer, name="authority_answer"),
    path("jobs/<int:number>/identity", guarded.identity, name="identity"),
    path("jobs/<int:number>/work-order", work_order.work_order, name="work_order"),
    path("authority/<int:check_id>/signature", guarded.signature, name="authority_signature"),
    path("authority/papers/<int:paper_id>", guarded.paper_photo, name="authority_photo"),
    path("openings", openings.openings, name="openings"),
    path("rules", record_rules.rules, name="rules"),
    path("rules/<int:rule_id>", record_rules.rule, name="rule"),
    path("rules/<int:rule_id>/follow", record_rules.choose, name="choose_rule"),
    path("rules/<int:rule_id>/copy", record_rules.copy, name="copy_rule"),
    path("rules/<int:rule_id>/change", record_rules.edit, name="edit_rule"),
]
