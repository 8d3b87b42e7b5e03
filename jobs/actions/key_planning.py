"""The worker's part of a long turn: worked out outside any transaction, then kept if nobody asked anew meanwhile."""

from django.db import transaction
from django.utils import timezone

from jobs.actions.base import lock_job
from jobs.actions.key_base import KINDS, REASON, keep_trials, open_kept
from jobs.actions.openings import open_guarded
from jobs.key_run import Kept, begin_trials, take_turn
from jobs.models import KeyPlan, KeyStage, KeyWork
from shop.errors import Refused
from vehicles.keys import KeysError
from vehicles.long_work import Teller, begin, give_up


def work_out(plan: KeyPlan) -> None:
    """Works out what was asked, telling how far it is. What cannot be done is refused in words on the plan. A turn that
    was asked meanwhile is left alone: the task then goes on with it."""
    begin(plan)
    work: KeyWork = KeyWork.objects.select_related("job", "key_system").get(pk=plan.work_id)
    try:
        kept = _worked_out(plan, work)
    except (KeysError, Refused) as error:
        _give_up(plan, work, str(error))
        return
    _keep(plan, kept)


@transaction.atomic
def _give_up(plan: KeyPlan, work: KeyWork, words: str) -> None:
    lock_job(work.job)
    current = _current(plan)
    if current is None:
        return
    give_up(current, words)
    if work.trials is None:
        KeyWork.objects.filter(pk=work.pk).update(stage=KeyStage.BEGUN, left=None)


def _current(plan: KeyPlan) -> KeyPlan | None:
    """The plan's row if it still asks for the same turn."""
    same: KeyPlan | None = KeyPlan.objects.select_for_update().filter(pk=plan.pk, turn=plan.turn).first()
    return same if same and same.is_under_way else None


def _worked_out(plan: KeyPlan, work: KeyWork) -> Kept:
    permit = open_guarded(work.job, actor=plan.person, kinds=KINDS, reason=REASON)
    turn = plan.asked.open(permit)
    assert work.key_system is not None
    with Teller(plan) as teller:
        if turn["do"] == "begin":
            return begin_trials(work.key_system.system, turn, teller.part(5, 95))
        kept = open_kept(work, permit)
        if kept is None:
            raise Refused("The candidates are gone. Enter what is known again.")
        teller.tell(20)
        return take_turn(kept, turn)


@transaction.atomic
def _keep(plan: KeyPlan, kept: Kept) -> None:
    job = lock_job(plan.work.job)
    work: KeyWork = KeyWork.objects.select_for_update(of=("self",)).select_related("key_system").get(job=job)
    current = _current(plan)
    if current is None:
        return
    keep_trials(work, kept)
    current.state, current.percent, current.heard_at, current.asked = KeyPlan.State.DONE, 100, timezone.now(), None
    current.save(update_fields=["state", "percent", "heard_at", "asked"])
