"""Which items a technician is likely to reach for."""

from collections.abc import Sequence

from django.db.models import Count, Q

from jobs.models import Job, PartUse
from shop.staff.models import Person
from shop.stock.models import Balance, Item, Place, PlaceKind

RECENT_USES = 2000
MOST_USUAL = 8
MOST_FOUND = 20


def place_of(person: Person) -> Place | None:
    """The van this technician drives; without one the shop's shelf, if there is one."""
    both = Place.objects.filter(Q(driver=person) | Q(kind=PlaceKind.SHELF))
    return min(both, key=lambda place: (place.driver_id != person.pk, place.pk), default=None)


def found_items(typed: str, place: Place | None) -> Sequence[Item]:
    """Items by two letters of their name or the start of their number, those at the place first."""
    return list(
        Item.objects.active()
        .matching(typed)
        .with_quantity_at(place.pk if place else None)
        .order_by("-here", "number")[:MOST_FOUND]
        if len(typed) >= 2
        else []
    )


def usual_items(job: Job, place: Place | None) -> Sequence[Item]:
    """What was used lately on this make for this kind of work, then for the kind of work at all, then what is here."""
    make = job.vehicle.make if job.vehicle else ""
    counts = _recent_counts(job.kind_of_work, make)
    here = Balance.objects.filter(place=place, quantity__gt=0).values("item")
    items = (
        Item.objects.active().filter(Q(pk__in=here) | Q(pk__in=counts)).with_quantity_at(place.pk if place else None)
    )
    ranked = sorted(items, key=lambda item: (*(-n for n in counts.get(item.pk, (0, 0))), item.number))
    return ranked[:MOST_USUAL]


def _recent_counts(kind_of_work: str, make: str) -> dict[int, tuple[int, int]]:
    """Times each item was used of late for this kind of work: on this make, and at all."""
    recent = PartUse.objects.standing().order_by("-pk")[:RECENT_USES].values("pk")
    rows = (
        PartUse.objects.filter(pk__in=recent, job__kind_of_work=kind_of_work)
        .values("item")
        .annotate(times=Count("pk"), on_make=Count("pk", filter=Q(job__vehicle__make=make) & ~Q(job__vehicle__make="")))
    )
    return {row["item"]: (row["on_make"], row["times"]) for row in rows}
