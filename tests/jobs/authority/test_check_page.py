"""The check on the phone: what is asked, what is refused beside its field, kept typed, sent once."""

import io
import json
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from jobs.actions import choose_rule, open_guarded
from jobs.authority import ship_rules
from jobs.models import AuthorityCheck, AuthorityPhoto, Outcome, RecordRule, Visit
from jobs.states import JobState, KindOfWork
from shop.staff.models import Person
from tests.cast import office, once_key, owner, person, signed_in, technician
from tests.jobs.authority.rows import NUMBER, STROKES, VIN, on_site, passed, standing

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Any, settings: Any) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def me() -> Person:
    return technician(name="Jonas Brackwater", licence_number="PH-T 310")


@pytest.fixture
def client(me: Person) -> Client:
    return signed_in(me)


@pytest.fixture
def visit(me: Person) -> Visit:
    ship_rules()
    choose_rule(RecordRule.objects.get(key="california"), actor=None)
    return on_site(me)


def url(visit: Visit, name: str = "authority") -> str:
    return reverse(f"jobs:{name}", args=[visit.pk])


def typed(**changed: Any) -> dict[str, Any]:
    told = {
        "form_key": once_key(),
        "do": "pass",
        "relationship": "owner",
        "name": "Ella Holmere",
        "document_kind": "licence",
        "document_number": NUMBER,
        "born_day": "17",
        "born_month": "4",
        "born_year": "1981",
        "papers": ["registration"],
        "vin_on_car": VIN.lower(),
        "vin_on_papers": f"{VIN[:3]} {VIN[3:9]}-{VIN[9:]}",
        "signature": json.dumps(STROKES),
    }
    return {name: value for name, value in {**told, **changed}.items() if value is not None}


def picture(kind: str = "JPEG", size: tuple[int, int] = (60, 40)) -> SimpleUploadedFile:
    kept = io.BytesIO()
    Image.new("RGB", size, "white").save(kept, kind)
    return SimpleUploadedFile(f"papers.{kind.lower()}", kept.getvalue())


def test_check_is_the_next_step_before_the_finish(client: Client, visit: Visit) -> None:
    page = client.get(url(visit, "visit")).content.decode()
    assert f'next-step" href="{url(visit)}">Check authority<' in page and ">Finish<" not in page
    assert "Check authority" in client.get(reverse("jobs:round")).content.decode()
    refused = client.get(reverse("billing:finish", args=[visit.pk])).content.decode()
    assert "Nobody has checked yet who may have this key." in refused and "Check authority" in refused
    assert client.post(url(visit), typed()).status_code == 302
    page = client.get(url(visit, "visit")).content.decode()
    assert ">Finish<" in page and "Check passed" in page


def test_a_lock_out_of_a_car_in_california_asks_for_no_check(client: Client, visit: Visit, me: Person) -> None:
    other = on_site(me, hours=5, kind_of_work=KindOfWork.LOCK_OUT)
    page = client.get(url(other, "visit")).content.decode()
    assert ">Finish<" in page and "Check authority" not in page
    assert client.get(url(other)).status_code == 200


def test_enough_is_passed_once_however_often_it_is_sent(client: Client, visit: Visit) -> None:
    form = typed()
    for _ in range(2):
        answer = client.post(url(visit), form)
        assert (answer.status_code, answer["Location"]) == (302, url(visit, "visit"))
    check = AuthorityCheck.objects.get()
    assert (check.outcome, check.visit, check.vins_agree) == (Outcome.PASSED, visit, True)


def test_what_lacks_is_listed_and_everything_typed_stays(client: Client, visit: Visit) -> None:
    answer = client.post(url(visit), typed(signature="", born_year="", born_day="", born_month="", papers=None))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Not enough yet" in page
    assert "There is no signature." in page and "The date of birth is not recorded." in page
    for kept in (NUMBER, "Ella Holmere", VIN.lower()):
        assert kept in page
    assert answer["Cache-Control"].startswith("max-age=0") and "no-store" in answer["Cache-Control"]
    assert not AuthorityCheck.objects.exists()


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"born_year": str(timezone.localdate().year + 1)}, "still to come"),
        ({"born_day": "31", "born_month": "2"}, "no such day"),
        ({"born_month": ""}, "Give day, month and year."),
        ({"born_year": "81"}, "Check this."),
        ({"born_day": "x"}, "Digits only."),
        ({"signature": json.dumps([[[300, 100]]])}, "too little to be a signature"),
        ({"signature": "<svg>"}, "did not arrive whole"),
        ({"signature": "", "typed_name": "Ella Holmere"}, "Say why the name was typed"),
        ({"vin_on_car": VIN[:-1]}, "16"),
        ({"vin_on_car": VIN[:-1] + "O"}, "O"),
        ({"phone": "12"}, "number"),
        ({"relationship": "cousin"}, "Select a valid choice"),
    ],
)
def test_bad_input_is_told_beside_its_field_and_nothing_is_recorded(
    changed: dict[str, str], words: str, client: Client, visit: Visit
) -> None:
    answer = client.post(url(visit), typed(**changed))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not AuthorityCheck.objects.exists()


def test_a_vin_that_differs_in_one_character_is_shown_character_by_character(client: Client, visit: Visit) -> None:
    wrong = VIN[:10] + "R" + VIN[11:]
    answer = client.post(url(visit), typed(vin_on_car=wrong))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "The VIN on the car is not the VIN on the job: character 11 is R, not P." in page
    assert f"{VIN[:10]}<mark>P</mark>{VIN[11:]}" in page
    part = client.post(url(visit, "authority_vins"), {"vin_on_car": wrong}, headers={"HX-Request": "true"})
    assert "<mark>R</mark>" in part.content.decode()
    agree = client.post(url(visit, "authority_vins"), {"vin_on_car": VIN}, headers={"HX-Request": "true"})
    assert "The VINs agree." in agree.content.decode()


def test_photos_are_encrypted_on_disk_and_kept_while_something_else_lacks(
    client: Client, visit: Visit, tmp_path: Any, me: Person
) -> None:
    answer = client.post(url(visit), typed(signature="", photo=[picture(), picture("PNG")]))
    assert "2 photos kept so far" in answer.content.decode()
    ids = [str(photo.pk) for photo in AuthorityPhoto.objects.order_by("pk")]
    assert client.post(url(visit), typed(kept_photo=ids)).status_code == 302
    check = AuthorityCheck.objects.get()
    assert [str(photo.pk) for photo in check.photos.order_by("pk")] == ids
    for photo in check.photos.all():
        raw = (tmp_path / photo.file.name).read_bytes()
        assert b"JFIF" not in raw and raw.startswith(b"gAAAA")
        permit = open_guarded(visit.job, actor=me, kinds=[AuthorityPhoto.KIND], reason="Looked again")
        assert Image.open(io.BytesIO(photo.read(permit))).format == "JPEG"


def test_somebody_elses_kept_photo_is_not_claimed(client: Client, visit: Visit, me: Person) -> None:
    other = on_site(technician(), hours=5)
    signed_in(other.technician).post(url(other), typed(signature="", photo=[picture()]))
    stolen = AuthorityPhoto.objects.get()
    client.post(url(visit), typed(kept_photo=[str(stolen.pk), "x", "9" * 30]))
    assert AuthorityCheck.objects.get().photos.count() == 0


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        (SimpleUploadedFile("id.jpg", b"<html><script>alert(1)</script></html>"), "not a photo"),
        (SimpleUploadedFile("id.jpg", b"\xff\xd8" + b"0" * (30 * 1024 * 1024)), "at most 12 MB"),
        (SimpleUploadedFile("id.jpg", b""), "empty"),
    ],
)
def test_what_is_no_photo_is_refused_in_words(
    sent: SimpleUploadedFile, words: str, client: Client, visit: Visit
) -> None:
    answer = client.post(url(visit), typed(photo=[sent]))
    assert answer.status_code == 422 and words in answer.content.decode()
    assert not AuthorityPhoto.objects.exists() and not AuthorityCheck.objects.exists()


def test_an_image_bomb_is_refused_without_being_decoded(client: Client, visit: Visit) -> None:
    kept = io.BytesIO()
    Image.new("1", (12_000, 10_000)).save(kept, "PNG")
    answer = client.post(url(visit), typed(photo=[SimpleUploadedFile("id.png", kept.getvalue())]))
    assert answer.status_code == 422 and "too many points" in answer.content.decode()


def test_turned_away_with_a_reason_whatever_is_half_typed(client: Client, visit: Visit) -> None:
    half = {"vin_on_car": "1M8", "born_day": "40", "signature": "[[[1,1]]]"}
    refused = client.post(url(visit), typed(do="turn_away", **half))
    assert refused.status_code == 422 and "Say why, in a few words." in refused.content.decode()
    answer = client.post(url(visit), typed(do="turn_away", away_reason="Papers of another car", **half))
    assert answer["Location"] == reverse("jobs:round")
    visit.job.refresh_from_db()
    assert visit.job.state == JobState.TURNED_AWAY
    check = AuthorityCheck.objects.get()
    assert (check.outcome, check.vin_on_car, check.signature) == (Outcome.TURNED_AWAY, "", None)


def test_the_owner_is_asked_and_answers_at_the_desk(client: Client, visit: Visit) -> None:
    form = {"do": "ask", "exception": "owner", "exception_reason": "Owner said yes by phone"}
    assert client.post(url(visit), typed(**{**form, "exception": ""})).status_code == 422
    assert client.post(url(visit), typed(**form)).status_code == 302
    assert "Waits for the owner" in client.get(url(visit)).content.decode()
    answer = reverse("jobs:authority_answer", args=[visit.job.number])
    assert signed_in(office()).post(answer, {"do": "allow"}).status_code == 403
    assert client.post(answer, {"do": "allow"}).status_code == 403
    boss = signed_in(owner())
    panel = boss.get(reverse("jobs:authority_panel", args=[visit.job.number])).content.decode()
    assert "Answer the exception" in panel and "Owner said yes by phone" in panel
    assert boss.post(answer, {"do": "allow", "exception": "owner", "form_key": once_key()}).status_code == 302
    assert standing(visit.job).outcome == Outcome.EXCEPTED


def test_an_owner_in_the_van_makes_the_exception_at_once(visit: Visit) -> None:
    both = person("owner", "technician")
    own = on_site(both, hours=8)
    assert "Make the exception" in signed_in(both).get(url(own)).content.decode()
    signed_in(both).post(url(own), typed(do="ask", exception="danger", exception_reason="Child locked in"))
    assert AuthorityCheck.objects.get().outcome == Outcome.EXCEPTED


def test_a_closed_job_is_not_checked(client: Client, visit: Visit) -> None:
    passed(visit)
    client.post(url(visit), typed(do="turn_away", away_reason="Lied about the owner"))
    answer = client.post(url(visit), typed())
    assert answer.status_code == 422 and "is turned away" in answer.content.decode()
    page = client.get(url(visit)).content.decode()
    assert "Turned away" in page and "Check again" not in page


@pytest.mark.parametrize("do", ["", "drop", "pass "])
def test_an_act_that_is_none_changes_nothing(do: str, client: Client, visit: Visit) -> None:
    assert client.post(url(visit), typed(do=do)).status_code == 422
    assert not AuthorityCheck.objects.exists()


def test_the_page_is_its_technicians_alone(client: Client, visit: Visit) -> None:
    for stranger, status in ((technician(), 404), (office(), 403), (owner(), 403)):
        for name in ("authority", "authority_vins"):
            assert signed_in(stranger).post(url(visit, name), typed()).status_code == status
    assert not AuthorityCheck.objects.exists()
