"""Telephone numbers: typed any way, kept in E.164, shown as people write them."""

import re
from dataclasses import dataclass

import phonenumbers
from phonenumbers import NumberParseException, PhoneNumberFormat, ValidationResult

from shop.errors import Refused

_MOST_DIGITS = 15  # ITU-T E.164, the longest international number
_LONGEST_TYPED = 60
_EXTENSION = re.compile(r"(?:;\s*ext\s*=|\bextension|\bext|(?<![a-z])x|#)[\s.:]*([0-9]{1,7})\s*$", re.IGNORECASE)


class PhoneError(Refused, ValueError):
    """A number that cannot be called; the words are fit to show."""


@dataclass(frozen=True)
class PhoneReading:
    """A number as it is kept (``e164``), an extension if one was typed, and words of doubt, if any, fit to show."""

    e164: str
    extension: str = ""
    warnings: tuple[str, ...] = ()


def read_phone(text: str, *, region: str) -> PhoneReading:
    """Read a number typed any way; without a country code it is taken to be of ``region`` (ISO 3166, "US").

    A number that can exist but that no plan has given out is only warned about: plans change, and a caller's own
    number is right more often than a table. Raises ``PhoneError`` for letters, too few or too many digits, and
    country codes that do not exist.
    """
    if region not in phonenumbers.SUPPORTED_REGIONS:
        raise PhoneError(f"“{region}” is no region with telephone numbers.")
    typed, extension = _without_extension(text.strip())
    _check_typed(typed)
    number = _parsed(typed, region)
    _check_possible(number, typed)
    warnings = () if phonenumbers.is_valid_number(number) else ("No numbers like this are known. Read it back.",)
    return PhoneReading(phonenumbers.format_number(number, PhoneNumberFormat.E164), extension, warnings)


def national(e164: str) -> str:
    """An E.164 number as written within its country: ``(201) 555-0123``."""
    return phonenumbers.format_number(phonenumbers.parse(e164), PhoneNumberFormat.NATIONAL)


def international(e164: str) -> str:
    """An E.164 number as written from abroad, in groups (ITU-T E.123): ``+44 20 7183 8750``."""
    return phonenumbers.format_number(phonenumbers.parse(e164), PhoneNumberFormat.INTERNATIONAL)


def shown(e164: str, *, region: str) -> str:
    """An E.164 number as people of ``region`` expect it: in the national form at home, else in the international."""
    number = phonenumbers.parse(e164)
    home = number.country_code == phonenumbers.country_code_for_region(region)
    return national(e164) if home else international(e164)


def _without_extension(text: str) -> tuple[str, str]:
    bare = re.sub(r"^tel:\s*", "", text[: _LONGEST_TYPED + 1], flags=re.IGNORECASE)
    match = _EXTENSION.search(bare)
    return (bare[: match.start()].strip(" ,;"), match[1]) if match else (bare, "")


def _check_typed(typed: str) -> None:
    digits = sum(char.isdecimal() for char in typed)
    letters = [char for char in typed if char.isalpha()]
    if letters:
        raise PhoneError(f"A phone number has no letters: check “{letters[0]}”.")
    if not digits:
        raise PhoneError("Type a phone number.")
    if digits > _MOST_DIGITS and (typed.startswith("+") or digits > _MOST_DIGITS + 5):
        raise PhoneError(f"A phone number has at most {_MOST_DIGITS} digits; this has {digits}.")
    if "+" in typed[1:] or not re.fullmatch(r"[\d\s()+\-–—−‐‑./,*\u200e\u202a-\u202c\u00ad]*", typed):
        raise PhoneError("That does not look like one phone number.")


def _parsed(typed: str, region: str) -> phonenumbers.PhoneNumber:
    try:
        number = phonenumbers.parse(typed, region)
        # 00 is what most of the world dials before a country code (ITU-T E.164 recommends it); where it is not, no
        # number of the country itself begins with it.
        if typed.startswith("00") and not phonenumbers.is_possible_number(number):
            number = phonenumbers.parse("+" + typed[2:].lstrip(), region)
    except NumberParseException as error:
        raise PhoneError(_WORDS_FOR_PARSING.get(error.error_type, "That is not a phone number.")) from None
    return number


_WORDS_FOR_PARSING = {
    NumberParseException.INVALID_COUNTRY_CODE: "No country has that country code.",
    NumberParseException.TOO_LONG: "The number is too long.",
    NumberParseException.TOO_SHORT_NSN: "The number is too short.",
    NumberParseException.TOO_SHORT_AFTER_IDD: "The number is too short.",
}
_WORDS_FOR_LENGTH = {
    ValidationResult.INVALID_COUNTRY_CODE: "No country has that country code.",
    ValidationResult.TOO_SHORT: "The number is too short.",
    ValidationResult.TOO_LONG: "The number is too long.",
    ValidationResult.IS_POSSIBLE_LOCAL_ONLY: "The area code is missing.",
    ValidationResult.INVALID_LENGTH: "A digit is missing or too many.",
}


def _check_possible(number: phonenumbers.PhoneNumber, typed: str) -> None:
    result = phonenumbers.is_possible_number_with_reason(number)
    if result != ValidationResult.IS_POSSIBLE:
        digits = sum(char.isdecimal() for char in typed)
        raise PhoneError(f"{_WORDS_FOR_LENGTH.get(result, 'That is not a phone number.')} You typed {digits} digits.")
