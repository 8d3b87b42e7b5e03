"""What jobs earned, added up by PostgreSQL: price charged, and each kind of cost, per job in whole minor units.

A job belongs to the month in which it was finished; one that ended without its work but was invoiced, to that of its
invoice. Until it is issued, the draft's price stands for the price. Labour goes from setting off to the finish, each
leg in whole minutes. What an hour and a kilometre cost is the visit's own, as it was at the finish. The arithmetic on
top is `billing.margin`.
"""

from collections.abc import Iterable
from dataclasses import dataclass, fields
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from django.db.models import (
    Count,
    DecimalField,
    DurationField,
    Exists,
    ExpressionWrapper,
    F,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
)
from django.db.models.functions import Coalesce, Extract, Round, TruncMonth
from django.utils import timezone

from billing.margin import JobMargin
from billing.models import Invoice, InvoiceState, PaymentPart
from jobs.models import Job, Visit
from jobs.states import VisitState
from shop.middleware import shop_zone
from shop.models import Shop
from shop.money import minor_units
from shop.stock.models import CostSlice, MovementKind

FIGURES = tuple(each.name for each in fields(JobMargin))
MONEY = DecimalField(max_digits=16, decimal_places=4)
NOTHING = Value(Decimal(0), output_field=MONEY)


@dataclass(frozen=True)
class Cut:
    """One part of a whole: its name, how many jobs, what they earned, and how many are not invoiced yet."""

    name: Any
    jobs: int
    not_invoiced: int
    margin: JobMargin


def with_margin(jobs: "QuerySet[Job]") -> "QuerySet[Job]":
    """Adds the six figures of `JobMargin` as `margin_price` and so on, `minutes`, `km` and `is_invoiced`."""
    shop = Shop.current()
    units = minor_units(shop.currency)
    visits = Visit.objects.filter(state=VisitState.FINISHED)
    minutes = _leg("set_off_at", "arrived_at") + _leg(Coalesce("arrived_at", "set_off_at"), "finished_at")
    fee = F("payment__card_fee") * F("amount") / F("payment__amount")
    issued = Invoice.objects.filter(job=OuterRef("pk"), state=InvoiceState.ISSUED)
    return jobs.annotate(
        margin_price=Round(Coalesce(F("invoice__net"), NOTHING), precision=units),
        margin_parts=Round(_slices(MovementKind.USED), precision=units),
        margin_spoiled=Round(_slices(MovementKind.SPOILED), precision=units),
        minutes=_sum(visits, minutes),
        margin_labour=Round(_sum(visits, minutes * F("hourly_cost")) / 60, precision=units),
        km=_sum(visits, Coalesce(F("drive_km"), NOTHING)),
        margin_travel=Round(_sum(visits, Coalesce(F("drive_km"), NOTHING) * F("travel_cost_per_km")), precision=units),
        margin_card_fees=Round(_sum(PaymentPart.objects.all(), fee, key="invoice__job"), precision=units),
        is_invoiced=Exists(issued),
    )


def jobs_between(start: datetime, end: datetime) -> "QuerySet[Job]":
    """Jobs that belong to a span of time, its end not included, with their margin."""
    finished = Q(finished_at__gte=start, finished_at__lt=end)
    charged = Q(finished_at=None, invoice__issued_at__gte=start, invoice__issued_at__lt=end)
    return with_margin(Job.objects.filter(finished | charged))


def month_bounds(month: date) -> tuple[datetime, datetime]:
    """The first moment of a month in the shop's zone, and that of the next."""
    first = month.replace(day=1)
    following = date(first.year + first.month // 12, first.month % 12 + 1, 1)
    return _midnight(first), _midnight(following)


def cuts_by_kind(jobs: "QuerySet[Job]") -> list[Cut]:
    """One cut for each kind of work, the largest price first."""
    cuts = _cuts(jobs, "kind_of_work")
    return sorted(cuts, key=lambda cut: -cut.margin.price)


def cuts_by_month(jobs: "QuerySet[Job]") -> list[Cut]:
    """One cut for each month in the shop's zone, the latest first."""
    counted_at = Coalesce("finished_at", "invoice__issued_at")
    cuts = _cuts(jobs.annotate(month=TruncMonth(counted_at, tzinfo=shop_zone())), "month")
    return sorted(cuts, key=lambda cut: cut.name, reverse=True)


def margin_of(row: Any) -> JobMargin:
    """The margin of a job loaded `with_margin`."""
    return JobMargin(**{name: getattr(row, f"margin_{name}") for name in FIGURES})


def _cuts(jobs: "QuerySet[Job]", by: str) -> Iterable[Cut]:
    sums = {f"sum_{name}": Sum(f"margin_{name}") for name in FIGURES}
    open_jobs = Count("pk", filter=Q(is_invoiced=False))
    for row in jobs.order_by().values(by).annotate(jobs=Count("pk"), not_invoiced=open_jobs, **sums):
        margin = JobMargin(**{name: row[f"sum_{name}"] for name in FIGURES})
        yield Cut(row[by], row["jobs"], row["not_invoiced"], margin)


def _slices(kind: MovementKind) -> Any:
    """First in, first out cost of what the job used, later corrections included, less what was taken back."""
    left = CostSlice.objects.filter(movement__kind=kind, is_taken_back=False)
    return _sum(left, F("cost"), key="movement__use__job")


def _sum(rows: "QuerySet[Any]", what: Any, *, key: str = "job") -> Any:
    added = rows.filter(**{key: OuterRef("pk")}).order_by().values(key).annotate(added=Sum(what, output_field=MONEY))
    return Coalesce(Subquery(added.values("added"), output_field=MONEY), NOTHING)


def _leg(start: Any, end: str) -> Any:
    """Whole minutes from one moment to another; none when either is unknown."""
    length = ExpressionWrapper(F(end) - (F(start) if isinstance(start, str) else start), output_field=DurationField())
    return Coalesce(Round(Extract(length, "epoch", output_field=MONEY) / 60), NOTHING)


def _midnight(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time.min), shop_zone())
