"""Amounts of money: how many decimals a currency has, rounding, splitting, reading and showing.

An amount is a ``Decimal`` that travels beside its ISO 4217 code; there is no class of its own, because the
models keep the two in two columns and every function here takes both.
"""

import re
from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Context, Decimal
from fractions import Fraction

from shop.errors import Refused

# ISO 4217 list one, published 2026-01-01: the minor unit of every active currency. It is the law for papers;
# what people use in shops may differ (the CLDR tables list such habits), and two of these currencies, MGA and
# MRU, divide by five, which the standard writes as two decimals all the same. Metals, funds of account without
# a minor unit and the testing code are left out: nobody is paid in them.
_CODES_BY_MINOR_UNITS = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
    2: (
        "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BOV BRL BSD BTN BWP BYN BZD CAD CDF CHE CHF "
        "CHW CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL "
        "HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU "
        "MUR MVR MWK MXN MXV MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR "
        "SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD USN UYU UZS VED "
        "VES WST XAD XCD XCG YER ZAR ZMW ZWG"
    ),
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}
MINOR_UNITS: dict[str, int] = {code: units for units, codes in _CODES_BY_MINOR_UNITS.items() for code in codes.split()}

# Wide enough that no sum a shop can type loses a digit; the default context refuses beyond 28.
_WIDE = Context(prec=60)
_LONGEST_AMOUNT = 40
_SPACES = re.compile(r"[\s'’]")
_SHAPE = re.compile(r"([+-]?)([0-9]+(?:[.,][0-9]+)*|[.,][0-9]+)")


class MoneyError(Refused, ValueError):
    """An amount or a currency that cannot be used; the words are fit to show."""


def minor_units(code: str) -> int:
    """Decimals of a currency by ISO 4217 (USD 2, JPY 0, BHD 3). Raises ``MoneyError`` for an unknown code."""
    try:
        return MINOR_UNITS[code]
    except KeyError:
        raise MoneyError(f"{code!r} is not a currency code of ISO 4217.") from None


def quantum(currency: str) -> Decimal:
    """The smallest amount of a currency: 0.01 for USD, 1 for JPY."""
    return Decimal(1).scaleb(-minor_units(currency))


def quantize(amount: Decimal, currency: str, rounding: str = ROUND_HALF_UP) -> Decimal:
    """``amount`` rounded to the minor unit of ``currency``.

    Half goes away from zero unless another of the ``decimal`` roundings is named, so that a credit note mirrors
    its invoice. Raises ``MoneyError`` for an amount that is no number.
    """
    if not amount.is_finite():
        raise MoneyError("The amount is not a number.")
    rounded = amount.quantize(quantum(currency), rounding=rounding, context=_WIDE)
    return abs(rounded) if rounded.is_zero() else rounded


def is_whole(amount: Decimal, currency: str) -> bool:
    """True when ``amount`` needs no more decimals than ``currency`` has."""
    return quantize(amount, currency) == amount


def split(amount: Decimal, parts: int | Sequence[Decimal | int], currency: str) -> tuple[Decimal, ...]:
    """Share ``amount`` out so that the shares add up to it in the minor unit.

    ``parts`` is a number of equal shares or a row of weights. By the method of largest remainders (Hamilton):
    each share is cut down to the minor unit, and what is left over goes, unit by unit, to the shares that lost
    most, the earlier one first. Raises ``MoneyError`` for no parts, negative weights, weights of nothing, or an
    amount finer than the minor unit.
    """
    weights = [Fraction(1)] * parts if isinstance(parts, int) else [Fraction(weight) for weight in parts]
    if not weights or any(weight < 0 for weight in weights) or not sum(weights):
        raise MoneyError("An amount is split by at least one share, and no share is below nothing.")
    if not is_whole(amount, currency):
        raise MoneyError(f"{amount} is finer than the smallest unit of {currency}.")
    unit = quantum(currency)
    units, sign = int(abs(amount) / unit), -1 if amount < 0 else 1
    return tuple(sign * count * unit for count in _largest_remainders(units, weights))


def _largest_remainders(units: int, weights: Sequence[Fraction]) -> list[int]:
    exact = [units * weight / sum(weights) for weight in weights]
    counts = [int(share) for share in exact]
    by_loss = sorted(range(len(exact)), key=lambda i: counts[i] - exact[i])
    for i in by_loss[: units - sum(counts)]:
        counts[i] += 1
    return counts


def parse_amount(text: str, currency: str | None = None, *, allow_negative: bool = False) -> Decimal:
    """Read an amount as people type it, with a comma or a dot before the decimals.

    Spaces and apostrophes between digits are dropped; with both marks present the last is the decimal one. With a
    ``currency`` its code may stand before or after, more decimals than it has are refused, and the result carries
    exactly its decimals. One mark before exactly three digits is unclear ("1.234"): with a currency of fewer
    decimals a comma there parts thousands and a dot is refused; without a currency a dot is the decimal mark, as
    programs write it, and a comma is refused. Raises ``MoneyError`` saying what to type instead.
    """
    shown = text.strip()
    bare = _without_code(_SPACES.sub("", shown[:_LONGEST_AMOUNT]).replace("−", "-"), currency)
    match = _SHAPE.fullmatch(bare)
    if not match or len(shown) > _LONGEST_AMOUNT:
        raise MoneyError(f"“{shown[:_LONGEST_AMOUNT]}” is not an amount: write it like 1234.50.")
    amount = Decimal(match[1] + _plain_digits(match[2], shown, currency))
    if amount < 0 and not allow_negative:
        raise MoneyError("The amount must not be below nothing.")
    if currency is None:
        return amount
    if not is_whole(amount, currency):
        raise MoneyError(f"{currency} has {minor_units(currency)} decimals: {shown} is too fine.")
    return quantize(amount, currency)


def _without_code(bare: str, currency: str | None) -> str:
    if currency is None:
        return bare
    return re.sub(rf"^{currency}|{currency}$", "", bare, count=1, flags=re.IGNORECASE)


def _plain_digits(digits: str, shown: str, currency: str | None) -> str:
    marks = [mark for mark in digits if mark in ".,"]
    if not marks:
        return digits
    whole, _, rest = digits.rpartition(marks[-1])
    if len(set(marks)) == 1 and (len(marks) > 1 or _parts_thousands(whole, marks[-1], rest, shown, currency)):
        return _joined_groups(digits, marks[-1], shown)
    if len(marks) == 1:
        return f"{whole}.{rest}"
    other = "," if marks[-1] == "." else "."
    return f"{_joined_groups(whole, other, shown)}.{rest}"


def _parts_thousands(whole: str, mark: str, rest: str, shown: str, currency: str | None) -> bool:
    if len(rest) != 3 or not re.fullmatch(r"[1-9][0-9]{0,2}", whole):
        return False
    decimals = None if currency is None else minor_units(currency)
    if mark == "," and decimals is not None and decimals < 3:
        return True
    if mark == "." and decimals is None:
        return False
    plain = f"{whole}{rest}"
    raise MoneyError(f"“{shown}” may be {plain} or {whole}.{rest}: write {plain}, or all decimals.")


def _joined_groups(digits: str, mark: str, shown: str) -> str:
    first, *others = digits.split(mark)
    if not re.fullmatch(r"[1-9][0-9]{0,2}", first) or any(not re.fullmatch(r"[0-9]{3}", g) for g in others):
        raise MoneyError(f"“{shown}” is not an amount: thousands stand in groups of three.")
    return first + "".join(others)


def format_amount(amount: Decimal, currency: str) -> str:
    """``1,234.50 USD``: commas between thousands, a dot before the decimals, the code after a space.

    The same in every language, so that a figure on a screen, on paper and in a file can be compared by eye. Never
    rounds: a unit price finer than the minor unit shows all its digits.
    """
    shown = quantize(amount, currency) if is_whole(amount, currency) else amount.normalize(_WIDE)
    return f"{shown:,f} {currency}"
