import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.phones import PhoneError, PhoneReading, international, national, read_phone, shown

NOT_KNOWN = ("No numbers like this are known. Read it back.",)


@pytest.mark.parametrize("e164", ["+12015550123", "+12125550100", "+442071838750", "+442072221234"])
def test_numbers_of_the_plan_are_read_without_doubt(e164: str) -> None:
    # ITU-T E.164; example numbers of the North American and the British plan.
    assert read_phone(e164, region="US") == PhoneReading(e164)


def test_a_possible_number_that_no_plan_has_is_warned_about() -> None:
    # Possible but not valid by the Dutch plan: +31 42 is not given out.
    assert read_phone("+31421234567", region="US") == PhoneReading("+31421234567", "", NOT_KNOWN)


@pytest.mark.parametrize(
    ("typed", "region", "e164"),
    [
        ("(201) 555-0123", "US", "+12015550123"),
        ("201.555.0123", "US", "+12015550123"),
        ("1 201 555 0123", "US", "+12015550123"),
        ("tel:+1-201-555-0123", "GB", "+12015550123"),
        ("２０１ ５５５ ０１２３", "US", "+12015550123"),
        ("020 7183 8750", "GB", "+442071838750"),
        ("+44 (0)20 7183 8750", "US", "+442071838750"),
        ("011 44 20 7183 8750", "US", "+442071838750"),
        ("0044 20 7183 8750", "US", "+442071838750"),
        ("00 44 20 7183 8750", "DE", "+442071838750"),
        # The digits dialled before a country code do not count among the 15.
        ("011 49 3012345678901", "US", "+493012345678901"),
    ],
)
def test_numbers_typed_any_way_are_one_number(typed: str, region: str, e164: str) -> None:
    assert read_phone(typed, region=region).e164 == e164


@pytest.mark.parametrize(
    "typed",
    ["201 555 0123 x12", "201-555-0123 ext. 12", "201-555-0123, extension 12", "2015550123;ext=12", "2015550123x12"],
)
def test_an_extension_is_kept_apart(typed: str) -> None:
    # RFC 3966 section 5.3 writes an extension as ;ext=; the others are common practice, no source.
    assert read_phone(typed, region="US") == PhoneReading("+12015550123", "12")


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("", "Type a phone number"),
        ("not a number", "no letters: check “n”"),
        ("1-800-FLOWERS", "no letters: check “F”"),
        # ITU-T E.164: at most 15 digits.
        ("+1234567890123456", "at most 15 digits; this has 16"),
        ("9" * 40, "at most 15 digits; this has 40"),
        ("555-0123", "area code is missing. You typed 7 digits"),
        ("12", "too short"),
        ("+1 201 555 01234", "too long"),
        ("+999 1234567", "No country"),
        ("+", "Type a phone number"),
        ("201 555 0123 / +1 212 555 0100", "15 digits|one phone number"),
        ("201;555;0123", "one phone number"),
    ],
)
def test_what_cannot_be_called_is_refused_in_plain_words(typed: str, words: str) -> None:
    with pytest.raises(PhoneError, match=words):
        read_phone(typed, region="US")


def test_an_unknown_region_is_refused() -> None:
    with pytest.raises(PhoneError, match="region"):
        read_phone("2015550123", region="XX")


def test_numbers_are_shown_as_each_country_writes_them() -> None:
    # ITU-T E.123: +22 607 123 4567 in groups from abroad; (0607) 123 4567 at home.
    assert national("+12015550123") == "(201) 555-0123"
    assert international("+442071838750") == "+44 20 7183 8750"
    assert shown("+12015550123", region="US") == "(201) 555-0123"
    assert shown("+442071838750", region="US") == "+44 20 7183 8750"
    assert shown("+442071838750", region="GB") == "020 7183 8750"


@given(digits=st.integers(2_000_000_000, 9_899_999_999))
def test_what_is_shown_is_read_back(digits: int) -> None:
    e164 = f"+1{digits}"
    for form in (national, international):
        assert read_phone(form(e164), region="US").e164 == e164


@given(text=st.text(max_size=80))
def test_any_text_is_either_read_or_refused(text: str) -> None:
    try:
        reading = read_phone(text, region="US")
    except PhoneError as error:
        assert str(error)
    else:
        # ITU-T E.164: a plus and at most 15 digits.
        assert reading.e164.startswith("+") and reading.e164[1:].isascii() and 3 <= len(reading.e164[1:]) <= 15
