"""Tasks of jobs: what is too long for a request."""

from celery import shared_task
from django.utils import timezone

from jobs.actions.key_planning import work_out
from jobs.models import KeyPlan
from jobs.sending import PLAN_KEY_TRIALS
from vehicles.long_work import SILENT_AFTER, only_one
from vehicles.models.long_work import LongWork

_UNDER_WAY = (LongWork.State.WAITING, LongWork.State.RUNNING)


@shared_task(name=PLAN_KEY_TRIALS)
def plan_key_trials(plan_id: int) -> None:
    """One turn of a job's trials. A task delivered twice does it once."""
    plan = KeyPlan.objects.filter(pk=plan_id, state__in=_UNDER_WAY).first()
    if plan is None:
        return
    with only_one(plan) as mine:
        if not mine:
            return
        plan.refresh_from_db()
        if plan.is_under_way:
            work_out(plan)


@shared_task(name="jobs.carry_on_key_plans")
def carry_on_key_plans() -> None:
    """Sends again the turns of which nobody has been heard for a minute."""
    silent = KeyPlan.objects.filter(state__in=_UNDER_WAY, heard_at__lt=timezone.now() - SILENT_AFTER)
    for plan_id in silent.values_list("pk", flat=True):
        plan_key_trials.delay(plan_id)
