"""Margins as PostgreSQL adds them up, against the plain arithmetic of `billing.margin` and figures by hand."""

import csv
import io
from datetime import date, timedelta
from decimal import Decimal
from random import Random
from typing import Any

import pytest
from pytest_django import DjangoAssertNumQueries

from billing import actions as billing
from billing.bar import bar_of
from billing.earnings import cuts_by_kind, cuts_by_month, jobs_between, margin_of, month_bounds, with_margin
from billing.margin import JobMargin, job_margin, sum_margins
from billing.margin_lines import drive_and_site_minutes, margin_lines
from billing.models import Invoice
from jobs import actions as jobs
from jobs.models import Job, PartUse, Visit
from jobs.states import MAKES_KEYS, KindOfWork
from shop.models import Shop
from shop.staff.actions import change_person
from shop.staff.models import Person
from shop.stock import actions as stock
from shop.stock.models import CostSlice
from tests.billing import make
from tests.billing.test_invoice_pages import words
from tests.billing.worked import finished, issued, line, stocked, van
from tests.cast import office, owner, signed_in, technician

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture(autouse=True)
def _shop() -> None:
    make.shop(card_fee_percent=D("1.75"), travel_cost_per_km=D("0.725"))
    make.price_book()


def earned(job: Job) -> JobMargin:
    return margin_of(with_margin(Job.objects.all()).get(pk=job.pk))


def test_margin_of_a_job_is_the_price_less_each_cost() -> None:
    tech = technician(hourly_cost=D("36.00"))
    blank = stocked(van(tech), cost="12.40")
    job = finished(tech, told=[line("210.00")], used=[(blank, 1)], spoiled=[(blank, 2)], drive_km="23.6")
    invoice = issued(job)
    billing.record_payment(invoice, actor=None, method="card", amount=invoice.total)
    margin = earned(job)
    # Net of tax: 210.00 and the blank beyond the price told at 42.00. An hour (20 min road, 40 site) at 36.00;
    # 23.6 km at 0.725 is 17.11; 1.75 % of 265.97 (252.00, 5 % of 210.00, 8.25 % of 42.00) is 4.654.
    assert margin == JobMargin(D("252.00"), D("12.40"), D("24.80"), D("36.00"), D("17.11"), D("4.65"))
    assert margin.left == D("157.04")
    assert [each.cost for each in margin_lines(job, margin)] == [
        D("12.40"),
        D("24.80"),
        D("36.00"),
        D("17.11"),
        D("4.65"),
    ]


def test_a_raise_and_another_rate_leave_what_was_earned_before() -> None:
    tech = technician(hourly_cost=D("36.00"))
    job = finished(tech, told=[line("210.00")], drive_km="23.6")
    before = earned(job)
    change_person(tech, actor=owner(), hourly_cost=D("60.00"))
    make.shop(travel_cost_per_km=D("2.000"))
    visit = job.visits.get()
    jobs.correct_times(
        visit,
        actor=None,
        set_off_at=visit.set_off_at,
        arrived_at=visit.arrived_at,
        finished_at=make.NOON + timedelta(minutes=120),
    )
    # Two hours now at the 36.00 of the day of the work; 23.6 km at its 0.725 is 17.11.
    assert (before.labour, before.travel) == (D("36.00"), D("17.11"))
    assert (earned(job).labour, earned(job).travel) == (D("72.00"), D("17.11"))
    behind = [each.behind for each in margin_lines(job, earned(job))]
    assert [("36.00" in behind[0], "60.00" in behind[0]), behind[1]] == [(True, False), "23.6 km at 0.725 USD"]
    # The next job of the same technician costs what holds now: an hour at 60.00, 10 km at 2.00.
    later = earned(finished(Person.objects.get(pk=tech.pk), start=make.NOON + timedelta(days=1), drive_km="10.0"))
    assert (later.labour, later.travel) == (D("60.00"), D("20.00"))


def test_cost_is_first_in_first_out_over_two_receipts() -> None:
    # FIFO worked example (R package FinCal, cogs): opening 2 at 2, buys 3 at 3 and 5 at 5, 7 used: cost 23.
    tech = technician()
    place = van(tech)
    blank = stocked(place, cost="2.00", quantity=2)
    for quantity, cost in ((3, "3.00"), (5, "5.00")):
        stock.receive(blank, actor=None, place=place, quantity=quantity, unit_cost=D(cost))
    assert earned(finished(tech, used=[(blank, 7)])).parts == D("23.00")


def test_part_taken_back_costs_nothing_and_a_later_bill_corrects_the_cost() -> None:
    tech = technician()
    place = van(tech)
    blank = stocked(place, cost="10.00", quantity=1)
    job = finished(tech, used=[(blank, 1), (blank, 1)])
    assert earned(job).parts == D("20.00"), "one beyond the books, at the last cost"
    stock.receive(blank, actor=None, place=place, quantity=5, unit_cost=D("13.00"))
    assert earned(job).parts == D("23.00")
    jobs.take_back_part(PartUse.objects.filter(job=job).first(), actor=None)  # type: ignore[arg-type]
    assert earned(job).parts == D("13.00")


def test_job_without_invoice_counts_its_costs_and_is_marked() -> None:
    start, end = month_bounds(date(2026, 3, 1))
    job = finished(told=[line()])
    assert [(cut.jobs, cut.not_invoiced, cut.margin.price) for cut in cuts_by_kind(jobs_between(start, end))] == [
        (1, 1, 0)
    ]
    billing.draft_invoice(job, actor=None)
    assert [(cut.not_invoiced, cut.margin.price) for cut in cuts_by_kind(jobs_between(start, end))] == [(1, D("80.00"))]
    issued(job)
    assert [(cut.not_invoiced, cut.margin.price) for cut in cuts_by_kind(jobs_between(start, end))] == [(0, D("80.00"))]


def test_job_turned_away_but_invoiced_counts_in_the_month_of_its_invoice() -> None:
    job = make.job()
    billing.tell_price(job, actor=None, lines=[line("45.00", "Call-out")], accepted_by="Ada")
    jobs.close_job(job, actor=None, state="turned_away", reason="No papers.")
    issued(job, at=make.NOON.replace(month=4, day=2))
    april = cuts_by_kind(jobs_between(*month_bounds(date(2026, 4, 9))))
    assert [(cut.jobs, cut.margin.price) for cut in april] == [(1, D("45.00"))]


def test_month_begins_at_midnight_of_the_shops_zone() -> None:
    make.shop(time_zone="America/New_York")
    # 1 April 03:30 UTC is 31 March 23:30 in New York (UTC-4 in summer, tz database).
    finished(start=make.NOON.replace(month=4, day=1, hour=2, minute=30))
    assert not jobs_between(*month_bounds(date(2026, 4, 1))).exists()
    (march,) = cuts_by_month(jobs_between(*month_bounds(date(2026, 3, 1))))
    assert (march.name.year, march.name.month, march.jobs) == (2026, 3, 1)


def _some_month(rng: Random) -> None:
    """Twenty jobs of odd figures: seconds, fees, spoiled blanks, layers whose unit cost does not come out even."""
    for number in range(4):
        tech = technician(hourly_cost=D(rng.randrange(2000, 5000)) / 100)
        blank = stocked(van(tech), cost=f"{rng.randrange(100, 4000)}.333", quantity=7, number=f"TB-{number}")
        for turn in range(5):
            start = make.NOON + timedelta(days=turn, hours=rng.randrange(6), minutes=rng.randrange(60))
            job = finished(
                tech,
                told=[line(f"{rng.randrange(5000, 40000) / 100:.2f}")],
                used=[(blank, rng.randrange(1, 3))],
                spoiled=[(blank, 1)] if rng.random() < 0.4 else [],
                drive_km=f"{rng.randrange(0, 800) / 10}",
                start=start,
                kind_of_work=rng.choice(sorted(set(KindOfWork.values) - MAKES_KEYS)),
            )
            visit = job.visits.get()
            assert visit.arrived_at and visit.finished_at and visit.set_off_at
            jobs.correct_times(
                visit,
                actor=None,
                set_off_at=visit.set_off_at + timedelta(seconds=rng.randrange(600)),
                arrived_at=visit.arrived_at + timedelta(seconds=rng.randrange(600)),
                finished_at=visit.finished_at + timedelta(seconds=rng.randrange(6000)),
            )
            if rng.random() < 0.8:
                invoice = issued(job, at=start + timedelta(hours=3))
                part = D(rng.randrange(1, int(invoice.total * 100))) / 100
                billing.record_payment(invoice, actor=None, method="card", amount=part)


def _exported() -> str:
    """The raw figures behind the margins as CSV: nothing added up, nothing rounded."""
    out = io.StringIO()
    rows = csv.writer(out)
    for job in Job.objects.all():
        invoice = Invoice.objects.filter(job=job).first()
        rows.writerow([job.number, "price", invoice.net if invoice else 0, ""])
        for part in CostSlice.objects.filter(movement__use__job=job).select_related("movement"):
            rows.writerow([job.number, part.movement.kind, part.cost, ""])
        for visit in Visit.objects.filter(job=job).select_related("technician"):
            rows.writerow([job.number, "labour", sum(drive_and_site_minutes(visit)), visit.technician.hourly_cost])
            rows.writerow([job.number, "km", visit.drive_km or 0, ""])
        for fee in invoice.payment_parts.select_related("payment") if invoice else []:
            rows.writerow([job.number, "fee", fee.payment.card_fee, ""])
    return out.getvalue()


def _recomputed(exported: str) -> dict[int, JobMargin]:
    """Margins worked out anew from the export by the pure core."""
    jobs_found: dict[int, list[tuple[str, Decimal, str]]] = {}
    for number, what, amount, rate in csv.reader(io.StringIO(exported)):
        jobs_found.setdefault(int(number), []).append((what, D(amount), rate))

    def of(rows: list[tuple[str, Decimal, str]], what: str) -> list[Decimal]:
        return [amount for name, amount, _ in rows if name == what]

    return {
        number: job_margin(
            price=sum(of(rows, "price"), D(0)),
            currency="USD",
            parts=of(rows, "used"),
            spoiled=of(rows, "spoiled"),
            labour=[(amount, D(rate)) for name, amount, rate in rows if name == "labour"],
            travel=(sum(of(rows, "km"), D(0)), D("0.725")),
            card_fees=of(rows, "fee"),
        )
        for number, rows in jobs_found.items()
    }


def test_month_equals_its_jobs_and_the_pure_arithmetic_to_the_cent() -> None:
    _some_month(Random(7))
    month = jobs_between(*month_bounds(date(2026, 3, 1)))
    each = {job.number: margin_of(job) for job in month}
    assert each == _recomputed(_exported())
    whole = sum_margins(each.values())
    assert sum_margins(cut.margin for cut in cuts_by_kind(month)) == whole
    assert [cut.margin for cut in cuts_by_month(month)] == [whole]
    for job in month:
        assert sum((row.cost for row in margin_lines(job, each[job.number])), D(0)) == each[job.number].cost


def test_bar_starts_at_the_price_and_ends_at_what_is_left() -> None:
    bar = bar_of(JobMargin(D(200), D(20), D(10), D(60), D(8), D(2)))
    assert [(step.name, step.x, step.end) for step in bar.steps] == [
        ("price", 0, 1000),
        ("parts", 900, 1000),
        ("spoiled", 850, 900),
        ("labour", 550, 850),
        ("travel", 510, 550),
        ("card_fees", 500, 510),
        ("left", 0, 500),
    ]


def test_bar_of_a_loss_reaches_left_of_nothing() -> None:
    bar = bar_of(JobMargin(D(100), D(150)))
    assert (bar.zero, bar.steps[0].x, bar.steps[0].end) == (333, 333, 1000)
    assert (bar.steps[-1].x, bar.steps[-1].end, bar.steps[-1].percent) == (0, 333, -50)
    assert bar_of(JobMargin()).steps[0].width == 0


def test_margins_page_shows_the_month_its_kinds_and_each_job() -> None:
    job = finished(told=[line()])
    issued(job)
    desk = signed_in(owner())
    page = words(desk.get("/margins?month=2026-03"))
    assert "March 2026" in page and "Lock-out 1 80.00" in page
    # 80.00 less one hour at 36.00.
    assert "44.00 USD 55.0 %" in page
    assert "20 min on the road and 40 min on site at 36.00 USD an hour" in words(
        desk.get(f"/margins/jobs/{job.number}")
    )
    assert "No job was finished in this month" in words(desk.get("/margins?month=2025-01"))


@pytest.mark.parametrize("month", ["", "2026-13", "0000-01", "9999-12", "then", "2026-03-01"])
def test_month_that_is_none_shows_the_present_one(month: str) -> None:
    assert signed_in(owner()).get("/margins", {"month": month, "kind": "x", "page": "y"}).status_code == 200


def test_margins_are_the_owners_alone() -> None:
    job = finished()
    for path in ("/margins", f"/margins/jobs/{job.number}"):
        assert signed_in(office()).get(path).status_code == 403
        assert signed_in(technician()).get(path).status_code == 403
    assert signed_in(owner()).get("/margins/jobs/999").status_code == 404


def test_margins_ask_the_database_as_often_for_three_jobs_as_for_one(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    desk: Any = signed_in(owner())
    for number in range(3):
        issued(finished(told=[line()], start=make.NOON + timedelta(hours=3 * number)))
        if number != 1:
            Shop.current()
            # Session, person, kinds, months, count of the jobs, the jobs.
            with django_assert_num_queries(6):
                desk.get("/margins?month=2026-03")
