"""What every action on key work shares: the job on site, its key data opened for a reason, turns kept or sent."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils import timezone

from jobs.actions.base import lock_job
from jobs.actions.openings import open_guarded
from jobs.errors import MovedMeanwhile, WrongState
from jobs.key_run import Kept, kept_from_json, kept_to_json
from jobs.models import Job, KeyPlan, KeyStage, KeyWork
from jobs.sending import PLAN_KEY_TRIALS, send
from jobs.states import JobState
from shop.errors import Refused
from shop.guarded import Permit
from shop.staff.models import Person
from vehicles.keys import BadReadings, Bitting, KeysError, UnitsDoubt

KINDS = ("jobs.keyplan.asked", *(f"jobs.keywork.{name}" for name in ("bitting", "code", "known", "trials")))
REASON = "Making the key of this job"
# More candidates than this are worked out by the worker: planning grows with their square.
AT_ONCE = 600


@dataclass
class OpenWork:
    """Key work locked for a change, with leave to open its key data; `kept` are its trials, if there are any."""

    job: Job
    work: KeyWork
    permit: Permit
    kept: Kept | None

    @property
    def bitting(self) -> Bitting | None:
        return tuple(self.work.bitting.open(self.permit)) if self.work.bitting is not None else None


def open_at_work(job: Job, *, actor: Person, at: datetime | None = None, is_anew: bool = False) -> OpenWork:
    """The job's key work, made when it is the first step. Raises WrongState unless the job is on site, or while trials
    are being worked out unless they begin anew (`is_anew`); NotPermitted before the check is passed."""
    locked = lock_job(job)
    if locked.state != JobState.ON_SITE:
        raise WrongState("Keys are made on site. Arrive first.")
    permit = open_guarded(locked, actor=actor, kinds=KINDS, reason=REASON, at=at)
    works = KeyWork.objects.select_for_update(of=("self",)).select_related("key_system", "trial_item", "trial_place")
    work: KeyWork = works.filter(job=locked).first() or KeyWork.objects.create(
        job=locked, begun_at=at or timezone.now()
    )
    work.job = locked
    if (
        not is_anew
        and KeyPlan.objects.filter(work=work, state__in=[KeyPlan.State.WAITING, KeyPlan.State.RUNNING]).exists()
    ):
        raise WrongState("The trials are being worked out. Wait for that first.")
    return OpenWork(locked, work, permit, open_kept(work, permit))


def open_kept(work: KeyWork, permit: Permit) -> Kept | None:
    """The trials as they stand."""
    if work.trials is None or work.key_system is None:
        return None
    return kept_from_json(work.key_system.system, work.trials.open(permit))


def keep_trials(work: KeyWork, kept: Kept) -> KeyWork:
    """Keeps the trials, with what may be known of them in the clear."""
    state = kept.state
    found = state.found
    work.trials = kept_to_json(kept)
    work.left = 1 if found else len(state.remaining)
    work.tries = sum(not each.is_withdrawn for each in state.tries)
    work.stage = KeyStage.FOUND if found else KeyStage.TRYING
    work.bitting = list(found) if found else None
    work.save()
    return work


def ask_worker(work: KeyWork, turn: dict[str, Any], *, actor: Person) -> KeyWork:
    """Puts a turn in line for the worker."""
    facts: dict[str, Any] = {"person": actor, "asked": turn, "words": "", "percent": 0}
    facts |= {"state": KeyPlan.State.WAITING, "asked_at": timezone.now(), "heard_at": timezone.now()}
    plan, made = KeyPlan.objects.get_or_create(work=work, defaults=facts)
    if not made:
        for name, value in facts.items():
            setattr(plan, name, value)
        plan.turn += 1
        plan.save()
    send(PLAN_KEY_TRIALS, plan.pk)
    return work


def check_seen(kept: Kept | None, seen: int | None) -> None:
    """Refuses what a page sends that had seen fewer tries than there are: it speaks of another key."""
    if kept is not None and seen is not None and seen != len(kept.state.tries):
        raise MovedMeanwhile("The trials have gone on since this page was opened. Look at the step shown now.")


@contextmanager
def refusing() -> Iterator[None]:
    """The key core's refusals as those of the shop; a doubt about units or readings stays what it is."""
    try:
        yield
    except (UnitsDoubt, BadReadings):
        raise
    except KeysError as error:
        raise Refused(str(error)) from None
