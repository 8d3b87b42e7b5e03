"""The VIN on the car against the one on the job and the one on the papers, character by character. Plain Python."""

from collections.abc import Sequence
from dataclasses import dataclass

from vehicles.vin import differences

CAR, JOB, PAPERS = "On the car", "On the job", "On the papers"


@dataclass(frozen=True)
class VinLine:
    """One VIN with each character marked where it differs from the first line."""

    label: str
    characters: tuple[tuple[str, bool], ...]


@dataclass(frozen=True)
class VinComparison:
    """`agree` is None when fewer than two VINs, or none on the car, are known. `words` tell each difference."""

    agree: bool | None
    words: tuple[str, ...] = ()
    lines: tuple[VinLine, ...] = ()


def compare_vins(*, on_car: str, on_job: str, on_papers: str) -> VinComparison:
    """Compares what is known of the three; each a VIN of 17 characters or empty.

    A VIN that stands alone agrees with nothing.
    """
    known = [(label, vin) for label, vin in ((CAR, on_car), (JOB, on_job), (PAPERS, on_papers)) if vin]
    if len(known) < 2:
        return VinComparison(agree=None)
    (first_label, first), *others = known
    differing = [(label, vin, places) for label, vin in others if (places := differences(first, vin))]
    if not differing:
        return VinComparison(agree=True if on_car else None)
    marked = {place for _, _, places in differing for place in places}
    lines = [VinLine(first_label, _marked(first, marked))]
    lines += [VinLine(label, _marked(vin, set(differences(first, vin)))) for label, vin in others]
    words = [_words(first_label, label, first, vin, places) for label, vin, places in differing]
    return VinComparison(False, tuple(words), tuple(lines))


def _marked(vin: str, places: set[int]) -> tuple[tuple[str, bool], ...]:
    return tuple((char, place in places) for place, char in enumerate(vin, start=1))


def _words(one: str, other: str, first: str, second: str, places: Sequence[int]) -> str:
    start = f"The VIN {one.lower()} is not the VIN {other.lower()}"
    if len(places) > 3 or len(first) != len(second):
        return f"{start}: {len(places)} characters differ."
    told = ", ".join(f"character {at} is {first[at - 1]}, not {second[at - 1]}" for at in places)
    return f"{start}: {told}."
