"""What is measured of the page that takes a call."""

from django.urls import reverse

from jobs.figures import against_rows, the_day
from shop.bench import Bench, Result, figure


@figure("call page, p95", bound="1.5 x B1", order=13)
def call_page(bench: Bench) -> Result:
    """An empty call page, as the telephone rings."""
    return against_rows(bench, reverse("billing:take_call"), the_day(bench).office, most=1.5)
