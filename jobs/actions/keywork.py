"""Key work on a job, from what is known to the candidates. Every action asks for leave to open key data first, so that
nothing is looked up or worked out before the check of the job is passed. Events never tell cuts or codes."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from jobs.actions.base import record
from jobs.actions.key_base import AT_ONCE, OpenWork, ask_worker, keep_trials, open_at_work, refusing
from jobs.actions.openings import open_guarded
from jobs.key_run import begin_trials
from jobs.models import EventKind, Job, KeyPlan, KeyStage, KeyWay, KeyWork, Visit
from shop.errors import Refused
from shop.guarded import keyring
from shop.staff.models import Person
from vehicles.code_books import bittings_among, bittings_for, look_up
from vehicles.code_table import plain_code
from vehicles.keys import Bitting
from vehicles.models import CodeRow, KeySystemSheet
from vehicles.workbench import decode_readings, list_missing

Weighed = Sequence[tuple[Bitting, float]]


@transaction.atomic
def choose_system(
    job: Job, *, actor: Person, key_system: KeySystemSheet, visit: Visit | None = None, at: datetime | None = None
) -> KeyWork:
    """Says which key system the job's key is of, or that it is another: then what was known of the cuts is dropped."""
    opened = open_at_work(job, actor=actor, at=at, is_anew=True)
    work = opened.work
    if work.key_system_id == key_system.pk:
        return work
    if work.stage == KeyStage.MADE:
        raise Refused("The key is made. A key of another system is another job.")
    _forget(work)
    work.key_system = key_system
    work.save()
    record(opened.job, EventKind.KEY, actor=actor, at=at, visit=visit, words=f"Key system {key_system.name} chosen.")
    return work


@transaction.atomic
def record_code(
    job: Job, *, actor: Person, code: str, where_found: str, visit: Visit | None = None, at: datetime | None = None
) -> KeyWork:
    """Keeps a code and where it was found, and looks it up in the shop's code books. What they hold becomes the
    candidates; a code in no book leaves the work where it was (`left` is None). Raises Refused for no code or place."""
    opened = open_at_work(job, actor=actor, at=at, is_anew=True)
    work, plain = opened.work, plain_code(code)
    if not plain:
        raise Refused("Give a code.", field="code")
    if not where_found.strip():
        raise Refused("Say where the code was found.", field="where_found")
    _refuse_when_made(work)
    reason = f"Key work on job {opened.job.number}"
    rows = look_up(plain, actor=actor, reason=reason, job_number=str(opened.job.number), at=at)
    sheet = _system_of(work, rows)
    work.code, work.code_fingerprint = plain, keyring().fingerprint("jobs.keywork.code", plain)
    work.where_found = where_found.strip()
    if sheet is None:
        work.save()
        words = f"Code looked up, in no code book. Found: {work.where_found}."
        record(opened.job, EventKind.KEY, actor=actor, at=at, visit=visit, words=words)
        return work
    if work.key_system_id != sheet.pk:
        _forget(work)
        work.key_system = sheet
    found = {tuple(row.labels) for row in rows if row.book.key_system_id == sheet.pk}
    words = f"Code found in the code book {rows[0].book.name}. Found: {work.where_found}."
    record(opened.job, EventKind.KEY, actor=actor, at=at, visit=visit, words=words)
    return _found(opened, KeyWay.CODE, {}, [(cuts, 1.0) for cuts in sorted(found)], actor=actor, visit=visit, at=at)


def _system_of(work: KeyWork, rows: Sequence[CodeRow]) -> KeySystemSheet | None:
    """The key system whose book holds the code: the one chosen, or the only one; None when no book holds it."""
    sheets = {row.book.key_system_id: row.book.key_system for row in rows}
    if not sheets:
        return None
    if work.key_system_id in sheets:
        return sheets[work.key_system_id]
    if len(sheets) > 1:
        names = ", ".join(sorted(sheet.name for sheet in sheets.values()))
        raise Refused(f"This code stands in books of several key systems: {names}. Choose the key system first.")
    return next(iter(sheets.values()))


@transaction.atomic
def record_known_cuts(
    job: Job,
    *,
    actor: Person,
    known: Sequence[str | None],
    lock: str = "",
    in_books: bool = False,
    visit: Visit | None = None,
    at: datetime | None = None,
) -> KeyWork:
    """Keeps the cuts that are known (None: unknown), read from `lock` when it is named; all keys that have them become
    the candidates. Raises Refused when no cut is known, no key or too many keys have them."""
    opened = open_at_work(job, actor=actor, at=at, is_anew=True)
    sheet = _sheet(opened.work)
    _refuse_when_made(opened.work)
    if not any(known):
        raise Refused("Give at least one cut.")
    if lock and lock not in sheet.system.locks:
        raise Refused(f"{sheet.name} has no lock called {lock}.", field="lock")
    with refusing():
        book = bittings_for(sheet, known) if in_books else None
        candidates = list_missing(sheet.system, known, book)
    what = f"The {lock} lock was read" if lock else "Cuts entered"
    told = sum(label is not None for label in known)
    words = f"{what}: {told} of {len(known)} cuts known, {_keys(len(candidates))} left."
    record(opened.job, EventKind.KEY, actor=actor, at=at, visit=visit, words=words)
    entered = {"known": list(known), "lock": lock, "in_books": in_books}
    weighed = [(cuts, 1.0) for cuts in candidates]
    return _found(opened, KeyWay.LOCK, entered, weighed, actor=actor, visit=visit, at=at)


@transaction.atomic
def record_readings(
    job: Job,
    *,
    actor: Person,
    readings_mm: Sequence[Decimal | None],
    from_lock: bool = False,
    in_books: bool = False,
    visit: Visit | None = None,
    at: datetime | None = None,
) -> KeyWork:
    """Keeps caliper readings of a worn key, or of a lock's wafers, and decodes them: the candidates with their weights.

    Raises vehicles.keys.UnitsDoubt when they look like another unit (ask, then give its `readings_mm`), BadReadings for
    a reading that fits no depth, Refused when no key or too many keys fit.
    """
    opened = open_at_work(job, actor=actor, at=at, is_anew=True)
    sheet = _sheet(opened.work)
    _refuse_when_made(opened.work)
    view = decode_readings(sheet.system, readings_mm, worn=not from_lock)
    if in_books:
        choices = [[choice.label for choice in found] for found in view.decoded.choices]
        book = bittings_among(sheet, choices)
        view = decode_readings(sheet.system, readings_mm, worn=not from_lock, code_book=book)
    if not view.remaining:
        told = " ".join(fault.words for fault in view.decoded.why_none) or "No code book has them."
        raise Refused(f"No key has these cuts. {told}")
    if view.remaining > len(view.decoded):
        first = f" Cut {view.next_cut[0]} tells most." if view.next_cut else ""
        raise Refused(f"{view.remaining:,} keys fit, too many to try. Read one more cut.{first}")
    taken = sum(reading is not None for reading in readings_mm)
    what = "Wafers measured" if from_lock else "Worn key measured"
    words = f"{what}: {taken} of {len(readings_mm)} cuts, {_keys(view.remaining)} left."
    record(opened.job, EventKind.KEY, actor=actor, at=at, visit=visit, words=words)
    readings = [None if reading is None else str(reading) for reading in readings_mm]
    entered = {"readings": readings, "from_lock": from_lock, "in_books": in_books, "next_cut": view.next_cut}
    weighed = [(one.bitting, one.weight) for one in view.decoded]
    way = KeyWay.LOCK if from_lock else KeyWay.KEY
    return _found(opened, way, entered, weighed, actor=actor, visit=visit, at=at)


@transaction.atomic
def use_earlier_key(
    job: Job, *, actor: Person, earlier: KeyWork, visit: Visit | None = None, at: datetime | None = None
) -> KeyWork:
    """Takes the cuts kept from an earlier job of the same vehicle; the opening is written down on that job."""
    opened = open_at_work(job, actor=actor, at=at, is_anew=True)
    _refuse_when_made(opened.work)
    kept = KeyWork.objects.kept_of_vehicle(opened.job.vehicle).filter(pk=earlier.pk).first()
    if kept is None or kept.job_id == opened.job.pk:
        raise Refused("No key of this vehicle is kept there.")
    kinds = ["jobs.keywork.bitting"]
    permit = open_guarded(
        kept.job, actor=actor, kinds=kinds, reason="A key from the cuts kept", for_job=opened.job, at=at
    )
    labels = tuple(kept.bitting.open(permit))
    _forget(opened.work)
    opened.work.key_system = kept.key_system
    words = f"Cuts taken from job {kept.job.number}."
    record(opened.job, EventKind.KEY, actor=actor, at=at, visit=visit, words=words)
    return _found(opened, KeyWay.EARLIER, {}, [(labels, 1.0)], actor=actor, visit=visit, at=at)


def _found(
    opened: OpenWork,
    way: KeyWay,
    entered: dict[str, Any],
    candidates: Weighed,
    *,
    actor: Person,
    visit: Visit | None,
    at: datetime | None,
) -> KeyWork:
    """Candidates are there: plans the trials at once, or in the worker when they are many. Blanks cut before stay."""
    work = opened.work
    assert work.key_system is not None
    in_hand = [blank.cut for blank in opened.kept.state.in_hand] if opened.kept else []
    if opened.kept and opened.kept.state.system != work.key_system.system:
        in_hand = []
    work.way, work.known, work.leave_by, work.leave_reason = way, entered, None, ""
    turn = {
        "do": "begin",
        "candidates": [[list(cuts), weight] for cuts, weight in candidates],
        "in_hand": [list(cut) for cut in in_hand],
    }
    work.stage, work.left, work.tries, work.bitting = KeyStage.TRYING, len(candidates), 0, None
    work.blank_parts = {}
    if len(candidates) > AT_ONCE:
        work.trials = None
        work.save()
        return ask_worker(work, turn, actor=actor)
    KeyPlan.objects.filter(work=work).delete()
    with refusing():
        return keep_trials(work, begin_trials(work.key_system.system, turn))


def _forget(work: KeyWork) -> None:
    """Drops what was known of the cuts; the blanks that were spoiled stay counted."""
    KeyPlan.objects.filter(work=work).delete()
    work.known = work.trials = work.bitting = work.left = None
    work.stage, work.way, work.tries, work.blank_parts = KeyStage.BEGUN, "", 0, {}
    work.leave_by, work.leave_reason = None, ""


def _sheet(work: KeyWork) -> KeySystemSheet:
    if work.key_system is None:
        raise Refused("Choose the key system first.")
    return work.key_system


def _refuse_when_made(work: KeyWork) -> None:
    if work.stage == KeyStage.MADE:
        raise Refused("The key is made already.")


def _keys(count: int) -> str:
    return "one key" if count == 1 else f"{count:,} keys"
