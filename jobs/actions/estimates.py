"""Keeps what was learned of times on site."""

from collections.abc import Mapping
from datetime import datetime

from django.db import connection, transaction
from django.utils import timezone

from jobs.estimates import LEARNED_FROM, finished_visits, rows_of
from jobs.models import TimeEstimate
from vehicles.estimates import fit


@transaction.atomic
def store_estimates(*, usual: Mapping[str, int], at: datetime | None = None) -> int:
    """Learns from the visits finished before `at` and replaces what was known; returns how many rows are kept now.

    `usual` are the price book's minutes by kind of work. Two at once do it one after the other; whoever reads meanwhile
    reads what was known before.
    """
    moment = at or timezone.now()
    with connection.cursor() as cursor:
        cursor.execute(
            f"LOCK TABLE {connection.ops.quote_name(TimeEstimate._meta.db_table)} IN SHARE ROW EXCLUSIVE MODE"
        )
    model = fit(finished_visits(moment - LEARNED_FROM, moment), usual=usual)
    TimeEstimate.objects.all().delete()
    return len(TimeEstimate.objects.bulk_create(rows_of(model, moment), batch_size=1000))
