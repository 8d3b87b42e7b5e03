"""Jobs, checks and facts to test authority with; the people and papers are invented."""

import json
from datetime import date
from typing import Any

from jobs.actions import CheckFacts, arrive, pass_check
from jobs.models import AuthorityCheck, Job, Visit
from jobs.signatures import read_strokes
from jobs.states import KindOfWork
from shop.staff.models import Person
from tests.jobs.round_rows import visit_of

VIN = "1M8GDM9AXKP042788"
STROKES = [[[20, 120], [80, 40], [140, 160], [220, 60]], [[240, 120], [330, 90], [420, 130]]]
BORN, NUMBER = date(1981, 4, 17), "QX-7719-204-K"


def on_site(person: Person, *, vin: str = VIN, **facts: Any) -> Visit:
    """A visit on site; all keys of a car lost, unless told otherwise."""
    visit = visit_of(person, **{"kind_of_work": KindOfWork.ALL_KEYS_LOST, **facts})
    if visit.job.vehicle and vin:
        visit.job.vehicle.vin = vin
        visit.job.vehicle.save(update_fields=["vin"])
    return arrive(visit, actor=person)


def whole(**changed: Any) -> CheckFacts:
    """Everything that any shipped rule asks of a person."""
    told: dict[str, Any] = {
        "name": "Ella Holmere",
        "address": "14 Mill Lane, Saltby",
        "phone": "+12015550123",
        "relationship": "owner",
        "document_kind": "licence",
        "papers": ("registration",),
        "vin_on_car": VIN,
        "vin_on_papers": VIN,
        "lock_type": "Ignition and doors",
        "confirmed_how": "Licence compared with the face",
        "is_key_marked": False,
        "born_on": BORN,
        "document_number": NUMBER,
        "signature": read_strokes(json.dumps(STROKES)),
    }
    return CheckFacts(**{**told, **changed})


def standing(job: Job) -> AuthorityCheck:
    """The check that holds for a job; there must be one."""
    check: AuthorityCheck = AuthorityCheck.objects.filter(job=job).latest("pk")
    return check


def passed(visit: Visit, **changed: Any) -> AuthorityCheck:
    return pass_check(visit.job, actor=visit.technician, facts=whole(**changed), visit=visit)
