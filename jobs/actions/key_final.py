"""The customer's keys: cut on the expensive blank once the cuts are sure, counted, tried, and kept for a duplicate."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from jobs.actions.base import lock_job, record
from jobs.actions.key_base import OpenWork, check_seen, keep_trials, open_at_work, refusing
from jobs.actions.parts import spoil_part, use_part
from jobs.errors import WrongState
from jobs.key_run import Kept, take_turn
from jobs.models import EventKind, Job, KeyStage, KeyWork, Visit
from shop.errors import Refused
from shop.staff.models import Person
from shop.stock.models import Item, ItemKind, Place, SpoiledReason
from vehicles.drawing import sorted_locks
from vehicles.keys import Answer, Bitting, BlankCosts, TransponderAdvice, TrialState, transponder_advice

MOST_KEYS = 20
# Weighing up costs means planning for the expensive blank too; nobody cuts it with more candidates than this.
ADVISED_AT_MOST = 60
FINAL_KINDS = frozenset({ItemKind.BLANK, ItemKind.TRANSPONDER_BLANK, ItemKind.FOB, ItemKind.REMOTE})


def advise(
    state: TrialState, *, leave: bool, trial: Item | None = None, final: Item | None = None
) -> TransponderAdvice | None:
    """Whether the expensive blank may be cut now, and to what; None while far too many candidates are left."""
    if not state.found and len(state.remaining) > ADVISED_AT_MOST:
        return None
    nothing = Decimal(0)
    costs = BlankCosts(trial.last_cost if trial else nothing, final.last_cost if final else nothing)
    return transponder_advice(state, costs, owner_says_so=leave)


@transaction.atomic
def record_final_key(
    job: Job,
    *,
    actor: Person,
    item: Item,
    place: Place,
    count: int,
    turned_in: Sequence[str] = (),
    seen: int | None = None,
    visit: Visit | None = None,
    at: datetime | None = None,
) -> KeyWork:
    """Keys cut for the customer and tried: takes the blanks from stock and seals the cuts for a later duplicate.

    Can be called again for more keys. Raises Refused for a count out of 1 to 20, for a key that turned in no lock, and
    while neither one candidate is left nor the owner gave leave.
    """
    opened = open_at_work(job, actor=actor, at=at)
    work = opened.work
    check_seen(opened.kept, seen)
    bitting = _final_bitting(opened)
    if not 1 <= count <= MOST_KEYS:
        raise Refused(f"Give a count from 1 to {MOST_KEYS}.", field="count")
    _check_item(item)
    locks = [lock for lock, _ in sorted_locks(work.key_system.system.locks)] if work.key_system else []
    turned = [lock for lock in locks if lock in turned_in]
    if locks and not turned:
        raise Refused("Try every key, and mark the locks it turns in. One that turns nowhere is no key yet.")
    use_part(opened.job, actor=actor, item=item, quantity=count, place=place, visit=visit, at=at)
    work.final_item, work.bitting, work.stage = item, list(bitting), KeyStage.MADE
    work.keys_cut += count
    work.turned_in = [lock for lock in locks if lock in turned or lock in work.turned_in]
    work.made_at, work.made_by = work.made_at or at or timezone.now(), work.made_by or actor
    work.save()
    where = f", turned in: {', '.join(turned)}" if turned else ""
    words = f"{count} key{'' if count == 1 else 's'} cut{where}."
    record(opened.job, EventKind.KEY, actor=actor, at=at, visit=visit, words=words)
    return work


@transaction.atomic
def spoil_final_key(
    job: Job,
    *,
    actor: Person,
    item: Item,
    place: Place,
    turned: bool | None = None,
    seen: int | None = None,
    visit: Visit | None = None,
    at: datetime | None = None,
) -> KeyWork:
    """A customer's blank became no key: miscut, or it did not turn (`turned` false): its cuts are ruled out."""
    opened = open_at_work(job, actor=actor, at=at)
    check_seen(opened.kept, seen)
    bitting = _final_bitting(opened)
    _check_item(item)
    reason = SpoiledReason.TRIAL if turned is False else SpoiledReason.MISCUT
    spoil_part(
        opened.job, actor=actor, item=item, quantity=1, place=place, reason=reason, visit=visit, at=at, note="Final key"
    )
    words = "A final key did not turn." if turned is False else "A final blank was miscut."
    record(opened.job, EventKind.KEY, actor=actor, at=at, visit=visit, words=words)
    if turned is False and opened.kept and opened.work.stage != KeyStage.MADE:
        return _ruled_out(opened.work, opened.kept, bitting)
    return opened.work


@transaction.atomic
def give_leave(job: Job, *, actor: Person, reason: str, at: datetime | None = None) -> KeyWork:
    """The owner allows to cut the expensive blank while more than one candidate is left."""
    locked = lock_job(job)
    if not actor.is_owner:
        raise Refused("Only the owner can allow this.")
    if not reason.strip():
        raise Refused("Say why.", field="reason")
    work: KeyWork | None = KeyWork.objects.select_for_update(of=("self",)).filter(job=locked).first()
    if work is None or work.stage != KeyStage.TRYING:
        raise WrongState("There are no candidates to choose from.")
    work.leave_by, work.leave_reason = actor, reason.strip()[:200]
    work.save(update_fields=["leave_by", "leave_reason"])
    words = f"The owner allows to cut the customer's blank now: {work.leave_reason}"
    record(locked, EventKind.KEY, actor=actor, at=at, words=words)
    return work


def _ruled_out(work: KeyWork, kept: Kept, bitting: Bitting) -> KeyWork:
    turn = {"do": "answer", "answer": Answer(whole=False).to_json(), "tried": list(bitting)}
    with refusing():
        return keep_trials(work, take_turn(kept, turn))


def _final_bitting(opened: OpenWork) -> Bitting:
    """The cuts of the final key: those found, the only ones left, or with the owner's leave the likeliest."""
    if opened.bitting is not None:
        return opened.bitting
    if opened.kept is None:
        raise WrongState("There are no candidates yet. Enter what is known first.")
    advice = advise(opened.kept.state, leave=opened.work.leave_by_id is not None)
    if advice is None or not advice.may_cut:
        left = len(opened.kept.state.remaining)
        raise Refused(
            f"{left:,} candidates are left. Cut the customer's blank when one is left, or when the owner allows it."
        )
    return advice.bitting


def _check_item(item: Item) -> None:
    if item.kind not in FINAL_KINDS or not item.is_active:
        raise Refused("Choose a blank, fob or remote.", field="item")
