"""Which family a vehicle belongs to. No source: the shop's own rule, that a doubtful match is offered, not assumed."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vehicles.families import FamilyFacts, Sureness, VehicleFacts, match, overlapping, vin_fits

FIRST = FamilyFacts("first", "Halden", ("Brisk", "Brisk Wagon"), 2004, 2012)
SECOND = FamilyFacts("second", "Halden", ("Brisk", "Brisk Wagon"), 2012, 2018)
OTHER = FamilyFacts("other", "Norrik", ("Fjell",), 2004, 2018)
ALL = [FIRST, SECOND, OTHER]
BY_VIN = replace(SECOND, id="by vin", vin_pattern="2Z9H??B")
CAR = VehicleFacts("Halden", "Brisk", 2008)


def found(vehicle: VehicleFacts, families: list[FamilyFacts]) -> list[tuple[str, str]]:
    return [(each.id, each.sureness.word) for each in match(vehicle, families)]


def test_year_make_and_model_make_it_certain() -> None:
    assert found(CAR, ALL) == [("first", "certain")]


def test_year_in_which_families_overlap_leaves_both_likely() -> None:
    assert found(replace(CAR, year=2012), ALL) == [("first", "likely"), ("second", "likely")]
    assert "another family fits as well" in match(replace(CAR, year=2012), ALL)[0].why


@pytest.mark.parametrize(
    ("vehicle", "sureness"),
    [
        (VehicleFacts("halden", "BRISK", 2008), "certain"),
        (VehicleFacts("Halden", "Brisk-Wagon", 2008), "certain"),
        (VehicleFacts("Halden", "Brisk", None), "likely"),
        (VehicleFacts("Halden", "", 2008), "doubtful"),
        (VehicleFacts("Halden", "", None), "doubtful"),
        (VehicleFacts("Halden", "Bri", 2008), "doubtful"),
        (VehicleFacts("Halden", "Brisk", 2003), "likely"),
    ],
)
def test_less_that_is_known_is_less_sure(vehicle: VehicleFacts, sureness: str) -> None:
    assert found(vehicle, [FIRST]) == [("first", sureness)]


@pytest.mark.parametrize(
    "vehicle",
    [
        VehicleFacts("Norrik", "Brisk", 2008),
        VehicleFacts("Halden", "Moor", 2008),
        VehicleFacts("Halden", "Brisk", 2002),
        VehicleFacts("", "", 2008),
        VehicleFacts("", "Brisk", 2008),
    ],
)
def test_what_speaks_against_a_family_puts_it_out(vehicle: VehicleFacts) -> None:
    assert found(vehicle, [FIRST]) == []


def test_year_beside_a_family_is_offered_not_assumed() -> None:
    (only,) = match(replace(CAR, year=2003), [FIRST])
    assert only.sureness is Sureness.LIKELY
    assert "2003 is a year beside 2004 to 2012" in only.why


def test_vin_pattern_settles_what_the_year_leaves_open() -> None:
    vin = "2Z9HA1B10CP0H0001"
    assert found(VehicleFacts("Halden", "Brisk", 2012, vin=vin), [FIRST, BY_VIN])[0] == ("by vin", "certain")
    assert dict(found(VehicleFacts("Halden", "Brisk", 2012, vin=vin), [FIRST, BY_VIN]))["first"] == "doubtful"


def test_vin_alone_finds_a_family_by_its_pattern() -> None:
    assert found(VehicleFacts(vin="2Z9HA1B10CP0H0001", years=(2012,)), [FIRST, BY_VIN]) == [("by vin", "certain")]
    assert found(VehicleFacts(vin="3Z9HA1B10CP0H0001", years=(2012,)), [BY_VIN]) == []


def test_split_by_vin_without_the_vin_is_never_certain() -> None:
    one, two = replace(BY_VIN, id="a", vin_pattern="2Z9HA"), replace(BY_VIN, id="b", vin_pattern="2Z9HB")
    assert found(VehicleFacts("Halden", "Brisk", 2015), [one, two]) == [("a", "likely"), ("b", "likely")]


def test_vin_that_may_mean_two_years_is_only_likely() -> None:
    told = VehicleFacts("Halden", "Brisk", vin="2Z9HA1B10CP0H0001", years=(2008, 1978))
    assert found(told, [FIRST]) == [("first", "likely")]


def test_market_puts_out_only_when_both_are_told() -> None:
    abroad = replace(FIRST, market="North")
    assert found(CAR, [abroad]) == [("first", "certain")]
    assert found(replace(CAR, market="South"), [abroad]) == []
    assert found(replace(CAR, market="north"), [FIRST, replace(abroad, id="north")])[0] == ("north", "certain")


def test_overlaps_are_those_that_one_vehicle_would_fit() -> None:
    assert [each.id for each in overlapping(FIRST, ALL)] == ["second"]
    assert overlapping(replace(FIRST, year_until=2011), ALL) == []
    assert overlapping(replace(FIRST, market="North"), [replace(SECOND, market="South")]) == []
    parted = [replace(SECOND, vin_pattern="2Z9B")]
    assert overlapping(replace(FIRST, vin_pattern="2Z9A"), parted) == []
    assert overlapping(replace(FIRST, vin_pattern="2Z9?"), parted) == parted


def test_pattern_longer_than_what_is_known_fits_nothing() -> None:
    assert not vin_fits("2Z9", "2Z")
    assert not vin_fits("", "2Z9")
    assert vin_fits("2?9", "2Z9AA")


years = st.integers(1990, 2030)


@given(spans=st.lists(st.tuples(years, years), max_size=6), year=years)
def test_never_two_families_are_certain(spans: list[tuple[int, int]], year: int) -> None:
    families = [FamilyFacts(number, "Halden", ("Brisk",), min(span), max(span)) for number, span in enumerate(spans)]
    matches = match(VehicleFacts("Halden", "Brisk", year), families)
    certain = [each for each in matches if each.sureness is Sureness.CERTAIN]
    holding = [family for family in families if family.year_from <= year <= family.year_until]
    assert len(certain) == (1 if len(holding) == 1 else 0)
    assert {each.id for each in matches} >= {family.id for family in holding}
