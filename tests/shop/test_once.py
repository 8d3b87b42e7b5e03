"""A form sent twice is taken in once, also when both copies arrive in the same instant."""

import threading
import time
from collections.abc import Callable
from uuid import uuid4

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import SuspiciousOperation
from django.db import connection
from django.http import HttpRequest
from django.test import RequestFactory

from shop.errors import Refused
from shop.models import Counter, SentForm
from shop.once import answered, once
from shop.staff.models import Person


def sent(key: str | None, *, path: str = "/book", user: Person | None = None) -> HttpRequest:
    request = RequestFactory().post(path, {} if key is None else {"form_key": key})
    request.user = user or AnonymousUser()
    return request


def counted(answers: list[str]) -> Callable[[], str]:
    """Work that leaves one row for each time it is done."""

    def do() -> str:
        answers.append(f"/done/{len(answers) + 1}")
        Counter.objects.create(series=f"done {len(answers)}")
        return answers[-1]

    return do


@pytest.mark.django_db
def test_second_copy_is_not_done_and_gets_the_same_answer() -> None:
    key, answers = str(uuid4()), list[str]()
    assert [once(sent(key), counted(answers)) for _ in range(3)] == ["/done/1"] * 3
    assert Counter.objects.count() == 1


@pytest.mark.django_db
def test_another_key_is_another_form() -> None:
    answers: list[str] = []
    assert [once(sent(str(uuid4())), counted(answers)) for _ in range(2)] == ["/done/1", "/done/2"]


@pytest.mark.django_db
def test_without_a_key_it_is_simply_done() -> None:
    answers: list[str] = []
    assert [once(sent(None), counted(answers)) for _ in range(2)] == ["/done/1", "/done/2"]


@pytest.mark.django_db
def test_refused_work_leaves_nothing_and_the_key_free() -> None:
    key = str(uuid4())

    def refuse() -> str:
        Counter.objects.create(series="half done")
        raise Refused("Bo has the day off.")

    with pytest.raises(Refused):
        once(sent(key), refuse)
    assert not Counter.objects.exists()
    assert once(sent(key), lambda: "/done") == "/done"


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/book", "/move"])
def test_key_of_somebody_else_or_another_page_is_refused(path: str) -> None:
    ines = Person.objects.create(email="ines@shop.example", name="Ines")
    bo = Person.objects.create(email="bo@shop.example", name="Bo")
    key = str(uuid4())
    once(sent(key, user=ines), lambda: "/secret")
    with pytest.raises(SuspiciousOperation):
        once(sent(key, path=path, user=bo if path == "/book" else ines), lambda: "/mine")


@pytest.mark.parametrize("key", ["", "7", "x" * 5000, "\x00"])
def test_malformed_key_is_refused(key: str) -> None:
    with pytest.raises(SuspiciousOperation):
        once(sent(key), lambda: "/done")


@pytest.mark.django_db(transaction=True)
def test_copies_in_the_same_instant_wait_for_the_first() -> None:
    key, copies = str(uuid4()), 6
    start = threading.Barrier(copies)
    done: list[str] = []
    answers: list[str] = []

    def slow() -> str:
        Counter.objects.create(series=f"by {threading.get_ident()}")
        time.sleep(0.3)
        done.append("x")
        return f"/done/{len(done)}"

    def copy() -> None:
        start.wait()
        try:
            answers.append(once(sent(key), slow))
        finally:
            connection.close()

    threads = [threading.Thread(target=copy) for _ in range(copies)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=20)
    assert answers == ["/done/1"] * copies
    assert Counter.objects.count() == 1
    assert SentForm.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_copy_is_done_when_the_first_fails_while_it_waits() -> None:
    key = str(uuid4())
    first_is_in = threading.Event()
    outcomes: list[str] = []

    def fail() -> str:
        first_is_in.set()
        time.sleep(0.3)
        raise Refused("The first one broke.")

    def first() -> None:
        try:
            once(sent(key), fail)
        except Refused:
            outcomes.append("refused")
        finally:
            connection.close()

    thread = threading.Thread(target=first)
    thread.start()
    first_is_in.wait(timeout=10)
    outcomes.append(once(sent(key), lambda: "/second"))
    thread.join(timeout=20)
    assert sorted(outcomes) == ["/second", "refused"]


@pytest.mark.django_db
def test_answer_given_before_is_known_for_the_same_form_alone() -> None:
    key = str(uuid4())
    assert answered(sent(key)) == answered(sent(None)) == ""
    once(sent(key), lambda: "/done")
    assert answered(sent(key)) == "/done"
    assert answered(sent(key, path="/elsewhere")) == answered(sent(str(uuid4()))) == ""
    with pytest.raises(SuspiciousOperation):
        answered(sent("no key"))
