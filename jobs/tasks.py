"""Tasks of jobs: what is too long for a request, and what the night does."""

import logging

from celery import shared_task
from django.utils import timezone

from jobs.actions.exports import make_export
from jobs.actions.key_planning import work_out
from jobs.actions.nights import keep_night
from jobs.models import DataExport, KeyPlan
from jobs.sending import MAKE_EXPORT, PLAN_KEY_TRIALS
from shop.middleware import shop_zone
from vehicles.long_work import SILENT_AFTER, begin, give_up, only_one
from vehicles.models.long_work import LongWork

log = logging.getLogger(__name__)
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
        # A turn asked for meanwhile found the lock taken, and is taken here.
        while (plan := KeyPlan.objects.filter(pk=plan_id, state__in=_UNDER_WAY).first()) is not None:
            work_out(plan)


@shared_task(name="jobs.carry_on_key_plans")
def carry_on_key_plans() -> None:
    """Sends again the turns of which nobody has been heard for a minute."""
    silent = KeyPlan.objects.filter(state__in=_UNDER_WAY, heard_at__lt=timezone.now() - SILENT_AFTER)
    for plan_id in silent.values_list("pk", flat=True):
        plan_key_trials.delay(plan_id)


@shared_task(name="jobs.keep_night")
def keep_night_task() -> None:
    """Deletes what is due, once in a night; called often, so that a night missed is caught up."""
    with timezone.override(shop_zone()):
        keep_night()


@shared_task(name=MAKE_EXPORT)
def make_export_task(export_id: int) -> None:
    """One file of a customer's data. A task delivered twice does it once."""
    made = DataExport.objects.select_related("customer", "person").filter(pk=export_id, state__in=_UNDER_WAY).first()
    if made is None:
        return
    with only_one(made) as mine:
        if not mine:
            return
        made.refresh_from_db(fields=["state"])
        if not made.is_under_way:
            return
        begin(made)
        try:
            with timezone.override(shop_zone()):
                make_export(made)
        except Exception:
            # Tried again by hand: a file that fails over and over must not keep the worker busy.
            log.exception("A customer's data could not be gathered: %s", made.pk)
            give_up(made, "The file could not be made. Ask for it again; if it fails again, look into the log.")


@shared_task(name="jobs.carry_on_exports")
def carry_on_exports() -> None:
    """Sends again the files of which nobody has been heard for a minute."""
    silent = DataExport.objects.filter(state__in=_UNDER_WAY, heard_at__lt=timezone.now() - SILENT_AFTER)
    for export_id in silent.values_list("pk", flat=True):
        make_export_task.delay(export_id)
