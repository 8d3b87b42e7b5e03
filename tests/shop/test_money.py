from decimal import ROUND_HALF_EVEN, ROUND_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.money import (
    MINOR_UNITS,
    MoneyError,
    format_amount,
    is_whole,
    minor_units,
    parse_amount,
    quantize,
    quantum,
    split,
)

D = Decimal
amounts = st.decimals(min_value=-(10**9), max_value=10**9, places=2)


@pytest.mark.parametrize(
    ("code", "decimals"),
    # ISO 4217 list one of 2026-01-01. CLDR differs for several, among them CLP, IQD, LBP, PKR and RSD.
    [
        ("USD", 2),
        ("JPY", 0),
        ("BHD", 3),
        ("CLF", 4),
        ("UYW", 4),
        ("CLP", 0),
        ("ISK", 0),
        ("HUF", 2),
        ("IQD", 3),
        ("LBP", 2),
        ("PKR", 2),
        ("RSD", 2),
        ("MGA", 2),
        ("MRU", 2),
        ("UGX", 0),
        ("TND", 3),
    ],
)
def test_minor_units_are_those_of_the_standard(code: str, decimals: int) -> None:
    assert minor_units(code) == decimals


def test_every_listed_currency_has_three_letters_and_is_listed_once() -> None:
    # ISO 4217 list one of 2026-01-01 holds 178 codes; 13 of them (metals, XDR, XTS, XXX and the like) have no
    # minor unit there.
    assert len(MINOR_UNITS) == 178 - 13
    assert all(len(code) == 3 and code.isupper() for code in MINOR_UNITS)


@pytest.mark.parametrize("code", ["", "usd", "XAU", "BGN", "ZZZ"])
def test_minor_units_refuses_what_is_no_active_currency(code: str) -> None:
    with pytest.raises(MoneyError, match="ISO 4217"):
        minor_units(code)


def test_quantize_rounds_half_away_from_zero_unless_told() -> None:
    # Streamlined Sales and Use Tax Agreement s. 324: 1.234 gives 1.23, 1.235 gives 1.24.
    assert quantize(D("1.234"), "USD") == D("1.23")
    assert quantize(D("1.235"), "USD") == D("1.24")
    assert quantize(D("-1.235"), "USD") == D("-1.24")
    assert quantize(D("1.245"), "USD", ROUND_HALF_EVEN) == D("1.24")
    assert quantize(D("1.241"), "USD", ROUND_UP) == D("1.25")
    assert str(quantize(D("-0.001"), "USD")) == "0.00"
    assert str(quantize(D("1234.5"), "JPY")) == "1235"
    assert str(quantize(D(10) ** 40, "USD")) == "1" + "0" * 40 + ".00"


@pytest.mark.parametrize("nothing", ["NaN", "Infinity", "-Infinity", "sNaN"])
def test_quantize_refuses_what_is_no_number(nothing: str) -> None:
    with pytest.raises(MoneyError):
        quantize(D(nothing), "USD")


def test_split_gives_the_odd_units_to_the_largest_remainders() -> None:
    # The method of largest remainders (Hamilton): the textbook example of 100 seats for votes of 47,000, 16,000,
    # 15,800, 12,000, 6,100 and 3,100 with 10 seats gives 5, 2, 1, 1, 1, 0.
    votes = [47_000, 16_000, 15_800, 12_000, 6_100, 3_100]
    assert split(D(10), votes, "JPY") == (5, 2, 1, 1, 1, 0)
    assert split(D("100.00"), 3, "USD") == (D("33.34"), D("33.33"), D("33.33"))
    assert split(D("-100.00"), 3, "USD") == (D("-33.34"), D("-33.33"), D("-33.33"))
    assert split(D("0.001"), 2, "BHD") == (D("0.001"), D("0.000"))


@given(amount=amounts, weights=st.lists(st.integers(0, 1000), min_size=1, max_size=9).filter(any))
def test_split_adds_up_and_no_share_is_a_unit_off(amount: Decimal, weights: list[int]) -> None:
    shares = split(amount, weights, "USD")
    assert sum(shares) == amount
    for share, weight in zip(shares, weights, strict=True):
        assert abs(share - amount * weight / sum(weights)) < D("0.01")
        assert is_whole(share, "USD")


@pytest.mark.parametrize("parts", [0, -1, [], [0, 0], [1, -1, 3]])
def test_split_refuses_shares_that_make_no_sense(parts: int | list[int]) -> None:
    with pytest.raises(MoneyError, match="share"):
        split(D("10.00"), parts, "USD")


def test_split_refuses_an_amount_finer_than_the_minor_unit() -> None:
    with pytest.raises(MoneyError, match="finer"):
        split(D("0.005"), 2, "USD")


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("1234.5", "1234.50"),
        (" 1234,5 ", "1234.50"),
        ("1,234.50", "1234.50"),
        ("1.234,50", "1234.50"),
        ("1 234,50", "1234.50"),
        ("1’234.50", "1234.50"),
        ("1,234", "1234.00"),
        ("12,345,678", "12345678.00"),
        ("1.234.567", "1234567.00"),
        (".5", "0.50"),
        ("0,5", "0.50"),
        ("12.50 usd", "12.50"),
        ("USD 12", "12.00"),
        ("0.500", "0.50"),
    ],
)
def test_parse_amount_reads_both_marks(text: str, amount: str) -> None:
    assert str(parse_amount(text, "USD")) == amount


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "abc",
        "1,2,3",
        "1.2.3",
        "1,23,456.00",
        "1e5",
        "NaN",
        "--5",
        "5-",
        "12.345",
        "1.234",
        "12.50 EUR",
        "٣",
        "1.234,567.89",
        "$12",
        "0,1234.5",
        "9" * 50,
        ".",
    ],
)
def test_parse_amount_refuses_nonsense(text: str) -> None:
    with pytest.raises(MoneyError):
        parse_amount(text, "USD")


def test_parse_amount_of_three_decimals_asks_when_it_is_unclear() -> None:
    with pytest.raises(MoneyError, match=r"may be 1234 or 1\.234"):
        parse_amount("1,234", "BHD")
    with pytest.raises(MoneyError, match="may be"):
        parse_amount("1,234")
    assert parse_amount("1.234") == D("1.234")
    assert parse_amount("0,125") == D("0.125")
    assert parse_amount("1,234.567", "BHD") == D("1234.567")


def test_parse_amount_takes_a_minus_only_where_asked() -> None:
    with pytest.raises(MoneyError, match="below"):
        parse_amount("-5", "USD")
    assert parse_amount("−5", "USD", allow_negative=True) == D("-5.00")


@given(amount=amounts)
def test_format_amount_is_read_back(amount: Decimal) -> None:
    shown = format_amount(amount, "USD")
    assert parse_amount(shown, "USD", allow_negative=True) == amount


def test_format_amount_never_rounds() -> None:
    assert format_amount(D("1234.5"), "USD") == "1,234.50 USD"
    assert format_amount(D("1234"), "JPY") == "1,234 JPY"
    assert format_amount(D("0.1250"), "USD") == "0.125 USD"
    assert format_amount(D("-3"), "BHD") == "-3.000 BHD"
    assert quantum("CLF") == D("0.0001")
