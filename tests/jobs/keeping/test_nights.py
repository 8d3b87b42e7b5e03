"""What the night deletes, once, by the rule of each record; what a hold spares; that the chain still proves."""

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.base import ContentFile
from django.utils import timezone

from jobs import actions as jobs
from jobs.actions.holds import add_hold, lift_hold
from jobs.actions.inspections import answer_request, write_request
from jobs.actions.nights import FROM_HOUR, falling_due, keep_night, told
from jobs.actions.openings import numbers_given_out, sign
from jobs.actions.record_rules import choose_rule
from jobs.authority import current_rule
from jobs.models import AuthorityPhoto, CallDraft, Hold, KeepingRun, Opening, Outcome, Photo, RecordRule
from jobs.opening_chain import verify_openings
from jobs.tasks import keep_night_task
from shop.append_only import erasing
from shop.models import SentForm, Shop
from shop.staff.models import SignInTry
from tests.cast import owner, technician
from tests.jobs.authority.rows import on_site, passed
from tests.jobs.keeping.rows import check_of, done, keep_until, keyed, night, photos_of, work_of
from tests.jobs.keys.rows import Bench

pytestmark = pytest.mark.django_db

YESTERDAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def files_of_this_test(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = str(tmp_path)


@pytest.fixture
def over() -> Bench:
    """A finished job whose record was to be kept to yesterday."""
    made = keyed()
    done(made)
    keep_until(check_of(made), timezone.localdate() - YESTERDAY)
    return made


def files(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def test_what_is_due_goes_with_its_files(over: Bench, tmp_path: Path) -> None:
    assert files(tmp_path)
    run = keep_night(night())
    assert run is not None and run.ended_at and not run.failures
    check, work = check_of(over), work_of(over)
    assert (check.name, check.address, check.phone, check.vin_on_car, check.document_fingerprint) == ("",) * 5
    assert (check.born_on, check.document_number, check.signature) == (None, None, None)
    assert (work.code, work.known, work.trials, work.bitting, work.code_fingerprint) == (None, None, None, None, "")
    assert not photos_of(over) and not files(tmp_path)
    assert dict(told(run)) == {"Records of who asked, with papers and signature": 1, "Key codes and cuts": 1}


def test_that_there_was_a_check_stays(over: Bench) -> None:
    before = check_of(over)
    keep_night(night())
    after = check_of(over)
    assert (after.outcome, after.rule, after.at, after.by) == (Outcome.PASSED, before.rule, before.at, before.by)


def test_the_last_day_is_still_kept() -> None:
    made = keyed()
    done(made)
    keep_until(check_of(made), timezone.localdate())
    keep_night(night())
    assert check_of(made).born_on is not None and work_of(made).code is not None
    keep_night(night(1))
    assert check_of(made).born_on is None and work_of(made).code is None


# Two years in California, three in Maryland: the table of statutes. Texas names no time, nor does the plain default:
# two years are the shop's own choice there.
@pytest.mark.parametrize(("key", "years"), [("california", 2), ("maryland", 3), ("texas", 2), ("plain", 2)])
def test_each_record_is_kept_by_its_own_rule(key: str, years: int) -> None:
    current_rule()
    Shop.current()
    Shop.objects.update(licence_number="L-1")
    Shop.forget()
    choose_rule(RecordRule.objects.get(key=key), actor=None)
    made = keyed()
    # A later change of rule does not touch what was recorded.
    choose_rule(RecordRule.objects.get(key="maryland" if key != "maryland" else "plain"), actor=None)
    today = timezone.localdate()
    last = today.replace(year=today.year + years)
    assert check_of(made).kept_until == last
    on_last = datetime.combine(last, datetime.min.time(), timezone.get_current_timezone()).replace(hour=FROM_HOUR)
    done(made)
    keep_night(on_last)
    assert check_of(made).document_number is not None
    keep_night(on_last + timedelta(days=1))
    assert check_of(made).document_number is None and work_of(made).code is None


def test_a_night_is_done_once(over: Bench) -> None:
    assert keep_night(night()) is not None
    assert keep_night(night()) is None
    keep_night_task()
    assert KeepingRun.objects.filter(night=night().date()).count() == 1
    again = keep_night(night(1))
    assert again is not None and told(again) == []


def test_nothing_happens_before_its_hour(over: Bench) -> None:
    assert keep_night(night().replace(hour=FROM_HOUR - 1)) is None
    assert check_of(over).born_on is not None and not KeepingRun.objects.exists()


def test_nights_missed_are_caught_up(over: Bench) -> None:
    run = keep_night(night(40))
    assert run is not None and run.counts["checks"] == 1


def test_a_hold_spares_and_lifting_it_lets_go(over: Bench) -> None:
    boss = owner()
    hold = add_hold(over.job, actor=boss, kind="dispute", reason="The owner says it was not theirs")
    run = keep_night(night())
    assert run is not None and run.spared == 1 and told(run) == []
    assert check_of(over).born_on is not None and work_of(over).code is not None and photos_of(over)
    lift_hold(hold, actor=boss, reason="Settled")
    keep_night(night(1))
    assert check_of(over).born_on is None and work_of(over).code is None and not photos_of(over)


def test_a_hold_on_the_customer_spares_every_job_until_its_day(over: Bench) -> None:
    until = timezone.localdate() + timedelta(days=3)
    add_hold(over.job.customer, actor=owner(), kind="request", reason="Letter of the bureau", until=until)
    keep_night(night(3))
    assert check_of(over).born_on is not None
    keep_night(night(4))
    assert check_of(over).born_on is None


def test_an_unanswered_request_spares_what_it_asks_for(over: Bench) -> None:
    boss, today = owner(), timezone.localdate()
    asked = write_request(
        actor=boss, authority="The bureau", received_on=today, way="post", since=today, until=today, thing="vehicle"
    )
    keep_night(night())
    assert check_of(over).born_on is not None
    answer_request(asked, actor=boss)
    keep_night(night(1))
    assert check_of(over).born_on is None


def test_holds_are_never_changed(over: Bench) -> None:
    hold = add_hold(over.job, actor=owner(), kind="dispute", reason="Not theirs")
    with pytest.raises(Exception, match="never changed or deleted"):
        Hold.objects.filter(pk=hold.pk).update(reason="Other")


def test_the_chain_of_openings_still_proves(over: Bench) -> None:
    before = Opening.objects.count()
    assert before
    keep_night(night())
    assert Opening.objects.count() == before
    assert verify_openings(Opening.objects.as_links(), given_out=numbers_given_out(), sign=sign) == []


def test_a_key_without_a_check_is_kept_by_the_rule_followed_now() -> None:
    made = keyed()
    done(made)
    with erasing():
        AuthorityPhoto.objects.filter(job=made.job).delete()
        made.job.authority_checks.all().delete()
    today = timezone.localdate()
    two_years = (date(today.year + 2, today.month, today.day) - today).days
    keep_night(night(two_years))
    assert work_of(made).code is not None
    keep_night(night(two_years + 1))
    assert work_of(made).code is None


def test_small_things_go_by_their_days(over: Bench) -> None:
    me, now = technician(), timezone.now()
    visit = on_site(me)
    old = {days: now - timedelta(days=days) for days in (2, 29, 33)}
    loose = jobs.keep_paper_photo(visit.job, actor=me, file=ContentFile(b"loose", "p.jpg"))
    AuthorityPhoto.objects.filter(pk=loose.pk).update(taken_at=old[2])
    photo = jobs.add_photo(visit.job, actor=me, file=ContentFile(b"old", "o.jpg"))
    Photo.objects.filter(pk=photo.pk).update(taken_at=now - timedelta(days=2 * 366 + 1))
    for days in (29, 33):
        draft = jobs.keep_draft(uuid4(), actor=me, typed={})
        CallDraft.objects.filter(pk=draft.pk).update(changed_at=old[days])
        SentForm.objects.create(key=uuid4(), path="/", created_at=old[days])
        SignInTry.objects.create(email="a@shop.example", at=old[days])
    run = keep_night(night())
    assert run is not None
    counts = {kind: run.counts[kind] for kind in ("loose_photos", "photos", "drafts", "sent_forms", "sign_in_tries")}
    assert counts == dict.fromkeys(counts, 1)
    assert not Path(photo.file.path).exists() and not Path(loose.file.path).exists()


def test_what_falls_due_is_told_beforehand() -> None:
    made = keyed()
    done(made)
    keep_until(check_of(made), timezone.localdate() + timedelta(days=10))
    assert falling_due(timezone.localdate()) == []
    soon = dict(falling_due(timezone.localdate() + timedelta(days=30)))
    assert soon["Key codes and cuts"] == 1


def test_a_step_that_fails_hinders_no_other_and_is_tried_again(over: Bench, tmp_path: Path) -> None:
    # A folder stands where the photo's file should be: it cannot be deleted as a file.
    (photo,) = photos_of(over)
    path = Path(photo.file.path)
    path.unlink()
    (path / "in the way").mkdir(parents=True)
    run = keep_night(night())
    assert run is not None and run.failures == ["checks"] and run.ended_at is None
    assert work_of(over).code is None and check_of(over).born_on is not None
    (path / "in the way").rmdir()
    path.rmdir()
    again = keep_night(night())
    assert again is not None and again.ended_at and not again.failures
    assert check_of(over).born_on is None


def test_a_check_without_papers_goes_too() -> None:
    visit = on_site(technician())
    check = passed(visit)
    keep_until(check, timezone.localdate() - YESTERDAY)
    keep_night(night())
    check.refresh_from_db()
    assert check.signature is None and check.name == ""
