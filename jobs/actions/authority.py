"""The check of who may have a key: passed, turned away, or let through by the owner with a reason."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.core.files.base import File
from django.db import transaction
from django.utils import timezone

from jobs.actions.base import lock_job, record
from jobs.actions.calls import close_job
from jobs.actions.records import record_vin
from jobs.authority import current_rule, facts_of_job, thing_of_job
from jobs.errors import AuthorityLacks, WrongState
from jobs.models import AuthorityCheck, AuthorityPhoto, EventKind, Job, Outcome, RecordRule, Visit
from jobs.record_rules import ExceptionKind, Fact, Recorded, kept_until, lacks_to_pass
from jobs.rules import check_born_on
from jobs.signatures import Signature
from jobs.states import OPEN_JOBS, JobState
from jobs.vin_compare import compare_vins
from shop.errors import Refused
from shop.guarded import keyring
from shop.staff.models import Person
from shop.staff.roles import Role

DOCUMENT = "document"


@dataclass(frozen=True, repr=False)
class CheckFacts:
    """What was seen and said of the person who asks. Not printed, not logged: it carries what is later sealed."""

    name: str = ""
    address: str = ""
    phone: str = ""
    relationship: str = ""
    document_kind: str = ""
    papers: tuple[str, ...] = ()
    vin_on_car: str = ""
    vin_on_papers: str = ""
    lock_type: str = ""
    confirmed_how: str = ""
    is_key_marked: bool | None = None
    born_on: date | None = None
    document_number: str = ""
    signature: Signature | None = None
    photos: Sequence[AuthorityPhoto] = ()


@transaction.atomic
def pass_check(
    job: Job, *, actor: Person, facts: CheckFacts, visit: Visit | None = None, at: datetime | None = None
) -> AuthorityCheck:
    """Records that the person who asks may have this work done; a VIN read off the car is kept with the job.

    Raises AuthorityLacks with what the rule still wants, Refused for a date of birth that cannot be.
    """
    locked = _open_job(job)
    rule = current_rule()
    found = lacking(locked, rule, facts)
    if found:
        raise AuthorityLacks(found)
    check = _keep(locked, Outcome.PASSED, rule, facts, actor, visit, at)
    if facts.vin_on_car and not (locked.vehicle and locked.vehicle.vin):
        record_vin(locked, actor=actor, vin=facts.vin_on_car, visit=visit)
    _tell(check, f"Check passed: {check.get_relationship_display().lower()}.")
    return check


@transaction.atomic
def turn_away(
    job: Job,
    *,
    actor: Person,
    reason: str,
    facts: CheckFacts | None = None,
    visit: Visit | None = None,
    at: datetime | None = None,
) -> AuthorityCheck:
    """Records that the person was turned away and why, and closes the job so."""
    locked, facts = _open_job(job), facts or CheckFacts()
    rule, words = current_rule(), _reason(reason)
    check = _keep(
        locked, Outcome.TURNED_AWAY, rule, facts, actor, visit, at, reason=words, lacked=lacking(locked, rule, facts)
    )
    close_job(locked, actor=actor, state=JobState.TURNED_AWAY, reason=words[:200], at=at)
    return check


@transaction.atomic
def ask_exception(
    job: Job,
    *,
    actor: Person,
    exception: ExceptionKind | str,
    reason: str,
    facts: CheckFacts | None = None,
    visit: Visit | None = None,
    at: datetime | None = None,
) -> AuthorityCheck:
    """Asks the owner to let a job through that lacks something. An owner who asks has answered.

    Until then key data stays shut; in imminent danger the work itself may go on at once.
    """
    if Role.OWNER in actor.roles:
        return allow_exception(job, actor=actor, exception=exception, reason=reason, facts=facts, visit=visit, at=at)
    locked, facts = _open_job(job), facts or CheckFacts()
    rule, kind = current_rule(), ExceptionKind(exception)
    check = _keep(
        locked, Outcome.ASKED, rule, facts, actor, visit, at,
        reason=_reason(reason), exception=kind, lacked=lacking(locked, rule, facts),
    )  # fmt: skip
    _tell(check, f"Exception asked: {check.get_exception_display().lower()}. {check.reason}")
    return check


@transaction.atomic
def allow_exception(
    job: Job,
    *,
    actor: Person,
    exception: ExceptionKind | str = "",
    reason: str = "",
    facts: CheckFacts | None = None,
    visit: Visit | None = None,
    at: datetime | None = None,
) -> AuthorityCheck:
    """The owner lets a job through with a reason; one that was asked for is answered with what was recorded then.

    An asked exception may also be answered after the job is finished. Raises Refused for anybody but an owner.
    """
    _check_owner(actor)
    asked = _asked(job)
    locked = lock_job(job) if asked else _open_job(job)
    if asked:
        kind, words = exception or asked.exception, reason.strip() or asked.reason
        check = _answer(asked, Outcome.EXCEPTED, actor, kind, words, at)
    else:
        rule, told = current_rule(), facts or CheckFacts()
        kind = ExceptionKind(exception or ExceptionKind.OWNER)
        check = _keep(
            locked, Outcome.EXCEPTED, rule, told, actor, visit, at,
            reason=_reason(reason), exception=kind, lacked=lacking(locked, rule, told),
        )  # fmt: skip
    _tell(check, f"Exception by the owner: {check.get_exception_display().lower()}. {check.reason}")
    return check


@transaction.atomic
def decline_exception(job: Job, *, actor: Person, reason: str, at: datetime | None = None) -> AuthorityCheck:
    """The owner does not let the job through; the technician turns the person away or completes the check."""
    _check_owner(actor)
    lock_job(job)
    asked = _asked(job)
    if asked is None:
        raise WrongState("No exception waits for an answer on this job.")
    check = _answer(asked, Outcome.DECLINED, actor, asked.exception, _reason(reason), at)
    _tell(check, f"Exception declined. {check.reason}")
    return check


@transaction.atomic
def keep_paper_photo(job: Job, *, actor: Person, file: "File[bytes]") -> AuthorityPhoto:
    """Keeps a photo of papers, encrypted, until its check is recorded. The caller has checked that it is a picture."""
    return AuthorityPhoto.objects.create(job=job, file=file, taken_by=actor)


def lacking(job: Job, rule: RecordRule, facts: CheckFacts) -> list[str]:
    """What the check still lacks to be passed, in plain words."""
    compared = compare_vins(
        on_car=facts.vin_on_car, on_job=job.vehicle.vin if job.vehicle else "", on_papers=facts.vin_on_papers
    )
    seen = Recorded(
        thing=thing_of_job(job),
        kind_of_work=job.kind_of_work,
        present=facts_of_job(job) | _present(facts, agrees=compared.agree is True),
        relationship=facts.relationship,
        papers=frozenset(facts.papers),
        differing=compared.words,
        is_key_marked=bool(facts.is_key_marked),
        is_vin_read=bool(facts.vin_on_car),
    )
    return lacks_to_pass(rule.rule, seen)


def _present(facts: CheckFacts, *, agrees: bool) -> frozenset[Fact]:
    has: dict[Fact, Any] = {
        Fact.NAME: facts.name,
        Fact.ADDRESS: facts.address,
        Fact.PHONE: facts.phone,
        Fact.BORN_ON: facts.born_on,
        Fact.DOCUMENT_KIND: facts.document_kind,
        Fact.DOCUMENT_NUMBER: facts.document_number,
        Fact.RELATIONSHIP: facts.relationship,
        Fact.PAPERS: facts.papers,
        Fact.VIN: facts.vin_on_car,
        Fact.VEHICLE_ID: facts.vin_on_car,
        Fact.VIN_MATCH: agrees,
        Fact.LOCK_TYPE: facts.lock_type,
        Fact.KEY_NOT_MARKED: facts.is_key_marked is False,
        Fact.SIGNATURE: facts.signature,
        Fact.CONFIRMED_HOW: facts.confirmed_how,
    }
    return frozenset(fact for fact, is_there in has.items() if is_there)


def _keep(
    job: Job,
    outcome: Outcome,
    rule: RecordRule,
    facts: CheckFacts,
    actor: Person,
    visit: Visit | None,
    at: datetime | None,
    **more: Any,
) -> AuthorityCheck:
    moment = at or timezone.now()
    today = timezone.localdate(moment)
    check_born_on(facts.born_on, today=today)
    compared = compare_vins(
        on_car=facts.vin_on_car, on_job=job.vehicle.vin if job.vehicle else "", on_papers=facts.vin_on_papers
    )
    thing = thing_of_job(job)
    made = AuthorityCheck.objects.create(
        job=job,
        visit=visit,
        rule=rule,
        outcome=outcome,
        thing=thing,
        at=moment,
        by=actor,
        kept_until=kept_until(rule.rule, today, thing=thing, kind=job.kind_of_work),
        vins_agree=compared.agree,
        **_columns(facts),
        **more,
    )
    _claim(facts.photos, made)
    # Read anew, so that nobody holds the guarded values in the clear.
    return _read(made)


def _columns(facts: CheckFacts) -> dict[str, Any]:
    plain = {
        "name": facts.name,
        "address": facts.address,
        "phone": facts.phone,
        "relationship": facts.relationship,
        "document_kind": facts.document_kind,
        "papers": list(facts.papers),
        "vin_on_car": facts.vin_on_car,
        "vin_on_papers": facts.vin_on_papers,
        "lock_type": facts.lock_type,
        "confirmed_how": facts.confirmed_how,
        "is_key_marked": facts.is_key_marked,
    }
    number, signature = facts.document_number, facts.signature
    return plain | {
        "born_on": facts.born_on.isoformat() if facts.born_on else None,
        "document_number": number or None,
        "document_fingerprint": keyring().fingerprint(DOCUMENT, number) if number else "",
        "signature": signature.to_json() if signature else None,
        "is_signature_drawn": signature.is_drawn if signature else None,
    }


def _answer(
    asked: AuthorityCheck, outcome: Outcome, actor: Person, exception: str, reason: str, at: datetime | None
) -> AuthorityCheck:
    """A row that answers an asked exception, with what was recorded then; what was sealed stays sealed."""
    names = (
        "job_id", "visit_id", "rule_id", "thing", "kept_until", "name", "address", "phone", "relationship",
        "document_kind", "papers", "vin_on_car", "vin_on_papers", "vins_agree", "lock_type", "confirmed_how",
        "is_key_marked", "born_on", "document_number", "document_fingerprint", "signature", "is_signature_drawn",
        "lacked",
    )  # fmt: skip
    copied = {name: getattr(asked, name) for name in names}
    made = AuthorityCheck.objects.create(
        outcome=outcome, at=at or timezone.now(), by=actor, exception=exception, reason=reason, answers=asked, **copied
    )
    return _read(made)


def _read(made: AuthorityCheck) -> AuthorityCheck:
    fresh: AuthorityCheck = AuthorityCheck.objects.select_related("rule", "by", "job").get(pk=made.pk)
    return fresh


def _claim(photos: Iterable[AuthorityPhoto], check: AuthorityCheck) -> None:
    for photo in photos:
        taken = AuthorityPhoto.objects.filter(pk=photo.pk, job=check.job, authority_check=None)
        if not taken.update(authority_check=check):
            raise Refused("One of the photos belongs to another check. Take it again.", field="photo")


def _open_job(job: Job) -> Job:
    locked = lock_job(job)
    if locked.state not in OPEN_JOBS:
        raise WrongState(f"Job {locked.number} is {locked.get_state_display().lower()}; nothing is checked on it.")
    return locked


def _asked(job: Job) -> AuthorityCheck | None:
    newest: AuthorityCheck | None = AuthorityCheck.objects.of(job)
    return newest if newest and newest.outcome == Outcome.ASKED else None


def _check_owner(actor: Person) -> None:
    if Role.OWNER not in actor.roles:
        raise Refused("Only the owner makes an exception.")


def _reason(text: str) -> str:
    words = " ".join(text.split())
    if len(words) < 3:
        raise Refused("Say why, in a few words.", field="reason")
    return words[:300]


def _tell(check: AuthorityCheck, words: str) -> None:
    """The event tells how it ended, never who asked: events outlive the record of the person."""
    record(check.job, EventKind.AUTHORITY, actor=check.by, at=check.at, visit=check.visit, words=words)
