"""Long work on code books and trial plans. The rows say what is to be done: a task delivered twice does it once, and
`carry_on` sends again what nobody has been heard of for a minute."""

import logging

from celery import shared_task
from django.utils import timezone

from shop.errors import Refused
from vehicles.actions import code_books, trial_plans
from vehicles.long_work import SILENT_AFTER, give_up, only_one
from vehicles.models import CodeBookImport, LongWork, TrialPlanRequest
from vehicles.sending import PLAN_TRIALS, WORK_ON_CODE_BOOK

log = logging.getLogger(__name__)
_UNDER_WAY = (LongWork.State.WAITING, LongWork.State.RUNNING)


@shared_task(name=WORK_ON_CODE_BOOK)
def work_on_code_book(import_id: int) -> None:
    """The next step of one file: checked, or taken in."""
    made = CodeBookImport.objects.select_related("key_system").filter(pk=import_id, state__in=_UNDER_WAY).first()
    if made is None:
        return
    with only_one(made) as mine:
        if not mine:
            return
        made.refresh_from_db(fields=["state"])
        if not made.is_under_way:
            return
        step = code_books.check_code_book if made.step == CodeBookImport.Step.CHECK else code_books.store_code_book
        try:
            step(made)
        except Refused as refused:
            give_up(made, str(refused))


@shared_task(name=PLAN_TRIALS)
def plan_trials(request_id: int) -> None:
    """One trial plan."""
    asked = TrialPlanRequest.objects.select_related("key_system").filter(pk=request_id, state__in=_UNDER_WAY).first()
    if asked is None:
        return
    with only_one(asked) as mine:
        if not mine:
            return
        asked.refresh_from_db(fields=["state"])
        if asked.is_under_way:
            trial_plans.work_out(asked)


@shared_task(name="vehicles.carry_on")
def carry_on() -> None:
    """Sends again what was lost with a worker or the queue, and clears away plans and files that are done with."""
    silent = {"state__in": _UNDER_WAY, "heard_at__lt": timezone.now() - SILENT_AFTER}
    for made in CodeBookImport.objects.filter(**silent).values_list("pk", flat=True):
        work_on_code_book.delay(made)
    for asked in TrialPlanRequest.objects.filter(**silent).values_list("pk", flat=True):
        plan_trials.delay(asked)
    trial_plans.clear_old_plans()
    code_books.clear_old_files()
