import json
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.pricing import PriceLine, PricingError, TaxRate, TaxRounding, Totals, line_amount, total

D = Decimal
HALF_UP_BY_RATE = TaxRounding("half_up", "rate")


def line(price: str, tax_class: str = "standard", *, quantity: str = "1", kind: str = "item") -> PriceLine:
    return PriceLine(kind, "Line", D(quantity), D(price), tax_class)


# CEN TC 434, official UBL examples of EN 16931 (ubl-tc434-example1.xml and ubl-tc434-example5.xml, EUPL 1.2).
EN_16931: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent / "data" / "en16931_examples.json").read_text(encoding="utf-8")
)


def en_line(row: list[str], tax_class: str) -> PriceLine:
    _, quantity, price, base_quantity, amount = row
    kind = "credit" if D(amount) < 0 else "item"
    signed = -D(quantity) if kind == "credit" else D(quantity)
    return PriceLine(kind, "Line", signed, D(price), tax_class, base_quantity=D(base_quantity or 1))


def en_tax_lines(totals: Totals) -> list[tuple[Decimal, Decimal, Decimal]]:
    return [(tax.base, tax.amount, tax.rate) for tax in totals.tax_lines]


def test_total_agrees_with_the_first_en_16931_example() -> None:
    example = EN_16931[0]
    # The copied figures leave out which rows bear 21 %: any rows that make its base will do, for the tax of a rate
    # is worked out on the sum.
    standard = rows_that_make(example["lines"], D("46.37"))
    lines = [en_line(row, "standard" if i in standard else "reduced") for i, row in enumerate(example["lines"])]
    rates = [TaxRate("reduced", "VAT", D(6)), TaxRate("standard", "VAT", D(21))]
    totals = total(lines, rates, rounding=HALF_UP_BY_RATE, currency="EUR")
    assert [priced.amount for priced in totals.lines] == [D(row[4]) for row in example["lines"]]
    assert sorted(en_tax_lines(totals)) == sorted((D(b), D(a), D(r)) for b, a, r, _ in example["tax"])
    assert totals.net == D(example["totals"]["TaxExclusiveAmount"])
    assert totals.tax == D(example["taxtotal"][0])
    assert totals.gross == D(example["totals"]["TaxInclusiveAmount"])


def rows_that_make(rows: list[list[str]], wanted: Decimal) -> set[int]:
    sums: dict[Decimal, set[int]] = {D(0): set()}
    for i, row in enumerate(rows):
        sums |= {amount + D(row[4]): chosen | {i} for amount, chosen in sums.items() if amount + D(row[4]) not in sums}
    return sums[wanted]


def test_total_agrees_with_the_fifth_en_16931_example() -> None:
    example = EN_16931[1]
    lines = [
        *(en_line(row, "low" if row[4] == "2500.00" else "standard") for row in example["lines"]),
        # An allowance and a charge on the whole document, both in the class of 25 %.
        line("-150.00", kind="discount"),
        line("150.00", kind="other"),
    ]
    rates = [TaxRate("standard", "VAT", D(25)), TaxRate("low", "VAT", D(12))]
    totals = total(lines, rates, rounding=HALF_UP_BY_RATE, currency="DKK")
    assert en_tax_lines(totals) == [(D(b), D(a), D(r)) for b, a, r, _ in example["tax"]]
    assert sum(priced.amount for priced in totals.lines[:3]) == D(example["totals"]["LineExtensionAmount"])
    assert totals.net == D(example["totals"]["TaxExclusiveAmount"])
    assert totals.tax == D(example["taxtotal"][0])
    assert totals.gross == D(example["totals"]["TaxInclusiveAmount"])
    assert totals.gross - D(example["totals"]["PrepaidAmount"]) == D(example["totals"]["PayableAmount"])


def test_base_quantity_divides_the_price() -> None:
    # EN 16931-1 BT-149: the number of units to which the price applies. 250 at 8.30 for 300 is 6.91666...
    assert line_amount(PriceLine("item", "Pins", D(250), D("8.30"), "x", base_quantity=D(300)), "EUR") == D("6.92")
    assert line_amount(PriceLine("item", "Pins", D(3), D("0.125"), "x"), "EUR") == D("0.38")


def test_scopes_of_rounding_differ_where_they_should() -> None:
    # SSUTA s. 324: the seller may compute per item or per invoice. Three times 10.99 at 6.25 %: 0.69 each by
    # item is 2.07; 32.97 x 6.25 % = 2.060625 by invoice is 2.06.
    lines = [line("10.99")] * 3
    rates = [TaxRate("standard", "Sales tax", D("6.25"))]
    by_line = total(lines, rates, rounding=TaxRounding("half_up", "line"), currency="USD")
    by_paper = total(lines, rates, rounding=TaxRounding("half_up", "invoice"), currency="USD")
    assert [priced.tax for priced in by_line.lines] == [D("0.69")] * 3
    assert (by_line.tax, by_line.gross) == (D("2.07"), D("35.04"))
    assert (by_paper.tax, by_paper.gross) == (D("2.06"), D("35.03"))
    assert sum(priced.tax for priced in by_paper.lines) == D("2.06")


def test_state_and_local_tax_are_rounded_together_by_invoice_and_apart_by_rate() -> None:
    # SSUTA s. 324 applies the rounding rule to state and local tax taken together. 0.40 at 4.25 % is 0.017 and at
    # 1.25 % is 0.005: together 0.022, so 0.02; apart 0.02 + 0.01 = 0.03.
    rates = [TaxRate("standard", "State", D("4.25")), TaxRate("standard", "County", D("1.25"))]
    together = total([line("0.40")], rates, rounding=TaxRounding("half_up", "invoice"), currency="USD")
    apart = total([line("0.40")], rates, rounding=TaxRounding("half_up", "rate"), currency="USD")
    assert (together.tax, apart.tax) == (D("0.02"), D("0.03"))
    assert [tax.amount for tax in together.tax_lines] == [D("0.02"), D("0.00")]


def test_the_rate_of_the_day_is_taken() -> None:
    rates = [
        TaxRate("standard", "VAT", D(19)),
        TaxRate("standard", "VAT", D(16), holds_from=date(2020, 7, 1)),
        TaxRate("standard", "VAT", D(19), holds_from=date(2021, 1, 1)),
    ]
    # German value added tax: 16 % from 1 July to 31 December 2020, 19 % before and after (Second Corona Tax
    # Relief Act, article 3; from memory).
    days = {date(2020, 6, 30): "19", date(2020, 7, 1): "16", date(2020, 12, 31): "16", date(2021, 1, 1): "19"}
    for day, percent in days.items():
        totals = total([line("100")], rates, rounding=HALF_UP_BY_RATE, currency="EUR", on=day)
        assert [tax.rate for tax in totals.tax_lines] == [D(percent)]
    with pytest.raises(PricingError, match="set twice"):
        total([line("100")], rates, rounding=HALF_UP_BY_RATE, currency="EUR")


def test_a_line_whose_class_has_no_rate_is_refused() -> None:
    late = TaxRate("standard", "VAT", D(20), holds_from=date(2030, 1, 1))
    for rates, day in (([], None), ([late], date(2029, 12, 31))):
        with pytest.raises(PricingError, match="No tax rate"):
            total([line("100")], rates, rounding=HALF_UP_BY_RATE, currency="EUR", on=day)


def test_nothing_at_all_adds_up_to_nothing() -> None:
    totals = total([], [], rounding=HALF_UP_BY_RATE, currency="JPY")
    assert (totals.net, totals.tax, totals.gross, totals.tax_lines) == (0, 0, 0, ())


@pytest.mark.parametrize(
    ("kind", "quantity", "price"),
    [
        ("item", "-1", "5"),
        ("item", "1", "-5"),
        ("labour", "-1", "-5"),
        ("discount", "1", "5"),
        ("credit", "-1", "-5"),
        ("gift", "1", "5"),
        ("item", "NaN", "5"),
        ("item", "1", "Infinity"),
    ],
)
def test_a_line_of_the_wrong_sign_is_refused(kind: str, quantity: str, price: str) -> None:
    with pytest.raises(PricingError):
        line(price, quantity=quantity, kind=kind)


prices = st.decimals(min_value=0, max_value=10_000, places=2)
drawn_lines = st.lists(
    st.tuples(prices, st.integers(0, 20), st.sampled_from(["labour", "parts", "none"]), st.booleans()), max_size=12
)
roundings = st.builds(
    TaxRounding, st.sampled_from(["half_up", "half_even", "up"]), st.sampled_from(["line", "rate", "invoice"])
)


@given(drawn=drawn_lines, rounding=roundings, currency=st.sampled_from(["USD", "JPY", "BHD"]))
def test_lines_and_taxes_always_add_up(
    drawn: list[tuple[Decimal, int, str, bool]], rounding: TaxRounding, currency: str
) -> None:
    lines = [
        PriceLine("credit" if back else "item", "Line", D(-count if back else count), price, tax_class)
        for price, count, tax_class, back in drawn
    ]
    rates = [
        TaxRate("labour", "State", D("6.25")),
        TaxRate("labour", "County", D("1.375")),
        TaxRate("parts", "State", D("6.25")),
        TaxRate("none", "No tax", D(0)),
    ]
    totals = total(lines, rates, rounding=rounding, currency=currency)
    assert sum(priced.amount for priced in totals.lines) == totals.net
    assert sum(priced.tax for priced in totals.lines) == totals.tax == sum(t.amount for t in totals.tax_lines)
    assert totals.gross == totals.net + totals.tax
    exact = sum(tax.base * tax.rate / 100 for tax in totals.tax_lines)
    steps = {"line": 2 * len(lines), "rate": 3, "invoice": 1}[rounding.scope]
    assert abs(totals.tax - exact) <= steps * D(1).scaleb({"USD": -2, "JPY": 0, "BHD": -3}[currency])
