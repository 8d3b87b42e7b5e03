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
    """Works out what was asked, telling how far it is. What cannot be done is refused in words on the plan."""
    begin(plan)
    work: KeyWork = KeyWork.objects.select_related("job", "key_system").get(pk=plan.work_id)
    try:
        kept = _worked_out(plan, work)
    except (KeysError, Refused) as error:
        give_up(plan, str(error))
        if work.trials is None:
            KeyWork.objects.filter(pk=work.pk).update(stage=KeyStage.BEGUN, left=None)
        return
    _keep(plan, kept)


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
    current = KeyPlan.objects.select_for_update().get(pk=plan.pk)
    if current.turn != plan.turn or not current.is_under_way:
        return
    keep_trials(work, kept)
    current.state, current.percent, current.heard_at, current.asked = KeyPlan.State.DONE, 100, timezone.now(), None
    current.save(update_fields=["state", "percent", "heard_at", "asked"])
