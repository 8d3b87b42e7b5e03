"""Reading vehicle identification numbers.

The rules are those of 49 CFR 565.15 (check digit, model year) and ISO 3779 and 3780 (structure, regions). Outside
North America position 9 and the year code are the maker's own business, so there they prove nothing.
"""

import re
import unicodedata
from dataclasses import dataclass
from datetime import UTC, date, datetime
from itertools import zip_longest

LENGTH = 17
_LEGAL = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"
# 49 CFR 565.15(c)(1), table III, and (c)(2), table IV.
_VALUES = dict(zip(_LEGAL, (*range(10), *range(1, 9), *range(1, 6), 7, 9, *range(2, 10)), strict=True))
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
# 49 CFR 565.15(d)(1), table VII: the codes of 1980 to 2009, again 2010 to 2039, and so on.
_YEAR_CODES = "ABCDEFGHJKLMNPRSTVWXY123456789"
_FIRST_YEAR = 1980
_LOOKS_LIKE = {"I": "1", "O": "0", "Q": "0"}
_SEPARATORS = re.compile(r"[\s\-‐‑‒–—−*]+")
_MOST_CHARACTERS_NAMED = 4
_LONGEST_TYPED = 200


@dataclass(frozen=True)
class VinReading:
    """What a typed VIN says. Positions count from 1.

    ``vin`` is the text in capitals without spaces and hyphens. ``is_well_formed``: 17 characters, none of them
    impossible. ``check_digit_ok``: position 9 is as 49 CFR 565.15(c) asks, which only vehicles sold in North America
    must obey. ``years`` are the model years it may mean, the most likely first. ``maker_code`` is positions 1 to 3,
    with 12 to 14 for a maker of few vehicles. ``maker_region`` and ``maker`` are "" where unknown. ``warnings`` are
    fit to show; only a VIN that is not well formed is wrong for certain.
    """

    vin: str
    is_well_formed: bool
    check_digit_ok: bool
    expected_check_digit: str
    years: tuple[int, ...]
    maker_region: str
    maker_code: str
    maker: str
    warnings: tuple[str, ...]

    @property
    def grouped(self) -> str:
        """In groups of 3, 6 and 8 for reading aloud: maker, vehicle, year with number (ISO 3779)."""
        return " ".join(part for part in (self.vin[:3], self.vin[3:9], self.vin[9:]) if part)


def read_vin(text: str, *, today: date | None = None, is_light: bool | None = None) -> VinReading:
    """Read a VIN typed in any case, with or without spaces and hyphens. Never raises: doubts are ``warnings``.

    ``is_light`` says whether it is a car, multipurpose vehicle or truck up to 4,536 kg: only for these made for
    North America does position 7 settle the year (a digit: 1980 to 2009, a letter: 2010 to 2039). True leaves that
    year alone, False takes no notice of position 7, None puts that year first. ``today`` bounds the years: a model
    year is on sale no earlier than the year before.
    """
    vin = _normalised(text)
    wrong = _wrong_characters(vin)
    if wrong or len(vin) != LENGTH:
        return VinReading(vin, False, False, "", (), _region(vin), "", "", _form_warnings(vin, wrong))
    expected = _check_digit(vin)
    is_ok = expected == vin[8]
    years = _years(vin, (today or datetime.now(tz=UTC).date()).year + 1, _follows_us_rule(vin, is_ok), is_light)
    return VinReading(
        vin=vin,
        is_well_formed=True,
        check_digit_ok=is_ok,
        expected_check_digit=expected,
        years=years,
        maker_region=_region(vin),
        maker_code=_maker_code(vin),
        maker=_maker(vin),
        warnings=tuple(_doubts(vin, expected, years)),
    )


def differences(a: str, b: str) -> tuple[int, ...]:
    """Positions, counted from 1, at which two VINs differ, however they were typed."""
    pairs = zip_longest(_normalised(a), _normalised(b))
    return tuple(position for position, (left, right) in enumerate(pairs, start=1) if left != right)


def _normalised(text: str) -> str:
    # NFKC turns full-width letters into plain ones; scanned bar codes come with asterisks around them.
    return _SEPARATORS.sub("", unicodedata.normalize("NFKC", text[:_LONGEST_TYPED])).upper()


def _wrong_characters(vin: str) -> list[tuple[int, str]]:
    return [(position, char) for position, char in enumerate(vin, start=1) if char not in _LEGAL]


def _check_digit(vin: str) -> str:
    remainder = sum(_VALUES[char] * weight for char, weight in zip(vin, _WEIGHTS, strict=True)) % 11
    return "X" if remainder == 10 else str(remainder)


# ISO 3780: what the first character, or the first two, say about where the maker sits. The standard gives A to H to
# Africa, of which H went to China; 7 is New Zealand's up to E and the United States' beyond; 0 is nobody's.
_REGIONS = (
    (re.compile(r"[A-G]"), "Africa"),
    (re.compile(r"[HJ-NPR]"), "Asia"),
    (re.compile(r"[S-Z]"), "Europe"),
    (re.compile(r"[1-5]|7[F-Z0-9]"), "North America"),
    (re.compile(r"6|7[A-E]"), "Oceania"),
    (re.compile(r"[89]"), "South America"),
)


def _region(vin: str) -> str:
    return next((name for pattern, name in _REGIONS if pattern.match(vin)), "")


def _is_north_american(vin: str) -> bool:
    return _region(vin) == "North America"


def _follows_us_rule(vin: str, check_digit_ok: bool) -> bool:
    """Whether it was likely made for North America: by a maker there, or with a check digit that only it asks for."""
    return _is_north_american(vin) or check_digit_ok


def _maker_code(vin: str) -> str:
    return vin[:3] + (vin[11:14] if vin[2] == "9" else "")


def _maker(vin: str) -> str:
    """Name of the maker by the open table of the vininfo package.

    Position 3 = 9 is shared by all small makers of a country, so positions 1 to 3 name none of them.
    """
    if vin[2] == "9":
        return ""
    from vininfo.dicts import WMI  # slow to import, and not needed for checking what is typed

    entry = WMI.get(vin[:3]) or WMI.get(vin[:2]) or ""
    return entry if isinstance(entry, str) else str(getattr(entry, "manufacturer", ""))


def _years(vin: str, last: int, follows_us_rule: bool, is_light: bool | None) -> tuple[int, ...]:
    """Candidates, most likely first: the year by position 7 where that rule may hold, then the younger ones."""
    code = vin[9]
    if code not in _YEAR_CODES:
        return ()
    cycle = len(_YEAR_CODES)
    possible = range(_FIRST_YEAR + _YEAR_CODES.index(code), last + 1, cycle)
    candidates = sorted(possible, reverse=True)
    if follows_us_rule and is_light is not False:
        by_rule = _year_by_position_7(vin)
        if is_light:
            return tuple(year for year in candidates if year == by_rule)
        candidates.sort(key=lambda year: year != by_rule)
    return tuple(candidates)


def _year_by_position_7(vin: str) -> int:
    first = _FIRST_YEAR if vin[6].isdigit() else _FIRST_YEAR + len(_YEAR_CODES)
    return first + _YEAR_CODES.index(vin[9])


def _form_warnings(vin: str, wrong: list[tuple[int, str]]) -> tuple[str, ...]:
    if not vin:
        return ("No VIN was typed.",)
    words = [_wrong_length(vin)] if len(vin) != LENGTH else []
    words += [_wrong_character(position, char) for position, char in wrong[:_MOST_CHARACTERS_NAMED]]
    if len(wrong) > _MOST_CHARACTERS_NAMED:
        words.append(f"{len(wrong) - _MOST_CHARACTERS_NAMED} more characters are never in a VIN.")
    if suggestion := _suggestion(vin, wrong):
        words.append(f"Perhaps {suggestion}: its check digit is right.")
    return tuple(words)


def _wrong_length(vin: str) -> str:
    off = len(vin) - LENGTH
    if off == 1 and vin[0] == "I":
        return "18 characters, one too many: a bar code may carry an I in front that is not part of the VIN."
    if abs(off) == 1:
        return f"{len(vin)} characters, one too {'many' if off > 0 else 'few'}: a VIN has {LENGTH}."
    return f"{len(vin)} character{'' if len(vin) == 1 else 's'}: a VIN has {LENGTH}."


def _wrong_character(position: int, char: str) -> str:
    if char in _LOOKS_LIKE:
        return f"Position {position} is {char}, which is never in a VIN: probably {_LOOKS_LIKE[char]}."
    if char.isalpha() and not char.isascii():
        return f"Position {position} is “{char}” of another alphabet: type the plain letter."
    return f"Position {position} is “{char}”, which is never in a VIN."


def _suggestion(vin: str, wrong: list[tuple[int, str]]) -> str:
    """The same without its telltale slips, when the check digit then bears it out."""
    repaired = vin[1:] if len(vin) == LENGTH + 1 and vin[0] == "I" else vin
    repaired = "".join(_LOOKS_LIKE.get(char, char) for char in repaired)
    is_better = wrong and len(repaired) == LENGTH and not _wrong_characters(repaired)
    return repaired if is_better and _check_digit(repaired) == repaired[8] else ""


def _doubts(vin: str, expected: str, years: tuple[int, ...]) -> list[str]:
    words = []
    if len(set(vin)) == 1:
        words.append(f"All {LENGTH} characters are {vin[0]}: not a credible VIN, though its check digit adds up.")
    if vin[8] != expected:
        words.append(_check_digit_doubt(vin, expected))
    if vin[9] not in _YEAR_CODES:
        words.append(f"Position 10 is {vin[9]}, which is no year code: the year cannot be read.")
    elif not years:
        words.append("The year it says has not come yet: check positions 7 and 10.")
    if _is_north_american(vin) and not vin[13:].isdigit():
        words.append("The last four positions should be digits on a VIN from North America.")
    if vin[2] == "9":
        words.append(f"A maker of few vehicles, known by positions 1 to 3 with 12 to 14: {vin[:3]} {vin[11:14]}.")
    if not _region(vin):
        words.append(f"No region has VINs that begin with {vin[0]}.")
    return words


def _check_digit_doubt(vin: str, expected: str) -> str:
    if _is_north_american(vin):
        return f"The check digit (position 9) is {vin[8]} and should be {expected}: a character is mistyped."
    return (
        f"The check digit (position 9) is {vin[8]} where North America would have {expected}. "
        "Elsewhere that may be right: compare it with the car."
    )
