"""Plans of trials too large for a request."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone

from shop.staff.models import Person
from vehicles.code_books import bittings_for
from vehicles.keys import Bitting, KeysError
from vehicles.long_work import Teller, begin, give_up
from vehicles.models import KeySystemSheet, TrialPlanRequest
from vehicles.sending import PLAN_TRIALS, send
from vehicles.workbench import list_missing, make_plan

KEPT_FOR = timedelta(days=1)


@transaction.atomic
def ask_for_plan(
    sheet: KeySystemSheet,
    *,
    actor: Person,
    known: Sequence[str | None] | None = None,
    candidates: Sequence[tuple[Bitting, float]] | None = None,
    with_books: bool = False,
) -> TrialPlanRequest:
    """Puts a plan in line: for all bittings with the `known` cuts, or for weighed `candidates`."""
    asked: dict[str, Any] = {"known": None if known is None else list(known), "with_books": with_books}
    if candidates is not None:
        asked["candidates"] = [[list(bitting), weight] for bitting, weight in candidates]
    made = TrialPlanRequest.objects.create(person=actor, key_system=sheet, asked=asked)
    send(PLAN_TRIALS, made.pk)
    return made


def work_out(made: TrialPlanRequest) -> None:
    """The worker's part."""
    begin(made)
    system = made.key_system.system
    with Teller(made) as teller:
        try:
            candidates, weights = _candidates(made)
            plan = make_plan(system, candidates, weights, progress=teller.part(5, 95))
        except KeysError as error:
            give_up(made, str(error))
            return
    made.state, made.percent, made.result, made.heard_at = made.State.DONE, 100, plan.to_json(), timezone.now()
    made.save(update_fields=["state", "percent", "result", "heard_at"])


def _candidates(made: TrialPlanRequest) -> tuple[list[Bitting], list[float] | None]:
    if "candidates" in made.asked:
        pairs = made.asked["candidates"]
        return [tuple(bitting) for bitting, _ in pairs], [weight for _, weight in pairs]
    known = made.asked["known"]
    book = bittings_for(made.key_system, known) if made.asked["with_books"] else None
    return list_missing(made.key_system.system, known, book), None


def clear_old_plans() -> int:
    """Deletes plans older than a day; returns how many."""
    return int(TrialPlanRequest.objects.filter(asked_at__lt=timezone.now() - KEPT_FOR).delete()[0])
