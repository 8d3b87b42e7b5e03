from django.urls import path, register_converter

from jobs import authority_urls, keeping_urls, key_urls, running_urls
from jobs.converters import DayConverter
from jobs.views import closing, day, job, jobs_list, photos, visit, visit_parts, visit_records, visits
from jobs.views.round import round_page

register_converter(DayConverter, "day")

app_name = "jobs"
urlpatterns = [
    path("day", day.day, name="day"),
    path("day/<day:day>", day.day, name="day"),
    path("jobs", jobs_list.jobs, name="list"),
    path("jobs/<int:number>", job.show, name="show"),
    path("jobs/<int:number>/change", job.change, name="change"),
    path("jobs/<int:number>/book", visits.book, name="book"),
    path("jobs/<int:number>/close", closing.close, name="close"),
    path("jobs/<int:number>/reopen", closing.reopen, name="reopen"),
    path("jobs/<int:number>/note", closing.note, name="note"),
    path("visits/<int:visit_id>/move", visits.move, name="move"),
    path("visits/<int:visit_id>/unbook", visits.unbook, name="unbook"),
    path("visits/<int:visit_id>/times", visits.times, name="times"),
    path("round", round_page, name="round"),
    path("round/<int:visit_id>", visit.visit_page, name="visit"),
    path("round/<int:visit_id>/set-off", visit.step_set_off, name="set_off"),
    path("round/<int:visit_id>/arrive", visit.step_arrive, name="arrive"),
    path("round/<int:visit_id>/turn-back", visit.step_turn_back, name="turn_back"),
    path("round/<int:visit_id>/note", visit_records.note, name="visit_note"),
    path("round/<int:visit_id>/photo", visit_records.photo, name="visit_photo"),
    path("round/<int:visit_id>/vin", visit_records.vin, name="visit_vin"),
    path("round/<int:visit_id>/times", visit_records.times, name="visit_times"),
    path("round/<int:visit_id>/parts", visit_parts.parts, name="parts"),
    path("round/<int:visit_id>/parts/<int:item_id>", visit_parts.part, name="part"),
    path("round/<int:visit_id>/parts/used/<int:part_id>/back", visit_parts.part_back, name="part_back"),
    path("customers/<int:customer_id>/jobs", jobs_list.customer_panel, name="customer_panel"),
    path("photos/<int:photo_id>", photos.photo, name="photo"),
    *authority_urls.urlpatterns,
    *key_urls.urlpatterns,
    *keeping_urls.urlpatterns,
    *running_urls.urlpatterns,
]
