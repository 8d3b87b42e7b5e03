"""The pages of a key: who may open them, nothing sealed on lists, double sends, what the desk opens for a reason."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from jobs import actions as jobs
from jobs.models import KeyStage, Opening, PartUse
from jobs.states import KindOfWork
from tests.cast import office, once_key, signed_in, technician
from tests.jobs.keys.rows import CODE, CUTS, Bench, bench, code_book, find, openings

pytestmark = pytest.mark.django_db
TOLD = re.compile("".join(CUTS) + "|" + " ".join(CUTS) + "|" + CODE)


@pytest.fixture
def made() -> Bench:
    made = bench()
    code_book(made, {CODE: CUTS})
    return made


def key_url(made: Bench, tail: str = "") -> str:
    return f"/round/{made.visit.pk}/key{tail}"


def fill_cuts(client: Client, made: Bench, **facts: str) -> object:
    sent = {f"cut_{place}": label for place, label in enumerate(CUTS, 1) if place > 2}
    return client.post(key_url(made, "/cuts"), {**sent, "lock": "door", **facts})


def test_before_the_check_every_page_says_so_and_opens_nothing() -> None:
    made = bench(is_checked=False)
    client = signed_in(made.me)
    for tail in ("", "/systems", "/known", "/code", "/cuts", "/readings", "/blank", "/final"):
        answer = client.get(key_url(made, tail))
        assert answer.status_code == 200 and "No check, no code" in answer.content.decode(), tail
    client.post(key_url(made, f"/systems/{made.sheet.pk}"))
    assert not Opening.objects.exists()


def test_another_technician_finds_nothing_there(made: Bench) -> None:
    made.read_door()
    client = signed_in(technician())
    assert client.get(key_url(made)).status_code == 404
    assert client.post(key_url(made, "/answer"), {"answer": "turns"}).status_code == 404
    assert made.work.tries == 0


def test_wrong_methods_and_missing_rows(made: Bench) -> None:
    client = signed_in(made.me)
    assert client.get(key_url(made, "/answer")).status_code == 405
    assert client.post(key_url(made)).status_code == 405
    assert client.get(key_url(made, "/cuts")).status_code == 404
    assert client.post(key_url(made, "/systems/999999")).status_code == 404


def test_the_phone_leads_step_by_step_and_is_kept_by_no_cache(made: Bench) -> None:
    client = signed_in(made.me)
    assert "Which key" in client.get(key_url(made)).content.decode()
    client.post(key_url(made, f"/systems/{made.sheet.pk}"))
    assert "A lock that was read" in client.get(key_url(made)).content.decode()
    answer = fill_cuts(client, made)
    assert answer.status_code == 302, answer  # type: ignore[attr-defined]
    page = client.get(key_url(made))
    assert "3 trial blanks are enough" in page.content.decode() and "no-store" in page["Cache-Control"]


def test_an_answer_sent_twice_counts_once(made: Bench) -> None:
    made.read_door()
    client, once = signed_in(made.me), once_key()
    for _ in range(2):
        client.post(key_url(made, "/answer"), {"answer": "does not turn", "seen": "0", "form_key": once})
    assert made.work.tries == 1 and made.held(made.trial) == 19
    client.post(key_url(made, "/answer"), {"answer": "does not turn", "seen": "0", "form_key": once_key()})
    assert made.work.tries == 1, "a page left behind is told, not obeyed"
    assert "have gone on" in client.get(key_url(made)).content.decode()


def test_final_keys_sent_twice_are_used_once(made: Bench) -> None:
    made.read_door()
    find(made)
    client, once = signed_in(made.me), once_key()
    sent = {"item": made.final.pk, "count": "2", "turned_in": ["ignition"], "form_key": once}
    for _ in range(2):
        assert client.post(key_url(made, "/final"), sent).status_code == 302
    assert made.work.keys_cut == 2 and PartUse.objects.filter(item=made.final).count() == 1


@pytest.mark.parametrize(
    ("tail", "sent", "words"),
    [
        ("/code", {"code": "", "where_found": "Lock"}, "required"),
        ("/cuts", {"cut_1": "9"}, "9 is not one of the available choices"),
        ("/cuts", {"lock": "door"}, "at least one cut"),
        ("/readings", {"unit": "mm", "source": "key", "reading_1": "x"}, "Cut 1"),
        ("/readings", {"unit": "mm", "source": "key"}, "at least one reading"),
        ("/readings", {"unit": "mm", "source": "key", "reading_2": "1.2"}, "No depth of Alder A6"),
    ],
)
def test_what_cannot_be_is_told_beside_what_was_typed(made: Bench, tail: str, sent: dict[str, str], words: str) -> None:
    made.begin()
    answer = signed_in(made.me).post(key_url(made, tail), sent)
    assert answer.status_code == 422 and words in answer.content.decode()
    assert made.work.stage == KeyStage.BEGUN


def test_readings_in_inches_are_asked_and_sent_again_in_mm(made: Bench) -> None:
    made.begin()
    client = signed_in(made.me)
    roots = [made.sheet.system.by_label[label].root_mm for label in CUTS]
    sent = {f"reading_{place}": f"{root / 254 * 10:.4f}" for place, root in enumerate(roots, 1)}
    asked = client.post(key_url(made, "/readings"), {**sent, "unit": "mm", "source": "lock"})
    page = asked.content.decode()
    assert asked.status_code == 422 and "look like inches" in page
    meant = dict(re.findall(r'type="hidden" name="(reading_\d)" value="([\d.]+)"', page))
    assert len(meant) == 6
    assert client.post(key_url(made, "/readings"), {**meant, "unit": "mm", "source": "lock"}).status_code == 302
    assert made.work.stage == KeyStage.TRYING


def test_after_worn_readings_the_page_names_the_cut_to_read_again(made: Bench) -> None:
    """Between depths 2 (6.40 mm) and 1 (7.00 mm) a reading can be either; the other cuts stand on their depths."""
    made.begin()
    client = signed_in(made.me)
    sent = {f"reading_{place}": "7.00" for place in range(1, 7)} | {"reading_4": "6.71", "unit": "mm", "source": "lock"}
    assert client.post(key_url(made, "/readings"), sent).status_code == 302
    page = client.get(key_url(made)).content.decode()
    assert made.work.left == 2 and "<strong>cut 4</strong> once more" in page and "2 keys fit" in page


def test_on_site_the_key_comes_before_the_finish(made: Bench) -> None:
    client, url = signed_in(made.me), f"/round/{made.visit.pk}"
    begun = client.get(url).content.decode()
    assert re.search(r"next-step[^>]*>Make the key<", begun) and f"{url}/finish" in begun
    made.read_door()
    find(made)
    made.final_keys()
    assert re.search(r"next-step[^>]*>Finish<", client.get(url).content.decode())


def test_the_desk_sees_how_far_it_is_and_opens_the_key_for_a_reason(made: Bench) -> None:
    jobs.record_code(made.job, actor=made.me, code=CODE, where_found="Tag")
    jobs.choose_trial_blank(made.job, actor=made.me, item=made.trial, place=made.van)
    find(made)
    made.final_keys()
    client, number = signed_in(made.boss), made.job.number
    panel = client.get(reverse("jobs:key_panel", args=[number])).content.decode()
    assert "Key made" in panel and not TOLD.search(panel)
    url = reverse("jobs:key_open", args=[number])
    before = Opening.objects.count()
    assert not TOLD.search(client.get(url).content.decode())
    assert client.post(url, {"reason": ""}).status_code == 422 and Opening.objects.count() == before
    assert client.post(url, {"reason": "Customer wants a second key"}).status_code == 302
    assert "Customer wants a second key" in openings(made.job)
    opened = client.get(url).content.decode()
    assert CODE in opened and made.work.code_fingerprint not in opened
    assert re.search(r"card-cuts", opened)


def test_lists_and_pages_of_the_job_tell_no_cuts(made: Bench) -> None:
    jobs.record_code(made.job, actor=made.me, code=CODE, where_found="Tag")
    jobs.choose_trial_blank(made.job, actor=made.me, item=made.trial, place=made.van)
    find(made)
    made.final_keys()
    desk, number = signed_in(office()), made.job.number
    for url in (
        f"/jobs/{number}",
        f"/jobs/{number}/key",
        "/jobs",
        "/day",
        f"/vehicles/{made.job.vehicle_id}/jobs",
        f"/customers/{made.job.customer_id}/jobs",
    ):
        assert not TOLD.search(desk.get(url).content.decode()), url
    phone = signed_in(made.me)
    for url in ("/round", f"/round/{made.visit.pk}", key_url(made)):
        assert not TOLD.search(phone.get(url).content.decode()), url


def test_only_the_owner_gives_leave(made: Bench) -> None:
    made.read_door()
    url = reverse("jobs:key_leave", args=[made.job.number])
    assert signed_in(office()).post(url, {"reason": "Hurry"}).status_code == 403
    assert signed_in(made.boss).post(url, {"reason": " "}).status_code == 422
    assert signed_in(made.boss).post(url, {"reason": "Paid for"}).status_code == 302
    assert made.work.leave_by == made.boss


def test_a_key_made_before_is_offered_for_the_same_car(made: Bench) -> None:
    made.read_door()
    find(made)
    made.final_keys()
    later = bench(like=made, is_same_car=True, kind_of_work=KindOfWork.DUPLICATE_KEY)
    client = signed_in(later.me)
    client.post(key_url(later, f"/systems/{made.sheet.pk}"))
    page = client.get(key_url(later)).content.decode()
    assert "Key made before" in page and not TOLD.search(page)
    client.post(key_url(later, f"/earlier/{made.work.pk}"))
    assert "One key fits" in client.get(key_url(later)).content.decode()
    final = client.get(key_url(later, "/final")).content.decode()
    assert re.findall(r"<b>(\d)</b>", final) == list(CUTS)
    stranger = bench(like=made)
    strange = signed_in(stranger.me)
    assert strange.post(key_url(stranger, f"/earlier/{made.work.pk}")).status_code == 404
