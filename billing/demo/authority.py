"""Who asked for each key of the story, on which papers, and who opened them later. Nobody here exists."""

from datetime import date, datetime, timedelta
from random import Random

from billing.demo.crowd import make_vin
from jobs import actions as jobs
from jobs.actions import CheckFacts
from jobs.authority import needs_check
from jobs.identity import SIGNATURE_KIND
from jobs.models import DocumentKind, Job, Visit
from jobs.record_rules import Papers, Relationship
from jobs.signatures import PAD_HEIGHT, PAD_WIDTH, Signature
from shop.customers.models import CustomerKind
from shop.staff.models import Person
from vehicles.models import Vehicle

LOST_PAPERS = "Papers were in the stolen bag, neighbour and licence confirm the name"


def check(job: Job, visit: Visit, owner: Person, *, at: datetime) -> None:
    """The technician checks who asks; now and then papers are missing and the owner says yes."""
    if not needs_check(job, None):
        return
    # A chance of its own, so that the rest of the story stays as it was.
    rng = Random(f"authority {job.number}")
    person, facts = visit.technician, _facts(rng, job)
    if rng.random() < 0.04:
        bare = CheckFacts(name=facts.name, relationship=facts.relationship, born_on=facts.born_on)
        jobs.ask_exception(
            job, actor=person, visit=visit, exception="owner", reason=LOST_PAPERS, facts=bare, at=at,
        )  # fmt: skip
        jobs.allow_exception(job, actor=owner, reason="Spoke with them by phone", at=at + timedelta(minutes=3))
        return
    jobs.pass_check(job, actor=person, visit=visit, facts=facts, at=at)
    if rng.random() < 0.3:
        why = rng.choice(
            ["Printed the work order", "Customer asked for the work order", "Insurer asked for the papers"]
        )
        jobs.open_guarded(job, actor=person, kinds=[SIGNATURE_KIND], reason=why, at=at + timedelta(minutes=1))


def _facts(rng: Random, job: Job) -> CheckFacts:
    # Read anew: an earlier check of the story may have written the VIN down.
    vehicle = Vehicle.objects.get(pk=job.vehicle_id) if job.vehicle_id else None
    is_business = job.customer.kind == CustomerKind.ACCOUNT
    relationship = rng.choice([Relationship.DEALER, Relationship.AGENT]) if is_business else Relationship.OWNER
    papers = [Papers.REGISTRATION] + ([Papers.LETTER] if relationship == Relationship.AGENT else [])
    vin = vehicle.vin if vehicle else ""
    if vehicle and not vin:
        vin = make_vin(rng, vehicle.make, vehicle.year or 2015, 4000 + job.number)
    return CheckFacts(
        name=job.caller_name,
        relationship=relationship,
        document_kind=rng.choices([DocumentKind.LICENCE, DocumentKind.PASSPORT], [9, 1])[0],
        document_number=f"PH{rng.randint(0, 999):03d}-{rng.randint(0, 999999):06d}",
        born_on=date(1946, 1, 1) + timedelta(days=rng.randint(0, 365 * 60)),
        papers=tuple(papers),
        vin_on_car=vin,
        vin_on_papers=vin,
        signature=_scribble(rng),
    )


def _scribble(rng: Random) -> Signature:
    """A name as hastily written: loops from left to right."""
    x, y, points = 40.0, PAD_HEIGHT / 2, []
    while x < PAD_WIDTH - 80:
        x, y = x + rng.uniform(8, 26), PAD_HEIGHT / 2 + rng.uniform(-70, 70)
        points.append((round(x), round(y)))
    cut = len(points) * 2 // 3
    return Signature((tuple(points[:cut]), tuple(points[cut:])))
