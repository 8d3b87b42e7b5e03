"""Learns the model from finished visits.

Everything is counted from the price book: r = log(minutes / usual minutes of the kind). A few rounds of

1. pull in what is wild: an r further than 1.5 spreads from what the other jobs foretell of it is taken for one at that
   distance (Huber and Ronchetti 2009, 7.8: modified residuals). A finish forgotten until the next morning counts as a
   slow job, even where it is the only one on its model;
2. means of the models, and from them those of makes, kinds and the shop, each with the spread between its members
   (`pooling`), from the leaves up; then each drawn toward the one above, from the shop down;
3. what each technician adds, from what the models leave over, drawn toward nothing;
4. the spread s of like jobs in each kind of work, from what is left then (`spread`).

A job has drawn its own group's mean toward itself. With its leverage h, the group's error variance over s squared, what
the others foretell lies h / (1 - h) times what is left further away, with a spread of s / sqrt(1 - h).

Without any history the assumptions below are all there is: the price book's minutes, in a wide range.
"""

import math
from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .model import USUAL_UNTOLD, Effect, Key, Model, Node, Observation
from .pooling import Measured, pooled, shrunk, spread_between
from .spread import Floats, blended, spread_of, t_reach

# Before the data, in logarithms: 0.1 is about ten percent. Common practice, no source; a few dozen jobs outweigh them.
SHOP_OFF_BOOK = 0.3
LIKELY_TAU = {1: 0.35, 2: 0.2, 3: 0.25}  # between kinds (against the book), makes, models
LIKELY_TECHNICIAN = 0.1
LIKELY_SPREAD = 0.45
SPREAD_JOBS = 10  # as many jobs is the likely spread worth
KIND_JOBS = 20  # and as many the spread of all kinds against that of one

WILD = 1.5
LEAST_SPREAD = 0.1
ROUNDS = 10
MOST_LEVERAGE = 0.8
LEVELS = 3


@dataclass
class _Rows:
    """The visits as columns. `leaf` and `who` are numbers of `leaves` and `people`."""

    r: Floats
    leaf: NDArray[np.intp]
    who: NDArray[np.intp]
    leaves: list[Key]
    people: list[Hashable]
    kinds: dict[str, NDArray[np.intp]]


@dataclass
class _State:
    """What is believed so far. `spread` is that of like jobs by kind of work; "" is that of all."""

    spread: dict[str, float]
    believed: dict[Key, Measured] = field(default_factory=dict)
    taus: dict[int, float] = field(default_factory=lambda: dict(LIKELY_TAU))
    effects: list[Effect] = field(default_factory=list)
    tau_technician: float = LIKELY_TECHNICIAN


@dataclass(frozen=True)
class _Foretold:
    """What the other visits foretell of each visit's r, and how far it may lie from that."""

    mean: Floats
    spread: Floats
    leverage: Floats


def fit(observations: Iterable[Observation], *, usual: Mapping[str, int] | None = None) -> Model:
    """The model of these visits. `usual` are the price book's minutes by kind of work; a kind without has 60.

    Visits of no minutes or less are left out.
    """
    usual = usual or {}
    rows = _rows([each for each in observations if each.minutes > 0], usual)
    state = _State(spread=dict.fromkeys(("", *rows.kinds), LIKELY_SPREAD))
    state.effects = [Effect(0.0, 0.0)] * len(rows.people)
    foretold = _first_guess(rows, state)
    for _ in range(ROUNDS if len(rows.r) else 1):
        tame = _tamed(rows, foretold)
        _grow(rows, state, tame)
        _learn_technicians(rows, state, tame)
        foretold = _foretold(rows, state, tame)
        _learn_spread(rows, state, foretold)
    return _model(rows, state, usual)


def _first_guess(rows: _Rows, state: _State) -> _Foretold:
    """Every job as the median of its kind, and how far they lie apart."""
    middle = np.zeros(len(rows.r))
    for kind, members in rows.kinds.items():
        middle[members] = np.median(rows.r[members])
        state.spread[kind] = max(LEAST_SPREAD, spread_of(rows.r[members] - middle[members]))
    return _Foretold(middle, _spreads(rows, state), np.zeros(len(rows.r)))


def _rows(seen: Sequence[Observation], usual: Mapping[str, int]) -> _Rows:
    leaves = sorted({each.key for each in seen})
    people = sorted({each.technician for each in seen if each.technician is not None}, key=str)
    at = {key: number for number, key in enumerate(leaves)}
    who = {person: number for number, person in enumerate(people)}
    kinds = defaultdict(list)
    for number, each in enumerate(seen):
        kinds[each.kind].append(number)
    return _Rows(
        r=np.array([math.log(each.minutes / _usual(usual, each.kind)) for each in seen], dtype=np.float64),
        leaf=np.array([at[each.key] for each in seen], dtype=np.intp),
        who=np.array([who.get(each.technician, -1) for each in seen], dtype=np.intp),
        leaves=leaves,
        people=people,
        kinds={kind: np.array(numbers, dtype=np.intp) for kind, numbers in kinds.items()},
    )


def _usual(usual: Mapping[str, int], kind: str) -> int:
    return max(1, usual.get(kind, USUAL_UNTOLD))


def _added(rows: _Rows, state: _State) -> Floats:
    """What the technician of each visit adds; the last place is for nobody."""
    means = np.array([*(each.mean for each in state.effects), 0.0])
    return np.asarray(means[rows.who])


def _spreads(rows: _Rows, state: _State) -> Floats:
    spreads = np.empty(len(rows.r))
    for kind, members in rows.kinds.items():
        spreads[members] = state.spread[kind]
    return spreads


def _tamed(rows: _Rows, foretold: _Foretold) -> Floats:
    """Each visit's r, no further than 1.5 spreads from what the others foretell."""
    far = WILD * foretold.spread
    return np.asarray(foretold.mean + np.clip(rows.r - foretold.mean, -far, far))


def _grow(rows: _Rows, state: _State, tame: Floats) -> None:
    """Means from the leaves up, then drawn in from the top down."""
    own = _leaf_means(rows, state, tame - _added(rows, state))
    children: dict[Key, list[Key]] = defaultdict(list)
    for level in range(LEVELS, 0, -1):
        at_level = [key for key in own if len(key) == level]
        for key in at_level:
            children[key[:-1]].append(key)
        parents = {key[:-1] for key in at_level}
        families = [[own[key] for key in children[parent]] for parent in parents]
        state.taus[level] = spread_between(families, likely=LIKELY_TAU[level])
        for parent, members in zip(parents, families, strict=True):
            own[parent] = pooled(members, state.taus[level])
    book = Measured(0.0, 0.0)
    state.believed = {(): shrunk(own[()], book, SHOP_OFF_BOOK) if () in own else Measured(0.0, SHOP_OFF_BOOK**2)}
    for key in sorted(own, key=len):
        if key:
            state.believed[key] = shrunk(own[key], state.believed[key[:-1]], state.taus[len(key)])


def _leaf_means(rows: _Rows, state: _State, values: Floats) -> dict[Key, Measured]:
    counts = np.bincount(rows.leaf, minlength=len(rows.leaves))
    sums = np.bincount(rows.leaf, weights=values, minlength=len(rows.leaves))
    return {
        key: Measured(float(sums[n] / counts[n]), state.spread[key[0]] ** 2 / float(counts[n]))
        for n, key in enumerate(rows.leaves)
    }


def _leaf_beliefs(rows: _Rows, state: _State) -> tuple[Floats, Floats]:
    """Mean and error variance of each visit's model."""
    beliefs = [state.believed[key] for key in rows.leaves]
    means = np.array([each.mean for each in beliefs], dtype=np.float64)
    variances = np.array([each.variance for each in beliefs], dtype=np.float64)
    return means[rows.leaf], variances[rows.leaf]


def _learn_technicians(rows: _Rows, state: _State, tame: Floats) -> None:
    """What each adds; nothing where they do not differ by more than chance."""
    if not rows.people:
        return
    left = tame - _leaf_beliefs(rows, state)[0]
    weights = 1 / _spreads(rows, state) ** 2
    told = rows.who >= 0
    total = np.bincount(rows.who[told], weights=weights[told], minlength=len(rows.people))
    sums = np.bincount(rows.who[told], weights=(weights * left)[told], minlength=len(rows.people))
    own = [Measured(float(s / t), float(1 / t)) for s, t in zip(sums, total, strict=True)]
    state.tau_technician = spread_between([own], likely=LIKELY_TECHNICIAN)
    nothing = Measured(0.0, 0.0)
    drawn = [shrunk(each, nothing, state.tau_technician) for each in own]
    state.effects = [Effect(each.mean, each.variance) for each in drawn]


def _foretold(rows: _Rows, state: _State, tame: Floats) -> _Foretold:
    if not len(rows.r):
        return _Foretold(rows.r, rows.r, rows.r)
    means, variances = _leaf_beliefs(rows, state)
    expected, spreads = means + _added(rows, state), _spreads(rows, state)
    leverage = np.minimum(variances / spreads**2, MOST_LEVERAGE)
    without = expected - (tame - expected) * leverage / (1 - leverage)
    return _Foretold(without, spreads / np.sqrt(1 - leverage), leverage)


def _learn_spread(rows: _Rows, state: _State, foretold: _Foretold) -> None:
    """The spread of like jobs, of all and then of each kind of work. A percentile tells about half of what a sum of
    squares would, so a job counts half."""
    if not len(rows.r):
        return
    left = (rows.r - foretold.mean) * np.sqrt(1 - foretold.leverage)
    everything = blended(spread_of(left) ** 2, len(left) / 2, prior=LIKELY_SPREAD**2, prior_count=SPREAD_JOBS)
    state.spread[""] = math.sqrt(everything)
    for kind, members in rows.kinds.items():
        own = spread_of(left[members]) ** 2
        state.spread[kind] = math.sqrt(blended(own, len(members) / 2, prior=everything, prior_count=KIND_JOBS))


def _model(rows: _Rows, state: _State, usual: Mapping[str, int]) -> Model:
    jobs: dict[Key, int] = defaultdict(int)
    for number, count in enumerate(np.bincount(rows.leaf, minlength=len(rows.leaves))):
        for length in range(LEVELS + 1):
            jobs[rows.leaves[number][:length]] += int(count)
    nodes = {key: _node(key, believed, state, jobs[key], usual) for key, believed in state.believed.items()}
    for kind in usual:
        unseen = Measured(state.believed[()].mean, state.believed[()].variance + state.taus[1] ** 2)
        nodes.setdefault((kind,), _node((kind,), unseen, state, 0, usual))
    technicians = dict(zip(rows.people, state.effects, strict=True))
    return Model(nodes, technicians, unknown=Effect(0.0, state.tau_technician**2))


def _node(key: Key, believed: Measured, state: _State, jobs: int, usual: Mapping[str, int]) -> Node:
    """The next job at a node may be of a kind, make or model never seen: their taus count."""
    kind = key[0] if key else ""
    unseen = sum(state.taus[level] ** 2 for level in range(len(key) + 1, LEVELS + 1))
    spread = state.spread.get(kind, state.spread[""])
    return Node(
        mean=believed.mean + (math.log(_usual(usual, kind)) if key else 0.0),
        spread=math.sqrt(believed.variance + unseen + spread**2),
        reach=t_reach(SPREAD_JOBS + (jobs / 2 if key else 0)),
        jobs=jobs,
    )
