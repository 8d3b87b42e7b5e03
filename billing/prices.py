"""The read side of the price book: the lines it proposes for a call, each with its reason."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from datetime import time as clock_time
from decimal import Decimal

from django.utils import timezone

from billing import pricing
from billing.models import CallOutBand, LabourPrice, PriceBook, Quotation
from billing.pricing import PriceLine, PricingError
from jobs.models import Job
from jobs.states import KindOfWork
from shop.customers.models import Address
from shop.geo import Point, drive_minutes, road_km
from shop.middleware import shop_zone
from shop.models import Shop
from shop.stock.models import Item

USUAL_MINUTES = 60


@dataclass(frozen=True)
class BookLine(PriceLine):
    """A price line that remembers the stock item it sells and which entry of the price book proposed it."""

    item_id: int | None = None
    key: str = ""


@dataclass(frozen=True)
class Proposal:
    """Lines the price book proposes, and what it could not know, in words fit to show."""

    lines: tuple[BookLine, ...]
    doubts: tuple[str, ...] = ()
    minutes: int = USUAL_MINUTES


def propose(
    kind_of_work: str,
    *,
    at: datetime,
    point: Point | None = None,
    km: Decimal | None = None,
    items: Iterable[tuple[Item, Decimal | int]] = (),
    shop: Shop | None = None,
) -> Proposal:
    """What the price book asks for work of this kind at a place and a time.

    `km` by road wins over the distance to `point`. Asks the database three times.
    """
    shop = shop or Shop.current()
    book = current_book()
    distance = km if km is not None else distance_from_shop(shop, point)
    called_out, doubts = _call_out(distance, book)
    labour = LabourPrice.objects.filter(kind_of_work=kind_of_work).first() if kind_of_work else None
    worked = [_labour_line(labour)] if labour else []
    if kind_of_work and not labour:
        doubts.append(f"No labour price for “{KindOfWork(kind_of_work).label}” is in the price book.")
    lines = [*called_out, *worked, *(item_line(item, Decimal(count)) for item, count in items)]
    return Proposal(
        lines=(*lines, *_after_hours(lines, book, at=at, currency=shop.currency)),
        doubts=tuple(doubts),
        minutes=labour.minutes if labour else USUAL_MINUTES,
    )


def usual_minutes() -> dict[str, int]:
    """The price book's minutes on site for every kind of work, before the shop's own history says otherwise."""
    told = dict(LabourPrice.objects.values_list("kind_of_work", "minutes"))
    return {kind: told.get(kind, USUAL_MINUTES) for kind in KindOfWork.values}


def propose_lines(
    kind_of_work: str,
    *,
    at: datetime,
    point: Point | None = None,
    km: Decimal | None = None,
    items: Iterable[tuple[Item, Decimal | int]] = (),
    shop: Shop | None = None,
) -> list[BookLine]:
    """The lines of `propose` alone."""
    return list(propose(kind_of_work, at=at, point=point, km=km, items=items, shop=shop).lines)


def current_book() -> PriceBook:
    """The one row of the price book, with its defaults when the shop has not written it yet."""
    return PriceBook.objects.filter(id=PriceBook.SINGLE_ID).first() or PriceBook(id=PriceBook.SINGLE_ID)


def distance_from_shop(shop: Shop, point: Point | None) -> Decimal | None:
    """Likely km by road from the shop to a place; None while either has no coordinates."""
    origin = shop_point(shop)
    return road_km(origin, point) if origin and point else None


def distance_words(shop: Shop, point: Point | None) -> str:
    """`11.4 km by road, about 18 min to drive`; empty when the distance is not known."""
    origin = shop_point(shop)
    if not origin or not point:
        return ""
    drive = drive_minutes(origin, point, speed_kmh=shop.drive_speed_kmh)
    return f"{road_km(origin, point)} km by road, about {drive} min to drive"


def shop_point(shop: Shop) -> Point | None:
    """Where the shop is, if its coordinates are set."""
    if shop.latitude is None or shop.longitude is None:
        return None
    return Point(Decimal(shop.latitude), Decimal(shop.longitude))


def point_of(place: Job | Address) -> Point | None:
    """Where a job or an address is, if its coordinates are known."""
    if place.latitude is None or place.longitude is None:
        return None
    return Point(Decimal(place.latitude), Decimal(place.longitude))


def is_after_hours(book: PriceBook, at: datetime) -> bool:
    """True when a moment lies outside the shop's usual hours, by the shop's clock."""
    local = timezone.localtime(at, shop_zone())
    if book.is_weekend_after_hours and local.weekday() >= 5:
        return True
    return _is_between(local.time(), book.after_hours_from, book.after_hours_until)


def lines_of(quotation: Quotation) -> list[BookLine]:
    """The lines of a price told, as they were told."""
    return [
        BookLine(
            kind=line.kind,
            text=line.text,
            quantity=line.quantity,
            unit_price=line.unit_price,
            tax_class=line.tax_class,
            reason=line.reason,
            item_id=line.item_id,
        )
        for line in quotation.lines.all()
    ]


def _is_between(moment: clock_time, start: clock_time, end: clock_time) -> bool:
    """Start included, end not; the span may run over midnight."""
    return start <= moment < end if start <= end else moment >= start or moment < end


def _call_out(km: Decimal | None, book: PriceBook) -> tuple[list[BookLine], list[str]]:
    bands = [pricing.CallOutBand(band.up_to_km, band.price) for band in CallOutBand.objects.all()]
    if not bands:
        return [], ["No call-out bands are in the price book."]
    try:
        line = pricing.call_out(bands, km or Decimal(0), tax_class=book.call_out_tax_class)
    except PricingError as error:
        return [], [str(error)]
    if km is None:
        line = replace(line, reason="distance not known: nearest band")
    return [_from_book(line, key="call_out")], []


def _labour_line(labour: LabourPrice) -> BookLine:
    kind = KindOfWork(labour.kind_of_work)
    return BookLine(
        kind="labour",
        text=kind.label,
        quantity=Decimal(1),
        unit_price=labour.price,
        tax_class=labour.tax_class,
        reason=f"{labour.minutes} min in the price book",
        key=f"labour:{kind.value}",
    )


def item_line(item: Item, quantity: Decimal = Decimal(1)) -> BookLine:
    """The line that sells a stock item at its price."""
    return BookLine(
        kind="item",
        text=item.name,
        quantity=quantity,
        unit_price=item.price,
        tax_class=item.tax_class,
        reason=item.number,
        item_id=item.pk,
        key=f"item:{item.pk}",
    )


def _after_hours(lines: Sequence[PriceLine], book: PriceBook, *, at: datetime, currency: str) -> list[BookLine]:
    if not book.after_hours_price:
        return []
    surcharge = pricing.Surcharge("After hours", book.call_out_tax_class, fixed=book.after_hours_price)
    line = pricing.after_hours(
        lines,
        surcharge,
        at=timezone.localtime(at, shop_zone()),
        applies=lambda moment: is_after_hours(book, moment),
        currency=currency,
    )
    return [_from_book(line, key="after_hours")] if line else []


def _from_book(line: PriceLine, *, key: str) -> BookLine:
    return BookLine(
        kind=line.kind,
        text=line.text,
        quantity=line.quantity,
        unit_price=line.unit_price,
        tax_class=line.tax_class,
        reason=line.reason,
        key=key,
    )
