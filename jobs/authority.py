"""What is known of a job's authority, gathered for the rules: which rule holds, how the check stands, what lacks."""

from dataclasses import replace

from django.db import transaction

from jobs.models import AuthorityCheck, Job, Outcome, RecordRule, Visit
from jobs.record_rules import ExceptionKind, Fact, Moment, Recorded, Rule, lacks, to_ask
from jobs.record_rules.examples import EXAMPLES
from jobs.record_rules.facts import CHECK_FACTS
from jobs.rules import (
    LETS_FINISH,
    Hand,
    Standing,
    Verdict,
    makes_vehicle_key,
    may_open_key_data,
    thing_of,
)
from jobs.states import OPEN_JOBS, VisitState
from shop.models import Shop
from shop.staff.models import Person

STANDINGS = {
    Outcome.PASSED: Standing.PASSED,
    Outcome.EXCEPTED: Standing.EXCEPTED,
    Outcome.ASKED: Standing.ASKED,
    Outcome.DECLINED: Standing.REFUSED,
    Outcome.TURNED_AWAY: Standing.REFUSED,
}
NOTHING: frozenset[Fact] = frozenset()


def current_rule() -> RecordRule:
    """The version of the record rule that the shop follows now; the examples are put into an empty table first."""
    found: RecordRule | None = RecordRule.objects.chosen()
    if found is None:
        ship_rules()
        found = RecordRule.objects.chosen()
    assert found is not None
    return found


@transaction.atomic
def ship_rules() -> None:
    """Puts the rules that come with the program into the table, where they are missing."""
    rows = [
        RecordRule(
            key=key, name=rule.name, place=rule.place, citation=rule.citation, is_shipped=True, data=rule.to_json()
        )
        for key, rule in EXAMPLES.items()
    ]
    RecordRule.objects.bulk_create(rows, ignore_conflicts=True)


def standing_of(check: AuthorityCheck | None) -> Standing:
    """How a job's newest check stands."""
    if check is None:
        return Standing.NONE
    if check.outcome == Outcome.ASKED and check.exception == ExceptionKind.DANGER:
        return Standing.DANGER
    return STANDINGS[Outcome(check.outcome)]


def thing_of_job(job: Job) -> str:
    return thing_of(kind_of_work=job.kind_of_work, has_vehicle=job.vehicle_id is not None)


def makes_key(job: Job) -> bool:
    return makes_vehicle_key(kind_of_work=job.kind_of_work, has_vehicle=job.vehicle_id is not None)


def load_hand(job: Job, person: Person, *, for_job: Job | None = None) -> Hand:
    """Who stands before a job's guarded data. `for_job` counts only where it is theirs and of the same vehicle."""
    at_work = None
    if for_job is not None and for_job.pk != job.pk:
        is_same = for_job.vehicle_id is not None and for_job.vehicle_id == job.vehicle_id
        if is_same and for_job.is_open and _is_own(for_job, person):
            at_work = standing_of(AuthorityCheck.objects.of(for_job))
    return Hand(
        roles=frozenset(str(role) for role in person.roles),
        is_own=_is_own(job, person),
        is_open=job.state in OPEN_JOBS,
        standing=standing_of(AuthorityCheck.objects.of(job)),
        at_work_stands=at_work,
    )


def key_data_verdict(job: Job, person: Person, *, for_job: Job | None = None) -> Verdict:
    """Whether this person may open the key data of this job; `open_guarded` asks the same and writes it down."""
    return may_open_key_data(load_hand(job, person, for_job=for_job))


def lacks_to_finish(job: Job, *, known: frozenset[Fact] = NOTHING) -> list[str]:
    """What the record rule still lacks before the job is finished, in plain words.

    `known` are facts that only a floor above can see, such as that a price was told. The version of the rule under
    which the check was recorded holds; without a check the one that the shop follows now.
    """
    check: AuthorityCheck | None = AuthorityCheck.objects.of(job)
    standing = standing_of(check)
    if standing in LETS_FINISH and standing != Standing.PASSED:
        return []
    rule, seen = rule_for(check), recorded(job, check, known=known)
    if standing != Standing.PASSED and makes_key(job):
        # What the check will ask is told there.
        rest = replace(seen, present=seen.present | CHECK_FACTS)
        return [_unpassed(standing), *lacks(rule, rest, moment=Moment.BEFORE_FINISH)]
    return lacks(rule, seen, moment=Moment.BEFORE_FINISH)


def needs_check(job: Job, check: AuthorityCheck | None) -> bool:
    """Whether a check must come before the finish: for a vehicle's key always, else where the rule asks facts of it."""
    if standing_of(check) in LETS_FINISH:
        return False
    if makes_key(job):
        return True
    asked = to_ask(rule_for(check), thing_of_job(job), job.kind_of_work)
    return bool(asked) and bool(asked - facts_of_job(job))


def _unpassed(standing: Standing) -> str:
    if standing == Standing.ASKED:
        return "The owner has not answered the exception yet."
    if standing == Standing.REFUSED:
        return "The check was not passed."
    return "Nobody has checked yet who may have this key."


def recorded(job: Job, check: AuthorityCheck | None, *, known: frozenset[Fact] = NOTHING) -> Recorded:
    """The job as the rules see it, with what its check recorded."""
    present = known | facts_of_job(job)
    if check is not None:
        present |= facts_of_check(check)
    return Recorded(
        thing=thing_of_job(job),
        kind_of_work=job.kind_of_work,
        present=present,
        relationship=check.relationship if check else "",
        papers=frozenset(check.papers) if check else frozenset(),
        is_key_marked=bool(check and check.is_key_marked),
        is_vin_read=bool(check and check.vin_on_car),
    )


def facts_of_job(job: Job) -> frozenset[Fact]:
    """What is there without a check: the vehicle, the place, the technician, licence numbers."""
    vehicle, shop = job.vehicle, Shop.current()
    visit = _visit_of(job)
    technician = visit.technician if visit else None
    has = {
        Fact.VIN: bool(vehicle and vehicle.vin),
        Fact.VEHICLE_ID: bool(vehicle and (vehicle.vin or vehicle.plate)),
        Fact.PLACE: bool(job.street.strip()),
        Fact.SERVED_ON: visit is not None,
        Fact.LOCKSMITH: technician is not None,
        Fact.LOCKSMITH_LICENCE: bool((technician and technician.licence_number) or shop.licence_number),
        Fact.SHOP_LICENCE: bool(shop.licence_number),
    }
    return frozenset(fact for fact, is_there in has.items() if is_there)


def facts_of_check(check: AuthorityCheck) -> frozenset[Fact]:
    """What a check recorded; guarded facts count by being there, they are not opened."""
    has = {
        Fact.NAME: check.name,
        Fact.ADDRESS: check.address,
        Fact.PHONE: check.phone,
        Fact.BORN_ON: check.born_on is not None,
        Fact.DOCUMENT_KIND: check.document_kind,
        Fact.DOCUMENT_NUMBER: check.document_number is not None,
        Fact.RELATIONSHIP: check.relationship,
        Fact.PAPERS: check.papers,
        Fact.VIN: check.vin_on_car,
        Fact.VEHICLE_ID: check.vin_on_car,
        Fact.VIN_MATCH: check.vins_agree is True,
        Fact.LOCK_TYPE: check.lock_type,
        Fact.KEY_NOT_MARKED: check.is_key_marked is False,
        Fact.SIGNATURE: check.signature is not None,
        Fact.CONFIRMED_HOW: check.confirmed_how,
    }
    return frozenset(fact for fact, is_there in has.items() if is_there)


def rule_for(check: AuthorityCheck | None) -> Rule:
    """The rule under which a check was recorded; without one, the one followed now."""
    return (check.rule if check else current_rule()).rule


def _visit_of(job: Job) -> Visit | None:
    """The visit that counts: the last that was not called off."""
    visits = Visit.objects.filter(job=job).exclude(state=VisitState.CALLED_OFF).select_related("technician")
    last: Visit | None = visits.order_by("-during", "-pk").first()
    return last


def _is_own(job: Job, person: Person) -> bool:
    visits = Visit.objects.filter(job=job, technician=person).exclude(state=VisitState.CALLED_OFF)
    return bool(visits.exists())
