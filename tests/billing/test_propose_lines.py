"""What the price book proposes for a call. The figures of these books are invented; sums were done by hand."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from uuid import uuid4

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from billing import pricing
from billing.actions import tell_price
from billing.models import TaxRate
from billing.prices import current_book, distance_words, is_after_hours, lines_of, propose, propose_lines
from billing.taxes import add_up
from jobs.states import KindOfWork
from shop.geo import Point
from tests.billing import make

pytestmark = pytest.mark.django_db

NEAR = Point(Decimal("40.05"), Decimal("-75.0"))  # 0.05 degrees of latitude: 5.56 km straight, 7.2 km by road
FAR = Point(Decimal("40.10"), Decimal("-75.0"))  # twice as far: 14.5 km by road
BEYOND = Point(Decimal("41.00"), Decimal("-75.0"))  # 144.6 km by road, beyond the last band


@pytest.fixture(autouse=True)
def book() -> None:
    make.shop()
    make.price_book()


def shown(lines: Sequence[pricing.PriceLine]) -> list[tuple[str, Decimal]]:
    return [(line.kind, line.unit_price) for line in lines]


def test_propose_lines_near_by_day() -> None:
    lines = propose_lines(KindOfWork.LOCK_OUT, at=make.NOON, point=NEAR)
    assert shown(lines) == [("call_out", Decimal("45.00")), ("labour", Decimal("80.00"))]
    assert lines[0].reason == "call-out band 1: 7.2 km"
    assert lines[1].reason == "30 min in the price book"


def test_propose_lines_in_the_second_band_at_night() -> None:
    lines = propose_lines(KindOfWork.ALL_KEYS_LOST, at=make.NIGHT, point=FAR)
    assert shown(lines) == [
        ("call_out", Decimal("65.00")),
        ("labour", Decimal("190.00")),
        ("after_hours", Decimal("60.00")),
    ]
    assert lines[2].reason == "after hours: Tue 23:30"


def test_propose_with_items_keeps_their_quantity_price_and_class() -> None:
    blank = make.item(price=Decimal("42.00"))
    line = propose_lines(KindOfWork.ALL_KEYS_LOST, at=make.NOON, point=NEAR, items=[(blank, 2)])[2]
    assert (line.kind, line.quantity, line.unit_price, line.tax_class, line.item_id) == (
        "item",
        Decimal(2),
        Decimal("42.00"),
        "parts",
        blank.pk,
    )


def test_propose_without_a_place_says_that_the_distance_is_not_known() -> None:
    lines = propose_lines(KindOfWork.LOCK_OUT, at=make.NOON)
    assert lines[0].reason == "distance not known: nearest band"


def test_propose_with_km_typed_trusts_them_over_coordinates() -> None:
    lines = propose_lines(KindOfWork.LOCK_OUT, at=make.NOON, point=NEAR, km=Decimal("30"))
    assert lines[0].unit_price == Decimal("110.00")


def test_propose_beyond_the_last_band_asks_to_agree_a_price() -> None:
    proposal = propose(KindOfWork.LOCK_OUT, at=make.NOON, point=BEYOND)
    assert shown(proposal.lines) == [("labour", Decimal("80.00"))]
    assert "beyond the last call-out band" in proposal.doubts[0]


def test_propose_for_work_that_is_not_in_the_book_says_so() -> None:
    proposal = propose(KindOfWork.REKEY, at=make.NOON, point=NEAR)
    assert shown(proposal.lines) == [("call_out", Decimal("45.00"))]
    assert proposal.doubts == ("No labour price for “Rekey” is in the price book.",)


@pytest.mark.parametrize(
    ("moment", "is_after"),
    [
        ("2026-03-03T17:59:00+00:00", False),
        ("2026-03-03T18:00:00+00:00", True),
        ("2026-03-04T07:59:00+00:00", True),
        ("2026-03-04T08:00:00+00:00", False),
        ("2026-03-07T12:00:00+00:00", True),  # a Saturday
    ],
)
def test_is_after_hours_by_the_shops_clock(moment: str, is_after: bool) -> None:
    assert is_after_hours(current_book(), datetime.fromisoformat(moment)) is is_after


def test_after_hours_go_by_the_shops_zone_not_by_utc() -> None:
    # 23:30 UTC is 18:30 in New York in winter (tz database, America/New_York, UTC-5) and 15:30 in Los Angeles (UTC-8).
    make.shop(time_zone="America/New_York")
    assert len(propose_lines(KindOfWork.LOCK_OUT, at=make.NIGHT)) == 3
    make.shop(time_zone="America/Los_Angeles")
    assert len(propose_lines(KindOfWork.LOCK_OUT, at=make.NIGHT)) == 2


def test_distance_words_name_road_and_drive() -> None:
    # 7.2 km by road at 40 km/h: 10.8 minutes, rounded up.
    assert distance_words(make.shop(drive_speed_kmh=40), NEAR) == "7.2 km by road, about 11 min to drive"
    assert distance_words(make.shop(latitude=None, longitude=None), NEAR) == ""


def test_propose_reads_the_book_in_three_queries(django_assert_num_queries) -> None:  # type: ignore[no-untyped-def]
    shop, blank = make.shop(), make.item()
    with django_assert_num_queries(3):
        propose(KindOfWork.LOCK_OUT, at=make.NIGHT, point=FAR, items=[(blank, 1)], shop=shop)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    kind=st.sampled_from(KindOfWork.values),
    km=st.decimals(min_value=0, max_value=60, places=1),
    is_night=st.booleans(),
    price=st.decimals(min_value=0, max_value=900, places=2),
    quantity=st.integers(1, 9),
    scope=st.sampled_from(["line", "rate", "invoice"]),
    mode=st.sampled_from(["half_up", "half_even", "up"]),
)
def test_price_told_adds_up_as_the_pure_core_says(
    kind: str, km: Decimal, is_night: bool, price: Decimal, quantity: int, scope: str, mode: str
) -> None:
    make.shop(tax_rounding_scope=scope, tax_rounding_mode=mode)
    blank = make.item(f"B-{uuid4().hex[:12]}", price=price)
    at = make.NIGHT if is_night else make.NOON
    lines = propose_lines(kind, at=at, km=km, items=[(blank, quantity)])
    rates = [pricing.TaxRate(rate.tax_class, rate.name, rate.percent) for rate in TaxRate.objects.all()]
    pure = pricing.total(
        [pricing.PriceLine(line.kind, line.text, line.quantity, line.unit_price, line.tax_class) for line in lines],
        rates,
        rounding=pricing.TaxRounding(mode=mode, scope=scope),  # type: ignore[arg-type]
        currency="USD",
    )
    told = tell_price(make.job(make.customer(phone="+12015550199")), actor=None, lines=lines, at=at)
    assert (told.net, told.tax, told.total) == (pure.net, pure.tax, pure.gross)
    told.refresh_from_db()
    assert sum(line.amount for line in told.lines.all()) == told.net
    assert add_up(lines_of(told), on=at.date()).gross == told.total
