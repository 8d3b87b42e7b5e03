"""Invented visits, made in a way that the model does not know, to see whether its ranges hold all the same.

Times are gamma, not log-normal; makes and models differ by factors that are not normal, some models are plain hard;
five minutes to unpack come on top; now and then there is trouble; one in a hundred forgets to tap the finish.
"""

from random import Random

from .model import Observation

# Kind: (mean minutes, shape of the gamma). The wider, the smaller the shape.
KINDS = {
    "lock_out": (26.0, 7.0),
    "duplicate_key": (30.0, 9.0),
    "all_keys_lost": (85.0, 6.0),
    "programming": (40.0, 4.0),
    "ignition_lock": (95.0, 5.0),
}
USUAL = {"lock_out": 30, "duplicate_key": 35, "all_keys_lost": 80, "programming": 45, "ignition_lock": 90}
WEIGHTS = (34, 20, 22, 14, 6)
TECHNICIANS = {"first": 0.82, "second": 0.95, "third": 1.05, "fourth": 1.22}
MAKES, MODELS = 9, 4


def invented_visits(count: int, *, seed: int) -> list[Observation]:
    """So many visits of an invented shop; the same for the same seed."""
    rng = Random(seed)
    makes = {f"make {n}": rng.uniform(0.75, 1.35) for n in range(MAKES)}
    models = {(make, f"model {n}"): _how_hard(rng) for make in makes for n in range(MODELS)}
    likings = {(kind, *each): rng.uniform(0.85, 1.18) for kind in KINDS for each in models}
    met = {each: 1 / (1 + number) ** 0.7 for number, each in enumerate(rng.sample(list(models), len(models)))}
    made = []
    for _ in range(count):
        kind = rng.choices(list(KINDS), WEIGHTS)[0]
        make, model = rng.choices(list(met), list(met.values()))[0]
        who = rng.choice(list(TECHNICIANS))
        factor = makes[make] * models[make, model] * likings[kind, make, model] * TECHNICIANS[who]
        made.append(Observation(_minutes(rng, kind, factor), kind, make, model, who))
    return made


def _how_hard(rng: Random) -> float:
    return rng.choice([1.0, 1.0, 1.0, 1.0, 1.6, 0.8])


def _minutes(rng: Random, kind: str, factor: float) -> int:
    mean, shape = KINDS[kind]
    minutes = 5 + rng.gammavariate(shape, mean / shape) * factor
    if rng.random() < 0.06:
        minutes += rng.expovariate(1 / 60)
    if rng.random() < 0.01:
        minutes += rng.uniform(600, 900)
    return max(1, round(minutes))
