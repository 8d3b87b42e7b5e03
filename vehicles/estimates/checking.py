"""Do the ranges hold? The model against jobs it has not seen, beside the plain average of each kind of work."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean

from .fitting import fit
from .model import USUAL_UNTOLD, Observation

# On which side of the range it was (-1, 0, 1), the error, and the plain average's.
_Told = tuple[int, float, float]


@dataclass(frozen=True, slots=True)
class CheckLine:
    """One kind of work, or all of them: how many jobs the 80 % range held, and the mean error in minutes."""

    kind: str
    jobs: int
    inside: int
    below: int
    above: int
    error: float
    plain_error: float

    @property
    def coverage(self) -> float:
        return self.inside / self.jobs

    @property
    def gain(self) -> float:
        """By which part the error is smaller than the plain average's."""
        return 1 - self.error / self.plain_error if self.plain_error else 0.0


def check_held_out(
    seen: Sequence[Observation], held_out: Iterable[Observation], *, usual: Mapping[str, int] | None = None
) -> list[CheckLine]:
    """Learns from `seen`, foretells `held_out`; a line for each kind of work there and one, kind "", for all."""
    return check_shops([(seen, held_out)], usual=usual)


def check_shops(
    shops: Iterable[tuple[Sequence[Observation], Iterable[Observation]]], *, usual: Mapping[str, int] | None = None
) -> list[CheckLine]:
    """The same for several shops, each learned from and foretold by itself and counted together."""
    told: dict[str, list[_Told]] = defaultdict(list)
    for seen, held_out in shops:
        for kind, one in _foretell(seen, held_out, usual or {}):
            told[kind].append(one)
    lines = [_line(kind, found) for kind, found in sorted(told.items())]
    everything = [one for found in told.values() for one in found]
    return [*lines, _line("", everything)] if everything else []


def _foretell(
    seen: Sequence[Observation], held_out: Iterable[Observation], usual: Mapping[str, int]
) -> Iterator[tuple[str, _Told]]:
    model, plain = fit(seen, usual=usual), _plain_averages(seen)
    for each in held_out:
        expected = usual.get(each.kind, USUAL_UNTOLD)
        said = model.estimate(
            kind=each.kind, make=each.make, model=each.model, technician=each.technician, usual=expected
        )
        side = (each.minutes > said.high) - (each.minutes < said.low)
        average = plain.get(each.kind, expected)
        yield each.kind, (side, abs(each.minutes - said.minutes), abs(each.minutes - average))


def _plain_averages(seen: Iterable[Observation]) -> dict[str, float]:
    minutes = defaultdict(list)
    for each in seen:
        minutes[each.kind].append(each.minutes)
    return {kind: fmean(found) for kind, found in minutes.items()}


def _line(kind: str, found: Sequence[_Told]) -> CheckLine:
    sides = [side for side, _, _ in found]
    return CheckLine(
        kind=kind,
        jobs=len(found),
        inside=sides.count(0),
        below=sides.count(-1),
        above=sides.count(1),
        error=fmean(error for _, error, _ in found),
        plain_error=fmean(plain for _, _, plain in found),
    )
