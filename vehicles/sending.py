"""Names of the tasks of this app, and how an action sends one: after its transaction, by name, never failing."""

import logging

from celery import current_app
from django.db import transaction
from kombu.exceptions import OperationalError

WORK_ON_CODE_BOOK = "vehicles.work_on_code_book"
PLAN_TRIALS = "vehicles.plan_trials"

log = logging.getLogger(__name__)


def send(task: str, row_id: int) -> None:
    """Sends a task once the transaction is kept. With the queue down the row waits for `vehicles.carry_on`."""

    def now() -> None:
        try:
            current_app.send_task(task, [row_id])
        except OperationalError:
            log.warning("The queue does not answer; %s %s waits.", task, row_id)

    transaction.on_commit(now)
