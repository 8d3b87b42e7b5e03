"""The lines behind a job's costs: each part, each visit, each fee, adding up to the figures to the minor unit."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils import timezone

from billing.margin import JobMargin
from billing.models import PaymentPart
from jobs.models import Job, PartUse, Visit
from jobs.states import VisitState
from shop.models import Shop
from shop.money import format_amount, split
from shop.stock.models import MovementKind


@dataclass(frozen=True)
class MarginLine:
    """One cost of a job and what is behind it, in words."""

    words: str
    behind: str
    cost: Decimal


def margin_lines(job: Job, margin: JobMargin) -> list[MarginLine]:
    """Every line of a job's costs. Asks the database three times."""
    currency = Shop.current().currency
    uses = list(_uses(job))
    used = [use for use in uses if use.movement.kind != MovementKind.SPOILED]
    spoiled = [use for use in uses if use.movement.kind == MovementKind.SPOILED]
    visits = list(job.visits.filter(state=VisitState.FINISHED).select_related("technician").order_by("during"))
    parts = list(PaymentPart.objects.filter(invoice__job=job).select_related("payment").order_by("pk"))
    fees = [part for part in parts if part.payment.card_fee]
    return [
        *_shared(margin.parts, [(use.item.name, _use(use), use.cost) for use in used], currency),
        *_shared(margin.spoiled, [(f"Spoiled: {use.item.name}", _use(use), use.cost) for use in spoiled], currency),
        *_shared(margin.labour, [_labour(visit, currency) for visit in visits], currency),
        *_shared(margin.travel, [_travel(visit, currency) for visit in visits if visit.drive_km], currency),
        *_shared(margin.card_fees, [_fee(part, currency) for part in fees], currency),
    ]


def drive_and_site_minutes(visit: Visit) -> tuple[int, int]:
    """Whole minutes on the road and on site, as `earnings` counts them."""
    begun = visit.arrived_at or visit.set_off_at
    drive = _minutes(visit.arrived_at, visit.set_off_at)
    return drive, _minutes(visit.finished_at, begun)


def _uses(job: Job) -> Iterable[Any]:
    found: Iterable[Any] = (
        PartUse.objects.standing().filter(job=job).with_cost().select_related("item", "movement").order_by("pk")
    )
    return found


def _shared(whole: Decimal, rows: list[tuple[str, str, Decimal]], currency: str) -> list[MarginLine]:
    """The rows at their share of a figure that was rounded once."""
    weights = [cost for _, _, cost in rows]
    costs = split(whole, weights, currency) if sum(weights) else [Decimal(0)] * len(rows)
    return [MarginLine(words, behind, cost) for (words, behind, _), cost in zip(rows, costs, strict=True)]


def _use(use: Any) -> str:
    why = f", {use.movement.get_reason_display().lower()}" if use.movement.reason else ""
    free = ", not charged" if not use.is_charged and not use.movement.reason else ""
    return f"{use.quantity} of {use.item.number}, first in, first out{why}{free}"


def _labour(visit: Visit, currency: str) -> tuple[str, str, Decimal]:
    drive, site = drive_and_site_minutes(visit)
    hourly = visit.hourly_cost or Decimal(0)
    when = f"{timezone.localtime(visit.finished_at):%d %b}" if visit.finished_at else ""
    behind = f"{when}: {drive} min on the road and {site} min on site at {format_amount(hourly, currency)} an hour"
    return f"Labour of {visit.technician.name}", behind, (drive + site) * hourly


def _travel(visit: Visit, currency: str) -> tuple[str, str, Decimal]:
    km, rate = visit.drive_km or Decimal(0), visit.travel_cost_per_km or Decimal(0)
    return "Travel", f"{km} km at {rate.normalize():f} {currency}", km * rate


def _fee(part: PaymentPart, currency: str) -> tuple[str, str, Decimal]:
    payment = part.payment
    behind = f"of {format_amount(payment.amount, currency)}, receipt {payment.number}"
    return "Card fee", behind, payment.card_fee * part.amount / payment.amount


def _minutes(end: object, start: object) -> int:
    """Half a minute counts as one, as PostgreSQL rounds."""
    if end is None or start is None:
        return 0
    seconds = Decimal(str((end - start).total_seconds()))  # type: ignore[operator]
    return int((seconds / 60).quantize(Decimal(1), rounding="ROUND_HALF_UP"))
