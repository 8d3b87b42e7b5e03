from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from billing.pricing import (
    CallOutBand,
    PriceLine,
    PricingError,
    Surcharge,
    TaxBrackets,
    TaxRate,
    TaxRounding,
    after_hours,
    call_out,
    tax_of,
    total,
)

D = Decimal


def steps(*pairs: tuple[int, int]) -> tuple[tuple[Decimal, Decimal], ...]:
    return tuple((D(start) / 100, D(tax) / 100) for start, tax in pairs)


# Md. Code, Tax-General 11-104(a): the first cent of each bracket and its tax, in cents.
MARYLAND = TaxRate(
    "parts",
    "Maryland sales tax",
    D(6),
    brackets=TaxBrackets(
        below=steps((20, 1), (21, 2), (34, 3), (51, 4), (67, 5), (84, 6)),
        above=steps((1, 1), (17, 2), (34, 3), (51, 4), (67, 5), (84, 6)),
        per_unit=D("0.06"),
    ),
)


def statute_cents(cents: int) -> int:
    """The statute's sentences, written out bracket by bracket with both ends."""
    if cents < 100:
        rows = [(0, 19, 0), (20, 20, 1), (21, 33, 2), (34, 50, 3), (51, 66, 4), (67, 83, 5), (84, 99, 6)]
        return next(tax for low, high, tax in rows if low <= cents <= high)
    rows = [(0, 0, 0), (1, 16, 1), (17, 33, 2), (34, 50, 3), (51, 66, 4), (67, 83, 5), (84, 99, 6)]
    return 6 * (cents // 100) + next(tax for low, high, tax in rows if low <= cents % 100 <= high)


def test_small_amount_table_agrees_with_the_statute_cent_by_cent() -> None:
    for cents in range(10_001):
        assert tax_of(MARYLAND, D(cents) / 100) == D(statute_cents(cents)) / 100, cents


def test_small_amount_table_equals_rounding_up_from_a_dollar_on() -> None:
    # Md. Code, Tax-General 11-104: 1.16 bears 7 cents and 1.17 bears 8; from a dollar on it is 6 % rounded up.
    plain = TaxRate("parts", "Maryland sales tax", D(6))
    for cents in range(100, 2_000):
        line = PriceLine("item", "Blank", D(1), D(cents) / 100, "parts")
        totals = [
            total([line], [rate], rounding=TaxRounding("up", "rate"), currency="USD") for rate in (plain, MARYLAND)
        ]
        assert totals[0].tax == totals[1].tax, cents


def test_small_amount_table_works_on_the_sum_and_is_shared_out_over_the_lines() -> None:
    # Md. Code, Tax-General 11-104: 0.58 + 0.58 = 1.16 bears 7 cents, though 0.58 alone bears 4.
    half = PriceLine("item", "Blank", D(1), D("0.58"), "parts")
    paper = total([half, half], [MARYLAND], rounding=TaxRounding("up", "rate"), currency="USD")
    assert (paper.tax, [priced.tax for priced in paper.lines]) == (D("0.07"), [D("0.04"), D("0.03")])
    by_line = total([half, half], [MARYLAND], rounding=TaxRounding("up", "line"), currency="USD")
    assert by_line.tax == D("0.08")
    back = PriceLine("credit", "Blank", D(-1), D("1.17"), "parts")
    credit = total([back], [MARYLAND], rounding=TaxRounding("up", "rate"), currency="USD")
    assert credit.tax == D("-0.08")


@pytest.mark.parametrize(
    ("amount", "percent", "tax"),
    # Streamlined Sales and Use Tax Agreement s. 324: carried to the third decimal, up when that is above four.
    [("10.99", "6.25", "0.69"), ("12.34", "10", "1.23"), ("12.35", "10", "1.24")],
)
def test_half_up_is_the_agreement_of_the_states(amount: str, percent: str, tax: str) -> None:
    rate = TaxRate("parts", "Sales tax", D(percent))
    line = PriceLine("item", "Fob", D(1), D(amount), "parts")
    for scope in ("line", "rate", "invoice"):
        assert total([line], [rate], rounding=TaxRounding("half_up", scope), currency="USD").tax == D(tax)


def test_half_even_goes_to_the_even_neighbour() -> None:
    # IEEE 754 roundTiesToEven: 1.225 to 1.22, 1.235 to 1.24.
    rounding = TaxRounding("half_even", "rate")
    rate = TaxRate("parts", "Sales tax", D(10))
    taxes = [
        total([PriceLine("item", "Fob", D(1), D(price), "parts")], [rate], rounding=rounding, currency="USD").tax
        for price in ("12.25", "12.35")
    ]
    assert taxes == [D("1.22"), D("1.24")]


def test_taxes_and_tables_that_make_no_sense_are_refused() -> None:
    with pytest.raises(PricingError, match="below nothing"):
        TaxRate("parts", "Tax", D(-1))
    with pytest.raises(PricingError, match="rise"):
        TaxBrackets(below=steps((20, 1), (20, 2)), above=(), per_unit=D("0.06"))
    with pytest.raises(PricingError, match="rounding"):
        TaxRounding("down", "rate")  # type: ignore[arg-type]


# Call-out by distance and a surcharge for odd hours: common practice, no source.
BANDS = [CallOutBand(D(10), D("45.00")), CallOutBand(D(25), D("60.00")), CallOutBand(D(40), D("85.00"))]


@pytest.mark.parametrize(
    ("km", "price", "reason"),
    [
        ("0", "45.00", "call-out band 1: 0.0 km"),
        ("10", "45.00", "call-out band 1: 10.0 km"),
        ("10.04", "60.00", "call-out band 2: 10.04 km"),
        ("11.4", "60.00", "call-out band 2: 11.4 km"),
        ("24.96", "60.00", "call-out band 2: 25.0 km"),
        ("39.87", "85.00", "call-out band 3: 39.9 km"),
    ],
)
def test_call_out_takes_the_band_of_the_distance_and_says_so(km: str, price: str, reason: str) -> None:
    line = call_out(BANDS, D(km), tax_class="labour")
    assert (line.kind, line.quantity, line.unit_price, line.reason) == ("call_out", 1, D(price), reason)


def test_call_out_beyond_the_last_band_is_refused_unless_it_is_open() -> None:
    with pytest.raises(PricingError, match=r"40\.1 km is beyond"):
        call_out(BANDS, D("40.1"), tax_class="labour")
    open_ended = [*BANDS, CallOutBand(None, D("120.00"))]
    assert call_out(open_ended, D(300), tax_class="labour").unit_price == D("120.00")


@pytest.mark.parametrize(
    "bands",
    [[], BANDS[::-1], [BANDS[0], BANDS[0]], [CallOutBand(None, D(1)), BANDS[0]], [CallOutBand(D(5), D(-1))]],
)
def test_call_out_bands_that_make_no_sense_are_refused(bands: list[CallOutBand]) -> None:
    with pytest.raises(PricingError):
        call_out(bands, D(3), tax_class="labour")
    with pytest.raises(PricingError, match="distance"):
        call_out(BANDS, D(-1), tax_class="labour")


LATE = datetime(2026, 1, 16, 22, 15, tzinfo=ZoneInfo("Europe/Berlin"))


def at_night(at: datetime) -> bool:
    return at.hour >= 18 or at.hour < 8


def work() -> list[PriceLine]:
    return [
        call_out(BANDS, D(12), tax_class="labour"),
        PriceLine("labour", "Opening", D("0.5"), D("90.00"), "labour"),
        PriceLine("item", "Blank", D(1), D("30.00"), "parts"),
    ]


def test_after_hours_bears_on_the_work_and_not_on_the_goods() -> None:
    surcharge = Surcharge("After hours", "labour", percent=D(50))
    line = after_hours(work(), surcharge, at=LATE, applies=at_night, currency="EUR")
    assert line is not None
    assert (line.unit_price, line.reason) == (D("52.50"), "after hours: Fri 22:15, 50 % of 105.00 EUR")
    assert after_hours(work(), surcharge, at=LATE.replace(hour=12), applies=at_night, currency="EUR") is None


def test_after_hours_may_be_a_fixed_sum() -> None:
    surcharge = Surcharge("After hours", "labour", fixed=D("40.00"))
    line = after_hours(work(), surcharge, at=LATE, applies=at_night, currency="EUR")
    assert line is not None
    assert (line.kind, line.unit_price, line.reason) == ("after_hours", D("40.00"), "after hours: Fri 22:15")


def test_after_hours_needs_a_zone_and_one_price() -> None:
    with pytest.raises(PricingError, match="time zone"):
        after_hours(
            work(),
            Surcharge("After hours", "labour", fixed=D(1)),
            at=LATE.replace(tzinfo=None),
            applies=at_night,
            currency="EUR",
        )
    for percent, fixed in ((None, None), (D(1), D(1)), (D(-1), None)):
        with pytest.raises(PricingError):
            Surcharge("After hours", "labour", percent=percent, fixed=fixed)
