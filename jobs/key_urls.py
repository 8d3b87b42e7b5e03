"""Addresses of the key of a job."""

from django.urls import path

from jobs.views import keys, keys_desk, keys_enter, keys_try

urlpatterns = [
    path("round/<int:visit_id>/key", keys.key, name="key"),
    path("round/<int:visit_id>/key/systems", keys.key_systems, name="key_systems"),
    path("round/<int:visit_id>/key/systems/<int:pk>", keys.key_system, name="key_system"),
    path("round/<int:visit_id>/key/known", keys.key_ways, name="key_ways"),
    path("round/<int:visit_id>/key/earlier/<int:pk>", keys.key_earlier, name="key_earlier"),
    path("round/<int:visit_id>/key/code", keys_enter.key_code, name="key_code"),
    path("round/<int:visit_id>/key/cuts", keys_enter.key_cuts, name="key_cuts"),
    path("round/<int:visit_id>/key/readings", keys_enter.key_readings, name="key_readings"),
    path("round/<int:visit_id>/key/blank", keys_try.key_blank, name="key_blank"),
    path("round/<int:visit_id>/key/answer", keys_try.key_answer, name="key_answer"),
    path("round/<int:visit_id>/key/undo", keys_try.key_undo, name="key_undo"),
    path("round/<int:visit_id>/key/broke", keys_try.key_broke, name="key_broke"),
    path("round/<int:visit_id>/key/final", keys_try.key_final, name="key_final"),
    path("round/<int:visit_id>/key/final/spoiled", keys_try.key_spoiled, name="key_spoiled"),
    path("jobs/<int:number>/key", keys_desk.key_panel, name="key_panel"),
    path("jobs/<int:number>/key/open", keys_desk.key_open, name="key_open"),
    path("jobs/<int:number>/key/leave", keys_desk.key_leave, name="key_leave"),
    path("vehicles/<int:vehicle_id>/jobs", keys_desk.vehicle_panel, name="vehicle_panel"),
]
