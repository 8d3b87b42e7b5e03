"""The check itself: passed, turned away, excepted; and no finish without what the rule wants."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone

from billing.actions.handover import finish_and_draft
from jobs.actions import (
    allow_exception,
    ask_exception,
    choose_rule,
    decline_exception,
    finish_visit,
    open_guarded,
    pass_check,
    turn_away,
)
from jobs.authority import key_data_verdict, lacks_to_finish, ship_rules
from jobs.errors import AuthorityLacks, WrongState
from jobs.models import AuthorityCheck, JobEvent, Outcome, RecordRule, Visit
from jobs.states import JobState, KindOfWork
from shop.actions import change_shop
from shop.errors import Refused
from shop.guarded import NotPermitted, Sealed, keyring
from shop.models import Shop
from shop.staff.models import Person
from tests.billing.worked import line
from tests.cast import office, owner, technician
from tests.jobs.authority.rows import BORN, NUMBER, VIN, on_site, passed, standing, whole

pytestmark = pytest.mark.django_db
OTHER_VIN = "1M8GDM9AXKP042789"


@pytest.fixture
def me() -> Person:
    return technician(name="Jonas Brackwater", licence_number="PH-T 310")


@pytest.fixture
def visit(me: Person) -> Visit:
    return on_site(me)


def follow(key: str) -> RecordRule:
    ship_rules()
    rule: RecordRule = RecordRule.objects.get(key=key)
    choose_rule(rule, actor=None)
    return rule


NOTHING_TOLD: dict[str, Any] = {
    "address": "", "phone": "", "document_kind": "", "papers": (), "vin_on_car": "", "vin_on_papers": "",
    "lock_type": "", "confirmed_how": "", "is_key_marked": None, "born_on": None, "document_number": "",
    "signature": None,
}  # fmt: skip
# What each example asks of the person, one by one, with the words when it lacks.
WANTED = {
    "california": {
        "born_on": "date of birth",
        "document_number": "number of the identity document",
        "signature": "no signature",
    },
    "maryland": {"lock_type": "type of lock"},
    "texas": {
        "document_kind": "No identity document",
        "signature": "no signature",
        "confirmed_how": "How identity was confirmed",
    },
    "plain": {
        "document_kind": "No identity document",
        "papers": "No paper was seen",
        "vin_on_car": "VIN on the car",
        "signature": "no signature",
    },
}


@pytest.mark.parametrize("key", WANTED)
def test_a_vehicle_key_is_not_finished_without_the_fields_of_the_rule(key: str, visit: Visit, me: Person) -> None:
    follow(key)
    with pytest.raises(AuthorityLacks, match="Nobody has checked"):
        finish_visit(visit, actor=me)
    for name, words in WANTED[key].items():
        with pytest.raises(AuthorityLacks, match=words) as refused:
            pass_check(visit.job, actor=me, facts=whole(**{name: NOTHING_TOLD[name]}))
        assert len(refused.value.lacks) == 1
    assert not AuthorityCheck.objects.exists()
    needed = {name: value for name, value in NOTHING_TOLD.items() if name not in WANTED[key]}
    check = pass_check(visit.job, actor=me, facts=whole(**needed))
    assert (check.outcome, check.rule.key) == (Outcome.PASSED, key)
    tell_and_finish(visit, me)
    visit.job.refresh_from_db()
    assert visit.job.state == JobState.FINISHED


def tell_and_finish(visit: Visit, me: Person) -> None:
    from billing.actions import tell_price

    tell_price(visit.job, actor=me, lines=[line()], accepted_by="Ella")
    assert visit.arrived_at
    finish_and_draft(
        visit, actor=me, set_off_at=None, arrived_at=visit.arrived_at, finished_at=timezone.now() + timedelta(seconds=1)
    )


def test_maryland_wants_the_price_told_and_the_place(visit: Visit, me: Person) -> None:
    follow("maryland")
    passed(visit)
    with pytest.raises(AuthorityLacks, match="No price was told"):
        finish_visit(visit, actor=me)
    visit.job.street = ""
    visit.job.save(update_fields=["street"])
    assert "The address of the service is not recorded." in lacks_to_finish(visit.job)


def test_california_wants_a_licence_number(me: Person) -> None:
    follow("california")
    bare = technician()
    visit = on_site(bare)
    passed(visit)
    assert any("licence number" in words for words in lacks_to_finish(visit.job))
    change_shop(actor=None, licence_number="LCO 1")
    Shop.forget()
    assert lacks_to_finish(visit.job) == []


@pytest.mark.parametrize(("key", "years"), [("california", 2), ("maryland", 3)])
def test_the_retention_date_is_the_rules(key: str, years: int, visit: Visit) -> None:
    follow(key)
    today = timezone.localdate()
    until = passed(visit).kept_until
    assert (until.year, until.month) in {(today.year + years, today.month), (today.year + years, 3)}


def test_texas_lets_imminent_danger_through_with_a_reason(me: Person) -> None:
    follow("texas")
    visit = on_site(me, kind_of_work=KindOfWork.LOCK_OUT)
    assert lacks_to_finish(visit.job)
    with pytest.raises(Refused, match="Say why"):
        ask_exception(visit.job, actor=me, exception="danger", reason=" ")
    ask_exception(visit.job, actor=me, exception="danger", reason="Child in the car, engine off")
    finish_visit(visit, actor=me)


def test_a_lock_out_needs_no_check_by_the_plain_default(me: Person) -> None:
    finish_visit(on_site(me, kind_of_work=KindOfWork.LOCK_OUT), actor=me)


def test_another_visit_may_come_before_the_check(visit: Visit, me: Person) -> None:
    finish_visit(visit, actor=me, needs_another_visit=True)


def test_what_was_recorded_keeps_its_rule(visit: Visit, me: Person) -> None:
    old = follow("plain")
    check = passed(visit, born_on=None, document_number="")
    follow("california")
    assert standing(visit.job).rule == old == check.rule
    assert lacks_to_finish(visit.job) == []
    finish_visit(visit, actor=me)


def test_a_vin_that_differs_in_one_character_is_told_by_its_place(visit: Visit, me: Person) -> None:
    with pytest.raises(AuthorityLacks, match="character 17 is 9, not 8") as refused:
        pass_check(visit.job, actor=me, facts=whole(vin_on_car=OTHER_VIN))
    assert [words.partition(" is not the ")[2][:10] for words in refused.value.lacks] == ["VIN on the", "VIN on the"]
    with pytest.raises(AuthorityLacks, match="compared with nothing"):
        bare = on_site(me, hours=5, vin="")
        pass_check(bare.job, actor=me, facts=whole(vin_on_papers=""))


def test_a_vin_read_off_the_car_is_kept_with_the_job(me: Person) -> None:
    visit = on_site(me, vin="")
    passed(visit)
    visit.job.refresh_from_db()
    assert visit.job.vehicle and visit.job.vehicle.vin == VIN


def test_guarded_facts_are_sealed_and_found_by_fingerprint_only(visit: Visit) -> None:
    check = passed(visit)
    for name in ("born_on", "document_number", "signature"):
        assert isinstance(getattr(check, name), Sealed)
    fingerprint = keyring().fingerprint("document", NUMBER.lower().replace("-", " "))
    assert list(AuthorityCheck.objects.with_document(fingerprint)) == [check]
    told = " ".join(event.words + str(event.details) for event in JobEvent.objects.all())
    for secret in (BORN.isoformat(), NUMBER, "Ella Holmere"):
        assert secret not in told


@pytest.mark.parametrize("born", [timezone.localdate() + timedelta(days=1), date(1850, 1, 1)])
def test_a_birth_date_that_cannot_be_is_refused(born: date, visit: Visit, me: Person) -> None:
    with pytest.raises(Refused) as refused:
        pass_check(visit.job, actor=me, facts=whole(born_on=born))
    assert refused.value.field == "born_on"
    assert not AuthorityCheck.objects.exists()


def test_turned_away_closes_the_job_and_keeps_why(visit: Visit, me: Person) -> None:
    check = turn_away(visit.job, actor=me, visit=visit, facts=whole(vin_on_car=OTHER_VIN), reason="VIN of another car")
    visit.job.refresh_from_db()
    assert (visit.job.state, visit.job.closed_reason) == (JobState.TURNED_AWAY, "VIN of another car")
    assert (check.outcome, check.vins_agree) == (Outcome.TURNED_AWAY, False)
    assert any("character 17" in words for words in check.lacked)
    with pytest.raises(WrongState):
        passed(visit)


def test_the_owners_exception_opens_the_way_and_needs_a_reason(visit: Visit, me: Person) -> None:
    with pytest.raises(Refused, match="Only the owner"):
        allow_exception(visit.job, actor=me, reason="I know them")
    with pytest.raises(Refused, match="Say why"):
        allow_exception(visit.job, actor=owner(), reason="")
    allow_exception(visit.job, actor=owner(), exception="owner", reason="I know the family")
    assert key_data_verdict(visit.job, me).is_so
    finish_visit(visit, actor=me)


@pytest.mark.parametrize(("kind", "may_finish"), [("owner", False), ("danger", True)])
def test_an_asked_exception_waits_for_the_owner_and_key_data_stays_shut(
    kind: str, may_finish: bool, visit: Visit, me: Person
) -> None:
    asked = ask_exception(visit.job, actor=me, exception=kind, reason="Owner said yes by phone", facts=whole(papers=()))
    assert asked.lacked and not key_data_verdict(visit.job, me).is_so
    assert (lacks_to_finish(visit.job) == []) == may_finish
    answer = allow_exception(visit.job, actor=owner())
    assert (answer.answers, answer.reason, answer.name) == (asked, "Owner said yes by phone", "Ella Holmere")
    permit = open_guarded(visit.job, actor=me, kinds=["jobs.authoritycheck.born_on"], reason="Work order")
    assert isinstance(answer.born_on, Sealed) and answer.born_on.open(permit) == BORN.isoformat()
    assert key_data_verdict(visit.job, me).is_so and lacks_to_finish(visit.job) == []


def test_a_declined_exception_leaves_it_shut(visit: Visit, me: Person) -> None:
    ask_exception(visit.job, actor=me, exception="owner", reason="Neighbour vouches")
    with pytest.raises(Refused, match="Only the owner"):
        decline_exception(visit.job, actor=me, reason="No")
    decline_exception(visit.job, actor=owner(), reason="Wait for the papers")
    assert not key_data_verdict(visit.job, me).is_so
    with pytest.raises(AuthorityLacks):
        finish_visit(visit, actor=me)
    with pytest.raises(WrongState):
        decline_exception(visit.job, actor=owner(), reason="Again")


def test_key_data_by_role(visit: Visit, me: Person) -> None:
    people = {"own": me, "other": technician(), "office": office(), "owner": owner()}
    assert not any(key_data_verdict(visit.job, each).is_so for each in people.values())
    passed(visit)
    assert {name: key_data_verdict(visit.job, each).is_so for name, each in people.items()} == {
        "own": True, "other": False, "office": True, "owner": True,
    }  # fmt: skip


def test_a_duplicate_later_opens_the_earlier_jobs_data_once_its_own_check_is_passed(visit: Visit, me: Person) -> None:
    passed(visit)
    other = technician()
    later = on_site(other, hours=5)
    later.job.vehicle = visit.job.vehicle
    later.job.save(update_fields=["vehicle"])
    assert not key_data_verdict(visit.job, other, for_job=later.job).is_so
    passed(later)
    assert key_data_verdict(visit.job, other, for_job=later.job).is_so
    stranger = on_site(technician(), hours=9)
    passed(stranger)
    assert not key_data_verdict(visit.job, stranger.technician, for_job=stranger.job).is_so
    with pytest.raises(NotPermitted):
        open_guarded(visit.job, actor=other, kinds=["jobs.authoritycheck.born_on"], reason="x", for_job=later.job)
