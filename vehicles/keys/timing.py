"""How long the heavy computations take here: `python -m vehicles.keys.timing`."""

from __future__ import annotations

import sys
from collections.abc import Callable
from itertools import islice
from time import perf_counter

from .chains import plan_blanks
from .completions import completions, iter_completions
from .counting import count_bittings
from .decode import decode
from .system import KeySystem
from .trials import after, plan_trials
from .units import even_depths, even_positions


def _system(cuts: int, labels: str, macs: int | None, *rules: dict[str, object]) -> KeySystem:
    return KeySystem(
        name="Timing",
        positions_mm=even_positions("4", "2.5", cuts),
        root_depths_mm=even_depths(labels, "8", "0.4"),
        macs=macs,
        rules=rules,
    )


def measurements() -> dict[str, Callable[[], object]]:
    """Each computation by the words it is reported with."""
    big = _system(10, "0123456789", 7)
    ruled = _system(10, "0123456789", 7, {"rule": "even_sum"}, {"rule": "max_equal_run", "n": 3})
    part = _system(8, "123456", None)
    known = [*"1234", None, None, None, None]
    many = list(islice(iter_completions(_system(6, "123456", None), [None] * 6), 5000))
    return {
        "count 10 cuts by 10 depths, MACS 7": lambda: count_bittings(big),
        "the same with two series rules": lambda: count_bittings(ruled),
        "complete 4 unknown cuts by 6 depths and plan the fewest blanks": lambda: plan_blanks(
            part, completions(part, known)
        ),
        "the same with the order of trying and one answer": lambda: after(
            plan_trials(part, completions(part, known)), "does not turn"
        ),
        "fewest blanks for 5,000 candidates": lambda: plan_blanks(_system(6, "123456", None), many),
        "decode 8 readings, all between two depths": lambda: decode(part, ["7.4"] * 8),
    }


def main() -> None:
    for words, run in measurements().items():
        start = perf_counter()
        run()
        sys.stdout.write(f"{(perf_counter() - start) * 1000:8.1f} ms  {words}\n")


if __name__ == "__main__":
    main()
