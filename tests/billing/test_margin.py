from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.margin import JobMargin, MarginError, job_margin, price_for_margin, price_for_markup, sum_margins

D = Decimal


def test_markup_and_margin_are_those_of_the_textbook() -> None:
    # Textbook: cost 40 with 50 % markup is a price of 60 and a margin of 33.33 %; 12,000 sold for 15,000 is 25 %
    # markup and 20 % margin.
    assert price_for_markup(D(40), D(50), "USD") == D("60.00")
    small = JobMargin(price=D(60), parts=D(40))
    assert small.percent is not None and round(small.percent, 2) == D("33.33")
    large = JobMargin(price=D(15_000), parts=D(12_000))
    assert (large.left, large.markup_percent, large.percent) == (3_000, 25, 20)
    assert price_for_margin(D(12_000), D(20), "USD") == D("15000.00")


def test_job_margin_takes_every_cost_off_the_price() -> None:
    # Arithmetic by hand: 210.00 - 18.40 - 31.50 - (75 min at 32.00 = 40.00) - (23.6 km at 0.72 = 16.992) - 6.39.
    # 0.72 a km is an invented rate.
    margin = job_margin(
        price=D("210.00"),
        currency="USD",
        parts=[D("12.40"), D("6.00")],
        spoiled=[D("31.50")],
        labour=[(45, D("32.00")), (30, D("32.00"))],
        travel=(D("23.6"), D("0.72")),
        card_fees=[D("6.39")],
    )
    assert margin == JobMargin(D("210.00"), D("18.40"), D("31.50"), D("40.00"), D("16.99"), D("6.39"))
    assert (margin.cost, margin.left) == (D("113.28"), D("96.72"))


def test_a_kind_of_cost_is_rounded_once_after_adding_up() -> None:
    # Three times 20 minutes at 31.25 an hour is an hour: 31.25, and not 3 x 10.42.
    margin = job_margin(price=D(100), currency="USD", labour=[(20, D("31.25"))] * 3)
    assert margin.labour == D("31.25")
    # Costs of use at less than a cent: 830 / 300 a piece (InstantCert 318), 250 times, is 691.67.
    assert job_margin(price=D(0), currency="USD", parts=[D(830) / 300] * 250).parts == D("691.67")


def test_a_job_without_price_or_cost_has_no_percentage() -> None:
    comeback = job_margin(price=D(0), currency="USD", labour=[(60, D(30))])
    assert (comeback.left, comeback.percent, comeback.markup_percent) == (D("-30.00"), None, D(-100))
    assert JobMargin(price=D(10)).markup_percent is None


def test_costs_below_nothing_are_refused() -> None:
    for wrong in ({"parts": [D(-1)]}, {"spoiled": [D(-1)]}, {"labour": [(-5, D(30))]}, {"card_fees": [D(-1)]}):
        with pytest.raises(MarginError, match="below nothing"):
            job_margin(price=D(10), currency="USD", **wrong)
    with pytest.raises(MarginError, match="100 %"):
        price_for_margin(D(10), D(100), "USD")


money = st.decimals(min_value=0, max_value=2_000, places=4)
jobs = st.builds(
    job_margin,
    price=st.decimals(min_value=-500, max_value=5_000, places=2),
    currency=st.just("USD"),
    parts=st.lists(money, max_size=4),
    spoiled=st.lists(money, max_size=2),
    labour=st.lists(st.tuples(st.integers(0, 600), money), max_size=3),
    travel=st.tuples(
        st.decimals(min_value=0, max_value=300, places=1), st.decimals(min_value=0, max_value=2, places=3)
    ),
    card_fees=st.lists(money, max_size=2),
)


@given(month=st.lists(st.tuples(jobs, st.sampled_from("abc")), max_size=12))
def test_the_sum_over_any_cut_is_the_whole(month: list[tuple[JobMargin, str]]) -> None:
    whole = sum_margins(job for job, _ in month)
    by_technician = [sum_margins(job for job, who in month if who == name) for name in "abc"]
    assert sum_margins(by_technician) == whole
    assert whole.left == sum(job.left for job, _ in month) == whole.price - whole.cost
    for job, _ in month:
        # Each figure is whole in cents, so that nothing is lost when a page rounds it.
        assert all(figure == figure.quantize(D("0.01")) for figure in (job.price, job.cost, job.left))


@given(cost=st.decimals(min_value=1, max_value=5_000, places=2), percent=st.integers(0, 90))
def test_the_price_for_a_margin_leaves_that_margin(cost: Decimal, percent: int) -> None:
    # The definition: margin = (price - cost) / price. The price is rounded, so within a cent of price.
    price = price_for_margin(cost, D(percent), "USD")
    assert abs((price - cost) - price * percent / 100) <= D("0.01")
