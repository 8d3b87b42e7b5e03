"""A job's desk page: what it shows, what can be corrected, who may see it."""

import re
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.actions import add_note, add_photo, arrive, change_job, finish_visit, set_off, spoil_part, use_part
from jobs.models import EventKind, Visit
from shop.stock.actions import receive
from shop.stock.models import Item, ItemKind, Place, PlaceKind
from tests import cast
from tests.jobs.desk import MINUTE, at, booked, call, on_shift, shop
from vehicles.actions import add_vehicle

pytestmark = pytest.mark.django_db
# The VIN worked out in full in 49 CFR 565's check-digit example, as printed in many textbooks: valid digit X.
VIN = "1M8GDM9AXKP042788"


@pytest.fixture(autouse=True)
def tuesday() -> None:
    shop()


@pytest.fixture
def desk() -> Client:
    return cast.signed_in(cast.office(name="Nell Osgood"))


def worked(**facts: object) -> Visit:
    """A finished visit: set off 09:40, arrived 10:05, finished 10:50."""
    visit = booked(on_shift(name="Ines Moor"), at("10:00"), **facts)  # type: ignore[arg-type]
    visit = arrive(set_off(visit, actor=None, at=at("09:40")), actor=None, at=at("10:05"))
    return finish_visit(visit, actor=visit.technician, at=at("10:50"))


def full_job(parts: int = 1) -> Visit:
    """A finished job with a vehicle, a note, parts used and spoiled."""
    visit = worked(street="Mill Lane 14", town="Saltby", latitude="40.010000", longitude="-75.020000")
    vehicle = add_vehicle(actor=None, customer=visit.job.customer, plate="KLM 204", vin=VIN)
    type(visit.job).objects.filter(pk=visit.job_id).update(vehicle=vehicle)
    item = Item.objects.create(
        number=f"TB-{parts}", name="Transponder blank", kind=ItemKind.TRANSPONDER_BLANK, price=42
    )
    van = Place.objects.create(name=f"Van {parts}", kind=PlaceKind.VAN)
    receive(item, actor=None, place=van, quantity=20, unit_cost=Decimal("10.50"))
    for _ in range(parts):
        use_part(visit.job, actor=None, item=item, quantity=1, place=van, visit=visit)
        spoil_part(visit.job, actor=None, item=item, quantity=1, place=van, reason="miscut", visit=visit)
        add_note(visit.job, actor=visit.technician, words="Dog in the yard.")
    return visit


def test_office_and_owner_see_a_job_and_a_technician_does_not_see_this_page() -> None:
    job = call()
    url = f"/jobs/{job.number}"
    assert cast.signed_in(cast.office()).get(url).status_code == 200
    assert cast.signed_in(cast.owner()).get(url).status_code == 200
    assert cast.signed_in(cast.technician()).get(url).status_code == 403
    assert Client().get(url).status_code == 302
    assert cast.signed_in(cast.office()).get("/jobs/99999").status_code == 404
    assert cast.signed_in(cast.office()).post(url).status_code == 405


def test_the_ticket_shows_promise_place_vehicle_times_parts_and_events(desk: Client) -> None:
    visit = full_job()
    page = desk.get(f"/jobs/{visit.job.number}").content.decode()
    assert "<span>1M8</span><span>GDM9AX</span><span>KP04</span><span>2788</span>" in page
    assert "geo:40.010000,-75.020000" in page
    for words in ("Mill Lane 14, Saltby", "09:40", "10:05", "10:50", "Transponder blank", "Spoiled: miscut", "Van 1"):
        assert words in page
    assert "Ines Moor, Tue 3 Mar 10:00 to 11:00" in page
    assert "Dog in the yard." in page
    assert f'hx-get="/jobs/{visit.job.number}/money"' in page


def test_a_comeback_and_what_came_back_point_to_each_other(desk: Client) -> None:
    first = worked().job
    again = call(customer=first.customer, comeback_of=first)
    assert f'comeback of <a href="/jobs/{first.number}">' in desk.get(f"/jobs/{again.number}").content.decode()
    assert f'<a href="/jobs/{again.number}">{again.number}</a>' in desk.get(f"/jobs/{first.number}").content.decode()


def test_the_page_asks_the_database_the_same_for_one_row_and_three(desk: Client) -> None:
    counts = []
    for parts in (1, 3):
        visit = full_job(parts)
        desk.get(f"/jobs/{visit.job.number}")
        with CaptureQueriesContext(connection) as found:
            desk.get(f"/jobs/{visit.job.number}")
        counts.append(len(found))
    assert counts == [10, 10]


def test_times_are_corrected_with_a_reason_and_wrong_ones_said_beside_the_field(desk: Client) -> None:
    visit = worked()
    url = f"/visits/{visit.pk}/times"
    sent = {"set_off_at": "2026-03-03T09:30", "arrived_at": "2026-03-03T10:05", "finished_at": "2026-03-03T10:40"}
    refused = desk.post(url, {**sent, "finished_at": "2026-03-03T10:00"})
    assert refused.status_code == 422
    assert "The finish is before the arrival." in refused.content.decode()
    done = desk.post(url, {**sent, "reason": "Tapped late"})
    assert done.headers["Location"] == f"/jobs/{visit.job.number}"
    visit.refresh_from_db()
    assert (visit.set_off_at, visit.finished_at) == (at("09:30"), at("10:40"))
    page = desk.get(f"/jobs/{visit.job.number}").content.decode()
    assert "Finished: Tue 3 Mar 10:50 → Tue 3 Mar 10:40" in page


def test_facts_are_changed_and_the_page_tells_old_and_new(desk: Client) -> None:
    job = call(street="Mill Lane 14")
    sent = {
        "kind_of_work": "all_keys_lost",
        "locked_in": "nobody",
        "payer": "caller",
        "expected_minutes": "90",
        "street": "Quay Street 2",
        "point": "geo:40.01,-75.02",
        "caller_phone": "(201) 555-0123",
        "promise_from": "2026-03-03T10:00",
        "promise_until": "2026-03-03T11:00",
        "form_key": cast.once_key(),
    }
    for _ in range(2):
        answer = desk.post(f"/jobs/{job.number}/change", sent)
        assert answer.headers["Location"] == f"/jobs/{job.number}"
    job.refresh_from_db()
    assert (job.caller_phone, job.latitude, job.promise_until) == ("+12015550123", Decimal("40.01"), at("11:00"))
    assert job.events.filter(kind=EventKind.CHANGED).count() == 1
    page = desk.get(f"/jobs/{job.number}").content.decode()
    assert "Street: Mill Lane 14 → Quay Street 2" in page
    assert "Kind of work: Lock-out → All keys lost" in page


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"promise_from": "2026-03-03T12:00"}, "The end of the promise is before its beginning."),
        ({"promise_from": ""}, "A promise has a beginning and an end."),
        ({"point": "somewhere"}, "Those are no coordinates"),
        ({"caller_phone": "call me"}, "A phone number has no letters"),
        ({"expected_minutes": "-3"}, "At least 5."),
        ({"kind_of_work": "magic"}, "Select a valid choice"),
    ],
)
def test_nonsense_among_the_facts_is_refused_and_nothing_changed(
    desk: Client, wrong: dict[str, str], words: str
) -> None:
    job = call()
    sent = {
        "kind_of_work": "rekey",
        "locked_in": "nobody",
        "payer": "caller",
        "expected_minutes": "60",
        "promise_from": "2026-03-03T10:00",
        "promise_until": "2026-03-03T11:00",
    }
    answer = desk.post(f"/jobs/{job.number}/change", {**sent, **wrong})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert job.events.count() == 1


def test_actions_from_the_job_page_lead_back_to_it(desk: Client) -> None:
    ines, job = on_shift(), call()
    sent = {"technician": ines.pk, "start": "2026-03-03T10:00", "minutes": 60}
    assert desk.post(f"/jobs/{job.number}/book", sent).headers["Location"] == f"/jobs/{job.number}"
    second = call()
    clash = desk.post(f"/jobs/{second.number}/book", sent)
    assert clash.status_code == 422
    assert f"already has job {job.number}" in clash.content.decode()
    assert f'action="/visits/{job.visits.get().pk}/move"' in desk.get(f"/jobs/{job.number}").content.decode()


# Handing over a file ends with its close, which gives the connection back: not inside a test's own transaction.
@pytest.mark.django_db(transaction=True)
def test_a_photo_is_shown_to_the_office_and_to_whoever_visits_and_to_nobody_else(
    desk: Client, tmp_path: Path, settings: object
) -> None:
    settings.MEDIA_ROOT = tmp_path  # type: ignore[attr-defined]
    visit = worked()
    photo = add_photo(visit.job, actor=None, file=ContentFile(b"\x89PNG", name="lock.png"))
    text = add_photo(visit.job, actor=None, file=ContentFile(b"<script>", name="lock.html"))
    url = f"/photos/{photo.pk}"
    shown = desk.get(url)
    assert (shown.headers["Content-Type"], shown.content) == ("image/png", b"\x89PNG")
    shown.close()
    own = cast.signed_in(visit.technician).get(url)
    assert own.status_code == 200
    own.close()
    assert cast.signed_in(cast.technician()).get(url).status_code == 404
    assert Client().get(url).status_code == 302
    handed = desk.get(f"/photos/{text.pk}")
    assert handed.headers["Content-Disposition"].startswith("attachment")
    handed.close()


def test_a_day_of_a_visit_in_the_link_is_the_shops_day(desk: Client) -> None:
    # 23:30 UTC on Tuesday is 00:30 on Wednesday in Berlin (UTC+1 in March before the change, IANA Europe/Berlin).
    shop(time_zone="Europe/Berlin")
    visit = booked(on_shift(), at("23:30"))
    assert visit.ends_at - visit.starts_at == timedelta(hours=1) == 60 * MINUTE
    assert f'href="/day/2026-03-04?job={visit.job.number}"' in desk.get(f"/jobs/{visit.job.number}").content.decode()


def as_shown(page: str) -> dict[str, str]:
    """What the form of a page would send if nobody typed: every field, and what each showed."""
    sent = dict.fromkeys(re.findall(r'<textarea[^>]*name="([^"]+)"', page), "")
    sent |= {name: text.strip() for name, text in re.findall(r'<textarea[^>]*name="([^"]+)"[^>]*>([^<]*)<', page)}
    for tag in re.findall(r"<input[^>]*>", page):
        name = re.search(r'name="([^"]+)"', tag)
        value = re.search(r'value="([^"]*)"', tag)
        if name and name[1] not in {"csrfmiddlewaretoken", "form_key"}:
            sent[name[1]] = value[1] if value else ""
    for name, options in re.findall(r'<select name="([^"]+)"[^>]*>(.*?)</select>', page, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options)
        sent[name] = chosen[1] if chosen else ""
    return sent


def test_two_who_change_a_job_at_once_keep_both_changes(desk: Client) -> None:
    job = call(promise_from=at("10:00"), promise_until=at("11:00"))
    url = f"/jobs/{job.number}/change"
    opened = as_shown(desk.get(url).content.decode())
    change_job(job, actor=None, description="Locked twice", caller_phone="+12015550199", promise_until=at("12:00"))
    assert desk.post(url, {**opened, "owner_name": "Ada Vermeer"}).status_code == 302
    job.refresh_from_db()
    assert (job.owner_name, job.description, job.caller_phone) == ("Ada Vermeer", "Locked twice", "+12015550199")
    assert (job.promise_from, job.promise_until) == (at("10:00"), at("12:00"))
