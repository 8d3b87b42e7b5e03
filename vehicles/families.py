"""Which family a vehicle belongs to, how sure that is, and why. Plain rules; families may overlap and split."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

VIN_PATTERN = re.compile(r"^[A-HJ-NPR-Z0-9?]{1,17}$")


class Sureness(IntEnum):
    """How sure a match is. Only a certain one is taken without asking."""

    DOUBTFUL = 1
    LIKELY = 2
    CERTAIN = 3

    @property
    def word(self) -> str:
        return self.name.lower()


@dataclass(frozen=True)
class VehicleFacts:
    """What is known of a vehicle, as typed. `years` are what the VIN may mean, when the year was not told."""

    make: str = ""
    model: str = ""
    year: int | None = None
    vin: str = ""
    market: str = ""
    years: tuple[int, ...] = ()


@dataclass(frozen=True)
class FamilyFacts:
    """What tells the vehicles of one family. `vin_pattern` is the beginning of a VIN, ? standing for any character."""

    id: Any
    make: str
    model_names: tuple[str, ...]
    year_from: int
    year_until: int
    market: str = ""
    vin_pattern: str = ""


@dataclass(frozen=True)
class Match:
    """One family a vehicle may belong to, with the reasons in words."""

    id: Any
    sureness: Sureness
    why: tuple[str, ...]


def match(vehicle: VehicleFacts, families: Iterable[FamilyFacts]) -> list[Match]:
    """The families this vehicle may belong to, the surest first.

    A family is out when the make, the model, the year or the VIN speaks against it. What is left is certain when the
    VIN pattern fits and nothing else is open, or when make, model and year all fit; likely when one of these is not
    known; else doubtful. Families that fit equally well take each other's certainty away: one of them is offered, none
    assumed.
    """
    found = [seen for family in families if (seen := _judge(vehicle, family))]
    return sorted(_settle(found), key=lambda each: (-each.sureness, str(each.id)))


def overlapping(family: FamilyFacts, others: Iterable[FamilyFacts]) -> list[FamilyFacts]:
    """Those of the others that some vehicle would fit as well as this one."""
    return [other for other in others if other.id != family.id and _overlap(family, other)]


def vin_fits(pattern: str, vin: str) -> bool:
    """Whether a VIN, or the part of it that is known, begins as the pattern says."""
    return (
        bool(pattern)
        and len(vin) >= len(pattern)
        and all(want in ("?", got) for want, got in zip(pattern, vin, strict=False))
    )


def plain_name(text: str) -> str:
    """Capitals, spaces and hyphens say nothing in the name of a make or model."""
    return re.sub(r"[\W_]+", "", text.casefold())


# The weight of each sign; equal sums are equally good fits.
_BY_VIN, _BY_MARKET, _BY_MODEL, _BY_YEAR, _BY_MAKE = 16, 8, 4, 2, 1


@dataclass(frozen=True)
class _Judged:
    match: Match
    weight: int


def _judge(vehicle: VehicleFacts, family: FamilyFacts) -> _Judged | None:
    why: list[str] = []
    open_points: list[str] = []
    weight = 0
    for sign in (_vin_sign, _make_sign, _model_sign, _year_sign, _market_sign):
        verdict = sign(vehicle, family)
        if verdict is None:
            return None
        points, words, is_open = verdict
        weight += points
        if words:
            (open_points if is_open else why).append(words)
    if not weight & (_BY_VIN | _BY_MAKE):
        return None
    return _Judged(Match(family.id, _sureness(weight, open_points), (*why, *open_points)), weight)


def _sureness(weight: int, open_points: Sequence[str]) -> Sureness:
    told = [weight & _BY_MODEL, weight & _BY_YEAR]
    if not open_points and (weight & _BY_VIN or all(told)):
        return Sureness.CERTAIN
    if weight & _BY_VIN or (weight & _BY_MODEL and len(open_points) <= 1):
        return Sureness.LIKELY
    return Sureness.DOUBTFUL


# A sign is None when it speaks against the family; else its weight, its words, and whether it leaves something open.
_Sign = tuple[int, str, bool] | None


def _vin_sign(vehicle: VehicleFacts, family: FamilyFacts) -> _Sign:
    if not family.vin_pattern or not vehicle.vin:
        return 0, "", False
    if len(vehicle.vin) < len(family.vin_pattern):
        return 0, "the VIN is not whole", True
    if not vin_fits(family.vin_pattern, vehicle.vin):
        return None
    return _BY_VIN, f"the VIN begins like {family.vin_pattern}", False


def _make_sign(vehicle: VehicleFacts, family: FamilyFacts) -> _Sign:
    if not plain_name(vehicle.make):
        return 0, "", False
    if plain_name(vehicle.make) != plain_name(family.make):
        return None
    return _BY_MAKE, f"make {family.make}", False


def _model_sign(vehicle: VehicleFacts, family: FamilyFacts) -> _Sign:
    typed = plain_name(vehicle.model)
    if not typed:
        is_settled = vin_fits(family.vin_pattern, vehicle.vin)
        return 0, "" if is_settled else "the model is not known", not is_settled
    for name in family.model_names:
        if plain_name(name) == typed:
            return _BY_MODEL, f"model {name}", False
    for name in family.model_names:
        if typed.startswith(plain_name(name)) or plain_name(name).startswith(typed):
            return 0, f"“{vehicle.model}” may be the {name}", True
    return None


def _year_sign(vehicle: VehicleFacts, family: FamilyFacts) -> _Sign:
    def is_in(year: int) -> bool:
        return family.year_from <= year <= family.year_until

    if vehicle.year is not None:
        return (_BY_YEAR, f"year {vehicle.year}", False) if is_in(vehicle.year) else _edge(vehicle.year, family)
    if not vehicle.years:
        return 0, "the year is not known", True
    fits = [year for year in vehicle.years if is_in(year)]
    if not fits:
        return None
    if len(fits) == len(vehicle.years):
        return _BY_YEAR, f"the VIN says {' or '.join(map(str, fits))}", False
    return 0, f"the VIN may mean {' or '.join(map(str, vehicle.years))}", True


def _edge(year: int, family: FamilyFacts) -> _Sign:
    """A car is often called by the year it was sold: one year beside the family is open, more is out."""
    if year == family.year_from - 1 or year == family.year_until + 1:
        return 0, f"{year} is a year beside {family.year_from} to {family.year_until}", True
    return None


def _market_sign(vehicle: VehicleFacts, family: FamilyFacts) -> _Sign:
    if not vehicle.market or not family.market:
        return 0, "", False
    if plain_name(vehicle.market) != plain_name(family.market):
        return None
    return _BY_MARKET, f"market {family.market}", False


def _settle(found: Sequence[_Judged]) -> list[Match]:
    """Of several certain ones only the one with the most signs stays so; the others, and equals, come down."""
    certain = [each for each in found if each.match.sureness is Sureness.CERTAIN]
    if len(certain) < 2:
        return [each.match for each in found]
    best = max(each.weight for each in certain)
    is_alone = sum(each.weight == best for each in certain) == 1
    settled = []
    for each in found:
        if each.match.sureness is not Sureness.CERTAIN or (is_alone and each.weight == best):
            settled.append(each.match)
            continue
        sureness = Sureness.DOUBTFUL if is_alone else Sureness.LIKELY
        reason = "another family fits better" if is_alone else "another family fits as well"
        settled.append(Match(each.match.id, sureness, (*each.match.why, reason)))
    return settled


def _overlap(one: FamilyFacts, other: FamilyFacts) -> bool:
    if plain_name(one.make) != plain_name(other.make):
        return False
    if not {plain_name(name) for name in one.model_names} & {plain_name(name) for name in other.model_names}:
        return False
    if one.year_until < other.year_from or other.year_until < one.year_from:
        return False
    if one.market and other.market and plain_name(one.market) != plain_name(other.market):
        return False
    both = zip(one.vin_pattern, other.vin_pattern, strict=False)
    return not (one.vin_pattern and other.vin_pattern) or all(a == b or "?" in (a, b) for a, b in both)
