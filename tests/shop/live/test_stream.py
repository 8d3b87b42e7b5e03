"""The stream of news as a browser hears it, from the site as it really runs."""

import http.client
import json
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.conf import settings

from jobs.actions import add_note
from shop.staff.actions import switch_off
from shop.staff.models import Person
from tests import cast
from tests.jobs.round_rows import visit_of

pytestmark = pytest.mark.django_db(transaction=True)
MORE_THAN_THE_POOL = 25


@contextmanager
def listening(live: str, who: Person | str | None, method: str = "GET") -> Iterator[http.client.HTTPResponse]:
    """The answer of `/live` to a person, to a session's key, or to nobody."""
    key = cast.signed_in(who).session.session_key if isinstance(who, Person) else who
    headers = {"Cookie": f"{settings.SESSION_COOKIE_NAME}={key}"} if key else {}
    address = urlsplit(live)
    connection = http.client.HTTPConnection(address.hostname or "", address.port, timeout=10)
    connection.request(method, "/live", headers=headers)
    with closing(connection), connection.getresponse() as answer:
        yield answer


def next_news(stream: http.client.HTTPResponse) -> dict[str, Any]:
    while not (line := stream.readline().decode()).startswith("data: "):
        assert line, "the stream ended"
    news: dict[str, Any] = json.loads(line.removeprefix("data: "))
    return news


def test_the_office_hears_of_a_change_as_soon_as_it_stands(live: str) -> None:
    visit = visit_of(cast.technician())
    with listening(live, cast.office()) as stream:
        assert stream.headers["Content-Type"].startswith("text/event-stream")
        assert next_news(stream) == {"topic": "all"}
        add_note(visit.job, actor=None, words="Gate code 1234, a name, a plate", visit=visit)
        assert next_news(stream) == {"topic": "jobs", "job": visit.job.number, "people": [visit.technician_id]}


def test_a_technician_hears_of_own_visits_only(live: str) -> None:
    me, other = cast.technician(), cast.technician()
    mine, theirs = visit_of(me), visit_of(other)
    with listening(live, me) as stream:
        next_news(stream)
        add_note(theirs.job, actor=None, words="Not mine", visit=theirs)
        add_note(mine.job, actor=None, words="Mine", visit=mine)
        assert next_news(stream)["job"] == mine.job.number


def test_nobody_and_switched_off_people_hear_nothing(live: str) -> None:
    with listening(live, None) as stream:
        assert stream.status == 401


def test_the_session_of_a_switched_off_person_hears_nothing(live: str) -> None:
    gone = cast.technician()
    key = cast.signed_in(gone).session.session_key
    switch_off(gone, actor=cast.owner())
    with listening(live, key) as stream:
        assert stream.status == 401


def test_only_reading_is_answered(live: str) -> None:
    with listening(live, cast.office(), method="POST") as stream:
        assert stream.status == 405


def test_open_streams_keep_no_connection_from_the_pages(live: str) -> None:
    person = cast.office()
    with ExitStack() as opened:
        streams = [opened.enter_context(listening(live, person)) for _ in range(MORE_THAN_THE_POOL)]
        for stream in streams:
            next_news(stream)
        address = urlsplit(live)
        with closing(http.client.HTTPConnection(address.hostname or "", address.port, timeout=5)) as page:
            page.request("GET", "/sign-in")
            assert page.getresponse().status == 200
        add_note(visit_of(cast.technician()).job, actor=None, words="Heard by all")
        assert all(next_news(stream)["topic"] in {"jobs", "all"} for stream in streams)
