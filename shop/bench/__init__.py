"""Measures the program against its bounds: `python manage.py bench`.

Each app lists what it measures in its `figures.py` (found like tasks), so that this package knows none of them:

    @figure("day sheet, whole page, p95", bound="2 x B1, at most 12 queries")
    def day_sheet(bench: Bench) -> Result: ...

Most bounds are ratios to a baseline that the same server answers in the same run; page and baseline are asked in turn,
so that both feel the same noise. Baselines are views registered with `@baseline`; they are routed only where
BITTERN_BENCH is set, which only the bench does.
"""

from shop.bench.asking import Times
from shop.bench.registry import Result, baseline, figure
from shop.bench.run import Ask, Bench, baseline_ask

__all__ = ["Ask", "Bench", "Result", "Times", "baseline", "baseline_ask", "figure"]
