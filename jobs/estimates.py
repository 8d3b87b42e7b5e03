"""Time on site as the shop's own history tells it: the visits that are learned from, and the estimate for a job."""

import math
from collections.abc import Hashable, Iterable
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from jobs.models import TimeEstimate, TimeLevel, Visit
from jobs.states import JobState, VisitState
from vehicles.estimates import Effect, Estimate, Key, Model, Node, Observation
from vehicles.models import Vehicle

# Older visits were done by other people with other tools.
LEARNED_FROM = timedelta(days=3 * 365)
# The shop's night: after this hour whatever was not learned yet today is learned.
FROM_HOUR = 3
MINUTE = timedelta(minutes=1)


def finished_visits(since: datetime, until: datetime) -> list[Observation]:
    """Minutes from arrival to finish of every visit of a finished job that ended in the span; one query.

    A visit without a tapped arrival says nothing, and one after which the job still waits did not do the work.
    """
    rows: Any = (
        Visit.objects.filter(
            state=VisitState.FINISHED,
            job__state=JobState.FINISHED,
            arrived_at__isnull=False,
            finished_at__gte=since,
            finished_at__lt=until,
        )
        .order_by("finished_at", "id")
        .values_list(
            "arrived_at",
            "finished_at",
            "job__kind_of_work",
            "job__vehicle__make",
            "job__vehicle__model",
            "technician_id",
        )
    )
    return [
        Observation((finished - arrived) / MINUTE, kind, make or "", model or "", technician)
        for arrived, finished, kind, make, model, technician in rows.iterator(chunk_size=5000)
    ]


def estimate_for(
    kind_of_work: str,
    *,
    vehicle: Vehicle | None = None,
    make: str = "",
    model: str = "",
    technician_id: int | None = None,
) -> Estimate | None:
    """The estimate for such a job in one query; None before the first night. A vehicle goes before make and model."""
    if vehicle:
        make, model = vehicle.make, vehicle.model
    rows = TimeEstimate.objects.telling_of(kind_of_work, make=make, model=model, technician_id=technician_id)
    model_here = model_of(rows)
    if (kind_of_work,) not in model_here.nodes:
        return None
    return model_here.estimate(kind=kind_of_work, make=make, model=model, technician=technician_id)


def model_of(rows: Iterable[TimeEstimate]) -> Model:
    """The model, or the part of it, that these rows keep."""
    nodes: dict[Key, Node] = {}
    effects: dict[Hashable, Effect] = {}
    for row in rows:
        if row.level == TimeLevel.TECHNICIAN:
            effects[row.technician_id] = Effect(row.log_mean, row.spread**2)
        else:
            depth = list(TimeLevel).index(TimeLevel(row.level))
            key = (row.kind_of_work, row.make, row.model)[:depth]
            nodes[key] = Node(row.log_mean, row.spread, row.reach, row.jobs)
    unknown = effects.pop(None, Effect(0.0, 0.0))
    return Model(nodes, effects, unknown)


def rows_of(model: Model, at: datetime) -> list[TimeEstimate]:
    """The rows that keep a model."""
    levels = list(TimeLevel)
    rows = []
    for key, node in model.nodes.items():
        kind, make, name = (*key, "", "", "")[:3]
        rows.append(
            TimeEstimate(
                level=levels[len(key)],
                kind_of_work=kind,
                make=make,
                model=name,
                log_mean=node.mean,
                spread=node.spread,
                reach=node.reach,
                jobs=node.jobs,
                computed_at=at,
            )
        )
    for technician_id, effect in [*model.technicians.items(), (None, model.unknown)]:
        assert technician_id is None or isinstance(technician_id, int)
        rows.append(
            TimeEstimate(
                level=TimeLevel.TECHNICIAN,
                technician_id=technician_id,
                log_mean=effect.mean,
                spread=math.sqrt(effect.variance),
                computed_at=at,
            )
        )
    return rows


def is_due(now: datetime) -> bool:
    """Whether this night's learning is still to do, by the clock of the current zone; a night missed is caught up."""
    learned = TimeEstimate.objects.order_by("-computed_at").values_list("computed_at", flat=True).first()
    return learned is None or _night(learned) < _night(now)


def _night(at: datetime) -> int:
    return (timezone.localtime(at) - timedelta(hours=FROM_HOUR)).date().toordinal()
