"""The key of a demo job on site, half found: a code that is in no book, a door lock read, two cuts missing."""

from datetime import datetime, timedelta

from jobs import actions as jobs
from jobs.models import KeyWork, Visit
from shop.stock.models import Item, Place
from vehicles.demo_data import MAKERS, SERIES, demo_bitting
from vehicles.keys import KeySystem
from vehicles.models import KeySystemSheet

MISSING = 2


def add_demo_key_work(
    visit: Visit,
    *,
    make: str,
    key_system: KeySystemSheet | None = None,
    number: int = 417,
    blank: Item | None = None,
    place: Place | None = None,
    at: datetime | None = None,
) -> KeyWork:
    """Brings the key of a visit on site, whose check is passed, to where its technician goes on in the demo.

    The car's key is that of code `number` of the make's book; `blank` out of `place` is the plain one for trial keys.
    The key system is the make's own of `vehicles.demo_data` unless given.
    """
    sheet = key_system or KeySystemSheet.objects.get(name=MAKERS[make]().name)
    job, me = visit.job, visit.technician
    begun = at or visit.arrived_at
    work = jobs.choose_system(job, actor=me, key_system=sheet, visit=visit, at=_later(begun, 0))
    code = f"{SERIES[make]}9{number:03d}"
    jobs.record_code(job, actor=me, code=code, where_found="Tag on the spare wheel", visit=visit, at=_later(begun, 1))
    lock, known = _read(sheet.system, demo_bitting(make, number))
    work = jobs.record_known_cuts(job, actor=me, known=known, lock=lock, visit=visit, at=_later(begun, 9))
    if blank and place:
        work = jobs.choose_trial_blank(job, actor=me, item=blank, place=place, at=_later(begun, 10))
    return work


def _read(system: KeySystem, bitting: tuple[str, ...]) -> tuple[str, list[str | None]]:
    """The door and what it gives; of the cuts that it does not reach, two stay unknown."""
    lock = next(name for name in system.locks if "door" in name)
    unread = [place for place in range(1, system.cuts + 1) if place not in system.locks[lock]][:MISSING]
    return lock, [None if place in unread else label for place, label in enumerate(bitting, 1)]


def _later(at: datetime | None, minutes: int) -> datetime | None:
    return at + timedelta(minutes=minutes) if at else None
