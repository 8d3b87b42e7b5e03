"""Values typed with gloves on, and the limits they are held against.

At 12.6 V a lead-acid battery of a car is full (common practice, no source); the limits here are invented.
"""

from decimal import Decimal

import pytest

from jobs.running.measuring import Limits, limits_of, read_measured
from vehicles.procedure_content import Doubt

SUPPLY = limits_of("V", Decimal("12.4"), None, low_volts=Decimal("12.0"), high_volts=Decimal("14.8"))
DROP = limits_of("V", None, Decimal("0.2"), low_volts=Decimal("12.0"))
OHM = Limits("ohm", Decimal("40"))


@pytest.mark.parametrize("text", ["12.6", "12,6", " 12.60 ", "12.6 V", "12,600", "12.6v"])
def test_point_comma_and_unit_are_taken(text: str) -> None:
    assert read_measured(text, SUPPLY) == Decimal("12.6")


@pytest.mark.parametrize(
    ("text", "meant"), [("1260", "12.60"), ("126", "12.60"), ("1242", "12.42"), ("12600", "12.60")]
)
def test_a_supply_without_its_point_is_asked_back(text: str, meant: str) -> None:
    with pytest.raises(Doubt, match=rf"Is {meant} V meant"):
        read_measured(text, SUPPLY)


@pytest.mark.parametrize("text", ["", "twelve", "12.6.1", "1e3", "--3", "12.6,4", "٣", "9999999"])
def test_what_is_no_figure_is_refused(text: str) -> None:
    with pytest.raises(Doubt):
        read_measured(text, SUPPLY)


def test_a_dead_battery_is_a_value() -> None:
    assert SUPPLY.fault(read_measured("3,1", SUPPLY)) == "3.1 V, below 12.4 V"


def test_a_comma_before_three_digits_is_asked_back_where_it_may_part_thousands() -> None:
    with pytest.raises(Doubt, match=r"Is 1\.26 or 1260 ohm meant"):
        read_measured("1,260", OHM)
    assert read_measured("52", OHM) == 52


def test_the_narrower_limits_hold_and_the_procedures_own_are_hard() -> None:
    assert (SUPPLY.low, SUPPLY.high, SUPPLY.words) == (Decimal("12.4"), Decimal("14.8"), "12.4 to 14.8 V")
    assert not SUPPLY.is_hard(Decimal("12.2")) and SUPPLY.fault(Decimal("12.2"))
    assert SUPPLY.is_hard(Decimal("11.99")) and SUPPLY.is_hard(Decimal("14.9"))
    assert not SUPPLY.fault(Decimal("12.4")) and not SUPPLY.fault(Decimal("14.8"))


def test_a_drop_in_volts_is_no_supply() -> None:
    assert not DROP.is_supply and DROP.low is None and not DROP.is_hard(Decimal("0.1"))
    assert DROP.fault(Decimal("0.21")) == "0.21 V, above 0.2 V"
