"""Trying candidates on trial keys. Every trial blank is counted once, when it is first cut for a try."""

from datetime import datetime
from typing import Any

from django.db import transaction

from jobs.actions.base import record
from jobs.actions.key_base import AT_ONCE, OpenWork, ask_worker, check_seen, keep_trials, open_at_work, refusing
from jobs.actions.parts import spoil_part, take_back_part
from jobs.errors import WrongState
from jobs.key_run import Kept, take_turn
from jobs.models import EventKind, Job, KeyStage, KeyWork, PartUse, Visit
from shop.errors import Refused
from shop.staff.models import Person
from shop.stock.models import Item, ItemKind, Place, SpoiledReason
from vehicles.keys import Answer
from vehicles.keys.answers import read_answer

TRIAL_KINDS = frozenset({ItemKind.BLANK})


@transaction.atomic
def choose_trial_blank(job: Job, *, actor: Person, item: Item, place: Place, at: datetime | None = None) -> KeyWork:
    """Says which plain blank the trial keys are cut from, and out of which stock."""
    work = open_at_work(job, actor=actor, at=at).work
    if item.kind not in TRIAL_KINDS or not item.is_active:
        raise Refused("Trial keys are cut from plain blanks.", field="item")
    work.trial_item, work.trial_place = item, place
    work.save(update_fields=["trial_item", "trial_place"])
    return work


@transaction.atomic
def answer_trial(
    job: Job,
    *,
    actor: Person,
    answer: str,
    lock: str = "",
    seen: int | None = None,
    visit: Visit | None = None,
    at: datetime | None = None,
) -> KeyWork:
    """What the planned trial key did: `answer` is "turns", "does not turn", or "only" with the `lock` that it turns.

    A new blank is taken from stock. An answer that contradicts earlier ones is not taken; the doubt is kept and shown.
    `seen` is how many tries the page had seen. Raises MovedMeanwhile for a stale page, Refused without a trial blank.
    """
    opened = open_at_work(job, actor=actor, at=at)
    work, kept = opened.work, _trying(opened)
    check_seen(kept, seen)
    step = kept.state.next_step
    if step is None:
        raise WrongState("There is nothing left to try.")
    if work.trial_item is None or work.trial_place is None:
        raise Refused("Choose the trial blank first.")
    heard = _heard(kept, answer, lock)
    if step.is_new_blank:
        taken = spoil_part(
            opened.job,
            actor=actor,
            item=work.trial_item,
            quantity=1,
            place=work.trial_place,
            reason=SpoiledReason.TRIAL,
            visit=visit,
            at=at,
            note=f"Trial blank {step.blank}",
        )
        work.blank_parts[str(step.blank)] = taken.pk
    words = f"Try {len(kept.state.tries) + 1} on trial blank {step.blank}: {heard.words}."
    record(opened.job, EventKind.KEY, actor=actor, at=at, visit=visit, words=words)
    work = _turn(opened, {"do": "answer", "answer": heard.to_json()}, actor=actor)
    if work.tries == sum(not each.is_withdrawn for each in kept.state.tries) and len(kept.state.weights) <= AT_ONCE:
        words = "That answer contradicts earlier ones and was not taken."
        record(opened.job, EventKind.KEY, actor=actor, at=at, visit=visit, words=words)
    return work


@transaction.atomic
def undo_answer(
    job: Job,
    *,
    actor: Person,
    number: int | None = None,
    was_cut: bool = True,
    seen: int | None = None,
    visit: Visit | None = None,
    at: datetime | None = None,
) -> KeyWork:
    """Withdraws the answer to a try, the last one unless `number` is given. With `was_cut` false it was never made,
    and its blank is put back, into stock when it was a new one."""
    opened = open_at_work(job, actor=actor, at=at)
    kept = _trials(opened)
    check_seen(kept, seen)
    open_tries = [each for each in kept.state.tries if not each.is_withdrawn and number in (None, each.number)]
    if not open_tries:
        raise Refused("There is no answer to withdraw.")
    attempt = open_tries[-1]
    if not was_cut and attempt.cut_from is None:
        part = PartUse.objects.filter(pk=opened.work.blank_parts.pop(str(attempt.blank), None)).first()
        if part and part.taken_back_id is None:
            take_back_part(part, actor=actor, at=at)
    words = f"Answer to try {attempt.number} withdrawn" + ("." if was_cut else "; it was never cut.")
    record(opened.job, EventKind.KEY, actor=actor, at=at, visit=visit, words=words)
    return _turn(opened, {"do": "undo", "number": attempt.number, "was_cut": was_cut}, actor=actor)


@transaction.atomic
def discard_trial_blank(
    job: Job,
    *,
    actor: Person,
    number: int,
    seen: int | None = None,
    visit: Visit | None = None,
    at: datetime | None = None,
) -> KeyWork:
    """A trial blank broke, was miscut or lost: the plan goes on without it. One that was not yet counted, because it
    went wrong in its first cut, is counted now as miscut."""
    opened = open_at_work(job, actor=actor, at=at)
    work, kept = opened.work, _trying(opened)
    check_seen(kept, seen)
    words = f"Trial blank {number} put aside: broken or miscut."
    record(opened.job, EventKind.KEY, actor=actor, at=at, visit=visit, words=words)
    if number in {blank.number for blank in kept.state.in_hand}:
        return _turn(opened, {"do": "discard", "number": number}, actor=actor)
    step = kept.state.next_step
    if step is None or step.blank != number or work.trial_item is None or work.trial_place is None:
        raise Refused(f"Blank {number} is not in hand.")
    spoil_part(
        opened.job,
        actor=actor,
        item=work.trial_item,
        quantity=1,
        place=work.trial_place,
        reason=SpoiledReason.MISCUT,
        visit=visit,
        at=at,
        note="Trial blank",
    )
    return work


def _turn(opened: OpenWork, turn: dict[str, Any], *, actor: Person) -> KeyWork:
    """Takes the turn now, or leaves it to the worker when many candidates are left."""
    kept = _trials(opened)
    if len(kept.state.weights) > AT_ONCE:
        opened.work.save()
        return ask_worker(opened.work, turn, actor=actor)
    with refusing():
        return keep_trials(opened.work, take_turn(kept, turn))


def _trials(opened: OpenWork) -> Kept:
    if opened.work.stage == KeyStage.MADE:
        raise WrongState("The key is made.")
    if opened.kept is None:
        raise WrongState("There are no candidates yet. Enter what is known first.")
    return opened.kept


def _trying(opened: OpenWork) -> Kept:
    kept = _trials(opened)
    if kept.state.found:
        raise WrongState("The key is found. Withdraw the last answer if it was wrong.")
    return kept


def _heard(kept: Kept, answer: str, lock: str) -> Answer:
    with refusing():
        if answer == "only":
            return read_answer(kept.state.system, Answer(turned=frozenset([lock]), whole=False))
        return read_answer(kept.state.system, answer)
