"""What was learned of times on site, and the estimate for a job from it. All logarithms are natural."""

import math
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field

SHORTEST, LONGEST = 5, 16 * 60
USUAL_UNTOLD = 60
ENOUGH_JOBS = 5

# (), (kind,), (kind, make) or (kind, make, model): the shop, a kind of work, a make in it, a model of that.
Key = tuple[str, ...]


def name_key(text: str) -> str:
    """A make or model as it is compared: however it was typed."""
    return " ".join(text.split()).casefold()


@dataclass(frozen=True, slots=True)
class Observation:
    """One finished visit: minutes from arrival to finish, of what, by whom. Not told (empty) is a group as well."""

    minutes: float
    kind: str
    make: str = ""
    model: str = ""
    technician: Hashable = None

    @property
    def key(self) -> Key:
        return (self.kind, name_key(self.make), name_key(self.model))


@dataclass(frozen=True, slots=True)
class Node:
    """What is known of the next job here: the mean of its log minutes, and how many `spread`s the range reaches.

    `spread`^2 = error of the mean + what models and makes not seen yet differ by + spread of like jobs, without the
    technician's part. `jobs` is how many stand behind it.
    """

    mean: float
    spread: float
    reach: float
    jobs: int


@dataclass(frozen=True, slots=True)
class Effect:
    """What a technician adds to the log minutes, and the variance of the error of that."""

    mean: float
    variance: float


@dataclass(frozen=True, slots=True)
class Estimate:
    """Minutes on site: half of such jobs take less than `minutes`, four of five between `low` and `high`."""

    minutes: int
    low: int
    high: int
    jobs_behind: int
    basis: str

    @property
    def words(self) -> str:
        """`usually 52 min, 14 jobs on this model`"""
        return f"usually {self.minutes} min, {self.basis}"

    @property
    def range_words(self) -> str:
        """`usually 52 min, 40 to 75`"""
        return f"usually {self.minutes} min, {self._range}"

    @property
    def line(self) -> str:
        """`Usually 52 min on site, 40 to 75 (14 jobs on this model)`"""
        return f"Usually {self.minutes} min on site, {self._range} ({self.basis})"

    @property
    def _range(self) -> str:
        """In fives, so that nobody takes it for exact."""
        low, high = (max(SHORTEST, 5 * round(each / 5)) for each in (self.low, self.high))
        return f"{low} to {high}"


def quarters(minutes: int) -> int:
    """Minutes up to the next quarter of an hour."""
    return -(-minutes // 15) * 15


@dataclass(frozen=True)
class Model:
    """Nodes by key, technicians by whatever names them; `unknown` is one nobody has seen, or not chosen yet."""

    nodes: Mapping[Key, Node]
    technicians: Mapping[Hashable, Effect] = field(default_factory=dict)
    unknown: Effect = Effect(0.0, 0.0)

    def estimate(
        self, *, kind: str, make: str = "", model: str = "", technician: Hashable = None, usual: int = USUAL_UNTOLD
    ) -> Estimate:
        """The estimate from the closest node there is. `usual` minutes stand for a kind that has no node."""
        path = keys_of(kind, make, model)
        known = [key for key in path if key in self.nodes]
        node = self.nodes[known[0]]
        effect = self.technicians.get(technician, self.unknown)
        mean = node.mean + effect.mean + (0 if known[0] else math.log(usual))
        reach = node.reach * math.sqrt(node.spread**2 + effect.variance)
        behind = next((self.nodes[key].jobs for key in known if key and self.nodes[key].jobs), 0)
        minutes = min(max(SHORTEST, round(math.exp(mean))), LONGEST)
        # Full minutes inside the range: times are kept in full minutes, and one more at either end would hold too many.
        return Estimate(
            minutes=minutes,
            low=min(minutes, math.ceil(math.exp(mean - reach))),
            high=max(minutes, math.floor(math.exp(mean + reach))),
            jobs_behind=behind,
            basis=self._basis(known),
        )

    def _basis(self, known: list[Key]) -> str:
        """The closest levels with jobs, until there are enough of them to be believed."""
        said: list[str] = []
        for key in known:
            jobs = self.nodes[key].jobs if key else 0
            if jobs:
                said.append(f"{jobs}{'' if said else ' job' if jobs == 1 else ' jobs'} {_level_words(key)}")
            if jobs >= ENOUGH_JOBS:
                break
        return ", ".join(said) or "from the price book, no such job yet"


def keys_of(kind: str, make: str = "", model: str = "") -> list[Key]:
    """The keys that tell of a job, the closest first."""
    whole = (kind, name_key(make), name_key(model))
    return [whole[:length] for length in (3, 2, 1, 0)]


def _level_words(key: Key) -> str:
    if len(key) == 1:
        return "of this kind"
    if not key[1]:
        return "with no vehicle told"
    return "on this make" if len(key) == 2 or not key[2] else "on this model"
