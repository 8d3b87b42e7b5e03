"""The work order with authority: what the rule wants on it, and nothing that it forbids."""

from dataclasses import dataclass, field
from typing import Any

from django.template.defaultfilters import date as date_words
from django.utils import timezone

from jobs.authority import rule_for, thing_of_job
from jobs.identity import KIND_OF, OpenedIdentity
from jobs.models import AuthorityCheck, Job, Visit
from jobs.record_rules import Fact, Paper, paper_fields
from jobs.record_rules.facts import FACT_WORDS
from jobs.states import VisitState
from shop.models import Shop
from shop.phones import shown as phone_words

PERSON = (
    Fact.NAME, Fact.ADDRESS, Fact.PHONE, Fact.BORN_ON, Fact.DOCUMENT_KIND, Fact.DOCUMENT_NUMBER, Fact.RELATIONSHIP,
    Fact.PAPERS, Fact.CONFIRMED_HOW,
)  # fmt: skip
THING = (Fact.VEHICLE_ID, Fact.VIN, Fact.VIN_MATCH, Fact.PLACE, Fact.LOCK_TYPE, Fact.KEY_NOT_MARKED)
SERVICE = (Fact.SERVED_ON, Fact.LOCKSMITH, Fact.LOCKSMITH_LICENCE, Fact.SHOP_LICENCE)


@dataclass
class WorkOrder:
    """The paper's rows (words, value) and its signature, as far as the rule shows them."""

    job: Job
    check: AuthorityCheck | None
    person: list[tuple[str, str]] = field(default_factory=list)
    thing: list[tuple[str, str]] = field(default_factory=list)
    service: list[tuple[str, str]] = field(default_factory=list)
    shows_signature: bool = False
    identity: OpenedIdentity = field(default_factory=OpenedIdentity)


def shown_facts(job: Job, check: AuthorityCheck | None) -> frozenset[Fact]:
    """The facts that the rule of the check lets stand on the work order."""
    shown, _ = paper_fields(rule_for(check), Paper.WORK_ORDER, thing=thing_of_job(job), kind=job.kind_of_work)
    return shown


def kinds_shown(job: Job, check: AuthorityCheck | None) -> list[str]:
    """The guarded columns that must be opened for the paper."""
    shown = shown_facts(job, check)
    there = [fact for fact in KIND_OF if check is not None and getattr(check, fact.value) is not None]
    return [KIND_OF[fact] for fact in there if fact in shown]


def draw_work_order(job: Job, check: AuthorityCheck | None, identity: OpenedIdentity) -> WorkOrder:
    """The paper of a job read with its vehicle and customer."""
    shown = shown_facts(job, check)
    values = {**_of_job(job), **(_of_check(check, identity) if check else {})}

    def rows(facts: tuple[Fact, ...]) -> list[tuple[str, str]]:
        return [(FACT_WORDS[fact], values[fact]) for fact in facts if fact in shown and values.get(fact)]

    return WorkOrder(
        job=job,
        check=check,
        person=rows(PERSON),
        thing=rows(THING),
        service=rows(SERVICE),
        shows_signature=Fact.SIGNATURE in shown,
        identity=identity,
    )


def _of_job(job: Job) -> dict[Fact, str]:
    shop, vehicle, visit = Shop.current(), job.vehicle, _visit_of(job)
    technician = visit.technician if visit else None
    served = (visit.finished_at or visit.arrived_at or visit.starts_at) if visit else None
    return {
        Fact.VEHICLE_ID: str(vehicle) if vehicle else "",
        Fact.VIN: vehicle.vin if vehicle else "",
        Fact.PLACE: job.place,
        Fact.SERVED_ON: _day(timezone.localdate(served)) if served else "",
        Fact.LOCKSMITH: technician.name if technician else "",
        Fact.LOCKSMITH_LICENCE: (technician.licence_number if technician else "") or shop.licence_number,
        Fact.SHOP_LICENCE: shop.licence_number,
    }


def _of_check(check: AuthorityCheck, identity: OpenedIdentity) -> dict[Fact, str]:
    compared = {True: "Agrees", False: "Does not agree", None: ""}[check.vins_agree]
    return {
        Fact.NAME: check.name,
        Fact.ADDRESS: check.address,
        Fact.PHONE: phone_words(check.phone, region=Shop.current().country) if check.phone else "",
        Fact.BORN_ON: _day(identity.born_on) if identity.born_on else "",
        Fact.DOCUMENT_KIND: check.get_document_kind_display(),
        Fact.DOCUMENT_NUMBER: identity.document_number,
        Fact.RELATIONSHIP: check.get_relationship_display(),
        Fact.PAPERS: check.papers_words,
        Fact.CONFIRMED_HOW: check.confirmed_how,
        Fact.VIN_MATCH: compared,
        Fact.LOCK_TYPE: check.lock_type,
        Fact.KEY_NOT_MARKED: "Looked at, no mark" if check.is_key_marked is False else "",
        **({Fact.VIN: check.vin_on_car} if check.vin_on_car else {}),
    }


def _visit_of(job: Job) -> Visit | None:
    visits = job.visits.exclude(state=VisitState.CALLED_OFF).select_related("technician")
    last: Visit | None = visits.order_by("-during").first()
    return last


def _day(on: Any) -> str:
    return date_words(on, "j F Y")
