import csv
import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vehicles.vin import differences, read_vin

DATA = Path(__file__).parent / "data"
TODAY = date(2026, 11, 25)
LEGAL = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"
# 49 CFR 565.15 tables III, IV and VII.
TABLES: dict[str, Any] = json.loads((DATA / "vin_tables.json").read_text(encoding="utf-8"))
vins = st.text(LEGAL, min_size=17, max_size=17)


def examples() -> list[dict[str, str]]:
    # Wikibooks, the documentation of three open packages, and rows derived from them: see each row.
    with (DATA / "vin_examples.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def words(vin: str) -> str:
    return " ".join(read_vin(vin, today=TODAY).warnings)


@pytest.mark.parametrize("row", examples(), ids=lambda row: row["vin"])
def test_published_vins_read_as_the_regulation_says(row: dict[str, str]) -> None:
    reading = read_vin(row["vin"], today=TODAY)
    assert reading.vin == row["vin"]
    assert reading.is_well_formed == (row["check_ok"] != "format")
    assert reading.check_digit_ok == (row["check_ok"] == "1")
    assert reading.expected_check_digit == row["computed_check"]
    assert reading.years[:1] == ((int(row["year_by_us_rule"]),) if row["year_by_us_rule"] else ())


@given(vin=vins)
def test_check_digit_is_the_weighted_sum_of_the_regulation(vin: str) -> None:
    # 49 CFR 565.15(c): the remainder of the weighted sum by 11, ten written X.
    weighted = zip(vin, TABLES["weights"], strict=True)
    remainder = sum(TABLES["transliteration"][char] * weight for char, weight in weighted) % 11
    reading = read_vin(vin, today=TODAY)
    assert reading.expected_check_digit == ("X" if remainder == 10 else str(remainder))
    assert reading.check_digit_ok == (vin[8] == reading.expected_check_digit)


@given(vin=vins, position=st.integers(1, 17), char=st.sampled_from(LEGAL))
def test_a_wrong_character_of_another_value_never_passes(vin: str, position: int, char: str) -> None:
    # Number theory: 11 is prime and every weight but that of position 9 is 1 to 10, so the sum must move.
    right = vin[:8] + read_vin(vin, today=TODAY).expected_check_digit + vin[9:]
    wrong = right[: position - 1] + char + right[position:]
    values = TABLES["transliteration"]
    passes = values[char] == values[right[position - 1]] if position != 9 else char == right[8]
    assert read_vin(wrong, today=TODAY).check_digit_ok == passes


@given(vin=vins, this_year=st.integers(1990, 2038))
def test_years_have_the_code_of_the_table_and_none_is_beyond_next_year(vin: str, this_year: int) -> None:
    # 49 CFR 565.15(d), table VII.
    years = read_vin(vin, today=date(this_year, 6, 1)).years
    having = {int(year) for year, code in TABLES["year_codes"].items() if code == vin[9]}
    expected = {year for year in having if year <= this_year + 1}
    assert set(years) == expected
    assert len(years) == len(set(years))


@given(vin=vins)
def test_position_7_puts_the_year_of_a_north_american_vin_first(vin: str) -> None:
    # Note to table VII of 49 CFR 565.15: a digit means 1980 to 2009, a letter 2010 to 2039.
    vin = "1" + vin[1:]
    years = read_vin(vin, today=TODAY).years
    span = range(1980, 2010) if vin[6].isdigit() else range(2010, 2028)
    only = read_vin(vin, today=TODAY, is_light=True).years
    assert only == tuple(year for year in years if year in span)
    assert years[: len(only)] == only


def test_years_where_the_rule_of_position_7_does_not_hold() -> None:
    # 49 CFR 565.15: a coach is no light vehicle, so both years stay open; the rule's own stands first.
    coach = "1M8GDM9AXKP042788"
    assert read_vin(coach, today=TODAY).years == (1989, 2019)
    assert read_vin(coach, today=TODAY, is_light=True).years == (1989,)
    assert read_vin(coach, today=TODAY, is_light=False).years == (2019, 1989)
    # A maker in Europe, the check digit not that of North America: position 7 says nothing, the younger is likelier.
    assert read_vin("WVWZZZ1KZ6W000001", today=TODAY).years == (2006,)
    assert read_vin("WVWZZZ1KZGW000001", today=TODAY).years == (2016, 1986)
    # Made in Asia: with the check digit that only North America asks for, it was likely made for it.
    assert read_vin("JN1AAZ282K0000001", today=TODAY).years == (1989, 2019)
    assert read_vin("JN1AAZ281K0000001", today=TODAY).years == (2019, 1989)


def test_next_year_is_on_sale_and_the_year_after_is_not() -> None:
    # 49 CFR 565.15, table VII: V is 1997 and 2027, W is 1998 and 2028.
    assert read_vin("5FNYF5H59VB011946", today=TODAY).years == (2027, 1997)
    assert read_vin("5FNYF5H59WB011946", today=TODAY).years == (1998,)
    future = read_vin("5FNYF5H59WB011946", today=TODAY, is_light=True)
    assert future.years == () and "not come yet" in " ".join(future.warnings)


@pytest.mark.parametrize("code", "UZ0")
def test_a_character_that_is_no_year_code_gives_no_year(code: str) -> None:
    # 49 CFR 565.15, table VII has no I, O, Q, U, Z, 0.
    vin = f"1M8GDM9AX{code}P042788"
    assert read_vin(vin, today=TODAY).years == ()
    assert f"Position 10 is {code}, which is no year code" in words(vin)


def test_all_zeros_pass_the_check_and_are_not_credible() -> None:
    reading = read_vin("0" * 17, today=TODAY)
    assert (reading.is_well_formed, reading.check_digit_ok, reading.years) == (True, True, ())
    assert "not a credible VIN" in words("0" * 17)


def test_a_failing_check_digit_is_wrong_in_north_america_and_doubtful_elsewhere() -> None:
    # 49 CFR 565.15(c) binds vehicles sold in North America only.
    assert "should be X: a character is mistyped" in words("1M8GDM9A1KP042788")
    russian = read_vin("XTA21099043567547", today=TODAY)
    assert russian.is_well_formed and not russian.check_digit_ok
    assert "Elsewhere that may be right" in words("XTA21099043567547")
    assert words("1M8GDM9AXKP042788") == ""


@pytest.mark.parametrize(
    ("start", "region"),
    # ISO 3780, from memory: A-H Africa (H given to China later), J-R Asia, S-Z Europe, 1-5 North America, 6-7
    # Oceania (7F on given to the United States later), 8-9 South America.
    [
        ("AAV", "Africa"),
        ("JN1", "Asia"),
        ("KND", "Asia"),
        ("LSJ", "Asia"),
        ("MA3", "Asia"),
        ("RFB", "Asia"),
        ("SAJ", "Europe"),
        ("WVW", "Europe"),
        ("XTA", "Europe"),
        ("ZFF", "Europe"),
        ("1G1", "North America"),
        ("2HG", "North America"),
        ("3VW", "North America"),
        ("5YJ", "North America"),
        ("7SA", "North America"),
        ("7FC", "North America"),
        ("6FP", "Oceania"),
        ("7AT", "Oceania"),
        ("8AP", "South America"),
        ("9BW", "South America"),
        ("000", ""),
    ],
)
def test_the_region_is_that_of_the_first_characters(start: str, region: str) -> None:
    assert read_vin(start + "GDM9AXKP042788", today=TODAY).maker_region == region


def test_the_maker_is_named_from_open_data() -> None:
    # The table of makers in the vininfo package; the first from its documentation.
    assert read_vin("XTA21099043567547", today=TODAY).maker == "AvtoVAZ"
    assert read_vin("5FNYF5H59HB011946", today=TODAY).maker == "Honda"
    assert read_vin("ZZZGDM9AXKP042788", today=TODAY).maker == ""


def test_a_maker_of_few_vehicles_is_known_by_six_positions() -> None:
    # 49 CFR 565.15(a): position 3 = 9, and positions 12 to 14 complete the maker's code.
    reading = read_vin("1F9GDM9AXKP042788", today=TODAY)
    assert (reading.maker, reading.maker_code) == ("", "1F9042")
    assert "1F9 042" in " ".join(reading.warnings)


@pytest.mark.parametrize("typed", ["1m8gdm9axkp042788", " 1M8 GDM9AX KP042788\n", "1M8-GDM9AX-KP042788"])
def test_case_spaces_and_hyphens_do_not_matter(typed: str) -> None:
    reading = read_vin(typed, today=TODAY)
    assert (reading.vin, reading.check_digit_ok) == ("1M8GDM9AXKP042788", True)
    assert reading.grouped == "1M8 GDM9AX KP042788"


@pytest.mark.parametrize(
    ("typed", "told"),
    # ISO 3779: 17 characters without I, O, Q.
    [
        ("", "No VIN was typed"),
        ("1M8GDM9AXKP04278", "16 characters, one too few"),
        ("1M8GDM9AXKP0427888", "18 characters, one too many"),
        ("1M8", "3 characters: a VIN has 17"),
        ("1M8GDM9AXKPO42788", "Position 12 is O, which is never in a VIN: probably 0"),
        ("1M8GDM9AXKPQ42788", "Position 12 is Q, which is never in a VIN: probably 0"),
        ("IM8GDM9AXKP042788", "Position 1 is I, which is never in a VIN: probably 1"),
        ("IM8GDM9AXKPO42788", "Perhaps 1M8GDM9AXKP042788: its check digit is right"),
        ("I1M8GDM9AXKP042788", "Perhaps 1M8GDM9AXKP042788"),
        ("1M8GDM9AXKP0427_8", "Position 16 is “_”"),
        ("ХTA21099043567547", "another alphabet"),
        ("?" * 17, "13 more characters"),
    ],
)
def test_what_is_no_vin_is_told_in_plain_words(typed: str, told: str) -> None:
    reading = read_vin(typed, today=TODAY)
    assert not reading.is_well_formed and not reading.check_digit_ok and reading.years == ()
    assert told in " ".join(reading.warnings)


@given(text=st.text(max_size=40))
def test_any_text_is_read_without_an_error(text: str) -> None:
    reading = read_vin(text, today=TODAY)
    assert reading.is_well_formed or reading.warnings


def test_differences_are_given_by_position() -> None:
    assert differences("1M8GDM9AXKP042788", "1m8 GDM9AX KP042788") == ()
    assert differences("1M8GDM9AXKP042788", "1M8GDM9A1KP042787") == (9, 17)
    assert differences("1M8GDM9AXKP042788", "1M8GDM9AXKP0427") == (16, 17)
