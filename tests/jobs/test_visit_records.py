"""What the technician writes down: notes, photos, the VIN, and times put right."""

from datetime import timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image
from pytest_django import Settings

from jobs.actions import arrive, set_off, unbook_visit
from jobs.models import JobEvent, Photo, Visit
from shop.staff.models import Person
from tests.cast import office, once_key, signed_in, technician
from tests.jobs.round_rows import at, visit_of
from vehicles.models import Vehicle

pytestmark = pytest.mark.django_db


@pytest.fixture
def me() -> Person:
    return technician(name="Jonas Brackwater")


@pytest.fixture
def client(me: Person) -> Client:
    return signed_in(me)


@pytest.fixture(autouse=True)
def files(settings: Settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def send(client: Client, visit: Visit, name: str, **sent: Any) -> Any:
    return client.post(reverse(f"jobs:{name}", args=[visit.pk]), {"form_key": once_key(), **sent})


def picture(name: str = "IMG_1.jpg", kind: str = "JPEG") -> SimpleUploadedFile:
    made = BytesIO()
    Image.new("RGB", (300, 200), "teal").save(made, kind)
    return SimpleUploadedFile(name, made.getvalue(), content_type="image/jpeg")


def test_note_is_kept_once_and_shown(me: Person, client: Client) -> None:
    visit, key = visit_of(me), once_key()
    for _ in range(2):
        send(client, visit, "visit_note", words="Door opened. No damage.\nOwner shown.", form_key=key)
    noted = JobEvent.objects.get(kind="note")
    assert (noted.visit, noted.by, noted.words) == (visit, me, "Door opened. No damage.\nOwner shown.")
    assert "Door opened. No damage.<br>Owner shown." in client.get(f"/round/{visit.pk}").content.decode()


def test_empty_note_is_refused_beside_the_field(me: Person, client: Client) -> None:
    answer = send(client, visit_of(me), "visit_note", words="   ")
    assert answer.status_code == 422
    assert answer.context["form"].errors["words"] == ["Write the note first."]


def test_photo_is_kept_and_seen_by_those_who_may_see_the_job(me: Person, client: Client) -> None:
    visit = visit_of(me)
    send(client, visit, "visit_photo", file=picture(), words="The lock")
    kept = Photo.objects.get()
    assert (kept.job, kept.taken_by, kept.words) == (visit.job, me, "The lock")
    url = reverse("jobs:photo", args=[kept.pk])
    for viewer in (client, signed_in(office())):
        answer = viewer.get(url)
        assert answer["Content-Type"] == "image/jpeg" and answer["X-Content-Type-Options"] == "nosniff"
        assert Image.open(BytesIO(answer.content)).size == (300, 200)
    assert Image.open(BytesIO(client.get(url, {"small": ""}).content)).format == "JPEG"
    assert signed_in(technician()).get(url).status_code == 404


def test_own_photo_is_still_seen_when_the_visit_was_taken_out_of_the_round(me: Person, client: Client) -> None:
    visit = visit_of(me)
    send(client, visit, "visit_photo", file=picture())
    unbook_visit(visit, actor=None)
    answer = client.get(reverse("jobs:photo", args=[Photo.objects.get().pk]))
    answer.close()
    assert answer.status_code == 200


def test_same_photo_sent_twice_is_kept_once(me: Person, client: Client, tmp_path: Path) -> None:
    visit, key = visit_of(me), once_key()
    for _ in range(2):
        assert send(client, visit, "visit_photo", file=picture(), form_key=key).status_code == 302
    assert Photo.objects.count() == 1
    assert len(list(tmp_path.rglob("*.jpg"))) == 1


@pytest.mark.parametrize(
    ("file", "words"),
    [
        (SimpleUploadedFile("photo.jpg", b"<html><script>alert(1)</script>", "image/jpeg"), "not a photo"),
        (SimpleUploadedFile("photo.jpg", b"", "image/jpeg"), "empty"),
        (SimpleUploadedFile("IMG.HEIC", b"\0\0\0\x18ftypheic" + bytes(16), "image/heic"), "choose JPEG"),
        (SimpleUploadedFile("photo.jpg", bytes(30_000_000), "image/jpeg"), "at most 12 MB"),
        ("", "Take or choose a photo first."),
    ],
)
def test_what_is_no_photo_is_refused_beside_the_field(file: Any, words: str, me: Person, client: Client) -> None:
    answer = send(client, visit_of(me), "visit_photo", file=file, words="The lock")
    assert answer.status_code == 422
    assert words in str(answer.context["form"].errors["file"])
    assert 'value="The lock"' in answer.content.decode()
    assert not Photo.objects.exists()


def test_vin_is_recorded_with_what_was_there_before(me: Person, client: Client) -> None:
    """1M8GDM9AXKP042788 is the worked example of the check digit in 49 CFR 565.15(c)."""
    visit = visit_of(me)
    send(client, visit, "visit_vin", vin="1m8gdm9a xkp0-42788")
    assert Vehicle.objects.get().vin == "1M8GDM9AXKP042788"
    assert JobEvent.objects.get(kind="changed").details == {"vin": ["", "1M8GDM9AXKP042788"]}
    assert JobEvent.objects.get(kind="changed").by == me


@pytest.mark.parametrize(
    ("typed", "words"),
    [("1M8GDM9AXKP04278", "16"), ("1M8GDM9AXKP0427888", "18"), ("IM8GDM9AXKP042788", "I"), ("", "17 letters")],
)
def test_vin_that_cannot_be_is_refused_with_what_was_typed(typed: str, words: str, me: Person, client: Client) -> None:
    visit = visit_of(me)
    answer = send(client, visit, "visit_vin", vin=typed)
    assert answer.status_code == 422
    assert words in str(answer.context["form"].errors["vin"]) and f'value="{typed}"' in answer.content.decode()
    assert Vehicle.objects.get().vin == ""


def test_vin_of_a_job_without_vehicle_adds_the_vehicle(me: Person, client: Client) -> None:
    visit = visit_of(me, with_vehicle=False)
    send(client, visit, "visit_vin", vin="1M8GDM9AXKP042788")
    visit.job.refresh_from_db()
    added = Vehicle.objects.get(vin="1M8GDM9AXKP042788")
    assert visit.job.vehicle == added and added.customer == visit.job.customer


def worked(me: Person) -> Visit:
    visit = visit_of(me, hours=-2)
    set_off(visit, actor=me, at=at(-2) + timedelta(seconds=17))
    return arrive(visit, actor=me, at=at(-1.5) + timedelta(seconds=41))


def typed(moment: Any) -> str:
    return f"{timezone.localtime(moment):%Y-%m-%dT%H:%M}"


def test_times_are_put_right_and_old_and_new_are_recorded(me: Person, client: Client) -> None:
    visit = worked(me)
    new, before = at(-1.75), visit.set_off_at
    assert visit.arrived_at
    sent = {"set_off_at": typed(visit.set_off_at), "arrived_at": typed(new), "reason": "Forgot to tap"}
    send(client, visit, "visit_times", **sent)
    told = JobEvent.objects.get(kind="times_corrected")
    assert told.words == "Forgot to tap"
    assert told.details == {"arrived_at": [visit.arrived_at.isoformat(), new.isoformat()]}
    visit.refresh_from_db()
    assert (visit.set_off_at, visit.arrived_at) == (before, new)


def test_times_kept_as_they_were_change_nothing_not_even_seconds(me: Person, client: Client) -> None:
    visit = worked(me)
    send(client, visit, "visit_times", set_off_at=typed(visit.set_off_at), arrived_at=typed(visit.arrived_at))
    assert not JobEvent.objects.filter(kind="times_corrected").exists()


@pytest.mark.parametrize(
    ("set_off_at", "arrived_at", "field"),
    [
        (-1.0, -1.5, "arrived_at"),
        (-2.0, 1.0, "arrived_at"),
        (-2.0, None, "arrived_at"),
    ],
)
def test_times_that_cannot_be_are_refused_beside_the_field(
    set_off_at: float, arrived_at: float | None, field: str, me: Person, client: Client
) -> None:
    visit = worked(me)
    sent = {"set_off_at": typed(at(set_off_at)), "arrived_at": "" if arrived_at is None else typed(at(arrived_at))}
    answer = send(client, visit, "visit_times", reason="Typed in the rain", **sent)
    assert answer.status_code == 422 and list(answer.context["form"].errors) == [field]
    assert "Typed in the rain" in answer.content.decode()
    assert not JobEvent.objects.filter(kind="times_corrected").exists()


def test_forgotten_set_off_can_be_filled_in(me: Person, client: Client) -> None:
    visit = visit_of(me, hours=-2)
    arrive(visit, actor=me, at=at(-1))
    send(client, visit, "visit_times", set_off_at=typed(at(-1.5)), arrived_at=typed(at(-1)))
    visit.refresh_from_db()
    assert visit.set_off_at == at(-1.5)


def test_booked_visit_has_no_times_to_put_right(me: Person, client: Client) -> None:
    answer = send(client, visit_of(me), "visit_times", set_off_at=typed(at(-1)))
    assert answer.status_code == 422
    assert answer.context["form"].errors["set_off_at"] == ["This visit has not set off yet."]
