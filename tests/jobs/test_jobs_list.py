"""Finding jobs: by number, customer, plate, phone; filtered; a page at a time."""

import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.actions import close_job
from jobs.models import Job
from jobs.states import KindOfWork
from shop.customers.actions import add_customer
from tests import cast
from tests.jobs.desk import at, booked, call, on_shift, shop
from vehicles.actions import add_vehicle

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def tuesday() -> None:
    shop()


@pytest.fixture
def desk() -> Client:
    return cast.signed_in(cast.office())


def found(desk: Client, query: str = "") -> list[int]:
    """The numbers on the page."""
    page = desk.get(f"/jobs{query}")
    assert page.status_code == 200
    return [int(number) for number in re.findall(r'<th scope="row"><a href="/jobs/(\d+)">', page.content.decode())]


def test_office_and_owner_see_the_list_and_a_technician_does_not() -> None:
    assert cast.signed_in(cast.office()).get("/jobs").status_code == 200
    assert cast.signed_in(cast.owner()).get("/jobs").status_code == 200
    assert cast.signed_in(cast.technician()).get("/jobs").status_code == 403
    assert Client().get("/jobs").status_code == 302
    assert cast.signed_in(cast.office()).post("/jobs").status_code == 405


def test_an_empty_list_says_how_to_begin_and_one_that_finds_nothing_how_to_go_on(desk: Client) -> None:
    assert "A job begins with a call." in desk.get("/jobs").content.decode()
    call()
    assert "No job matches" in desk.get("/jobs?q=nobody").content.decode()


def test_a_job_is_found_by_number_name_plate_and_phone(desk: Client) -> None:
    customer = add_customer(actor=None, name="Zoë Vandermeer", phones=[("+12015550123", "")])
    vehicle = add_vehicle(actor=None, customer=customer, plate="KLM 204")
    wanted = call(customer=customer, vehicle=vehicle, caller_phone="+12015550199")
    other = call(name="Somebody Else")
    for text in ("zoe vander", "klm204", "(201) 555-0123", "555 0199", str(wanted.number)):
        assert found(desk, f"?q={text}") == [wanted.number], text
    assert found(desk) == [other.number, wanted.number]


def test_the_list_is_filtered_by_state_kind_and_day(desk: Client) -> None:
    waiting = call(kind_of_work=KindOfWork.REKEY)
    busy = booked(on_shift(), at("10:00")).job
    off = close_job(call(called_at=at("23:30", "2026-03-04")), actor=None, state="called_off", reason="Found the key")
    assert found(desk, "?state=waiting") == [waiting.number]
    assert found(desk, "?state=open") == [busy.number, waiting.number]
    assert found(desk, "?kind=rekey") == [waiting.number]
    assert found(desk, "?since=2026-03-04") == [off.number]
    assert found(desk, "?until=2026-03-03") == [busy.number, waiting.number]
    assert found(desk, "?since=2026-03-04&until=2026-03-04") == [off.number]


@pytest.mark.parametrize(
    "query", ["?state=nowhere", "?since=never", "?before=x", "?after=-1", "?q=%00", "?until=9999-12-31"]
)
def test_nonsense_in_the_address_is_answered_with_a_page(desk: Client, query: str) -> None:
    call()
    assert desk.get(f"/jobs{query}").status_code == 200


def test_pages_follow_one_another_and_lose_nothing(desk: Client) -> None:
    customer = add_customer(actor=None, name="Ada Vermeer")
    numbers = [call(customer=customer, kind_of_work=KindOfWork.REKEY).number for _ in range(120)][::-1]
    seen, query, links = [], "?kind=rekey", []
    while query:
        seen.append(found(desk, query))
        page = desk.get(f"/jobs{query}").content.decode().replace("&amp;", "&")
        links.append({words: link for link, words in re.findall(r'href="(\?[^"]*)">(Later|Earlier)<', page)})
        query = links[-1].get("Earlier", "")
    assert [number for page in seen for number in page] == numbers
    assert [sorted(each) for each in links] == [["Earlier"], ["Earlier", "Later"], ["Later"]]
    assert found(desk, links[2]["Later"]) == seen[1]
    assert "kind=rekey" in links[0]["Earlier"]


def test_one_job_or_three_ask_the_database_the_same(desk: Client) -> None:
    counts = []
    for wanted in (1, 3):
        while Job.objects.count() < wanted:
            job = call(name="Ada Vermeer")
            vehicle = add_vehicle(actor=None, customer=job.customer, plate=f"KLM {job.number}")
            Job.objects.filter(pk=job.pk).update(vehicle=vehicle)
        for query in ("", "?q=vermeer"):
            found(desk)
            with CaptureQueriesContext(connection) as asked:
                assert len(found(desk, query)) == wanted
            counts.append(len(asked))
    assert counts == [3, 5, 3, 5]


def test_a_customers_jobs_are_a_piece_of_their_page(desk: Client) -> None:
    customer = add_customer(actor=None, name="Ada Vermeer")
    url = f"/customers/{customer.pk}/jobs"
    assert "No jobs yet." in desk.get(url).content.decode()
    numbers = [call(customer=customer).number for _ in range(9)]
    other = call()
    page = desk.get(url).content.decode()
    assert [int(number) for number in re.findall(r'href="/jobs/(\d+)"', page)] == numbers[:0:-1]
    assert "All their jobs" in page
    assert str(other.number) not in re.findall(r'href="/jobs/(\d+)"', page)
    assert desk.get("/customers/99999/jobs").status_code == 404
    assert cast.signed_in(cast.technician()).get(url).status_code == 403
