"""Openings with their proof, record rules read, followed, copied and changed, papers by rule."""

from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.forms import Select
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from jobs.actions import allow_exception, ask_exception, choose_rule, copy_rule, open_guarded
from jobs.authority import current_rule, ship_rules
from jobs.forms.record_rules import RuleForm, entry_forms
from jobs.models import Opening, RecordRule, Visit
from jobs.record_rules import Fact
from jobs.states import KindOfWork
from shop.append_only import erasing
from shop.staff.models import Person
from tests.cast import office, once_key, owner, signed_in, technician
from tests.jobs.authority.rows import BORN, NUMBER, on_site, passed

pytestmark = pytest.mark.django_db
BIRTH = "jobs.authoritycheck.born_on"


@pytest.fixture
def boss() -> Person:
    return owner(name="Marta Rowe")


@pytest.fixture
def client(boss: Person) -> Client:
    return signed_in(boss)


@pytest.fixture
def visit() -> Visit:
    return on_site(technician(name="Jonas Brackwater", licence_number="PH-T 310"))


def opened(visit: Visit, boss: Person, times: int) -> None:
    for number in range(times):
        open_guarded(visit.job, actor=boss, kinds=[BIRTH], reason=f"Reason {number}")


@pytest.mark.parametrize("rows", [1, 3])
def test_openings_are_listed_with_the_outcome_of_the_proof(
    rows: int, client: Client, visit: Visit, boss: Person, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    opened(visit, boss, rows)
    client.get(reverse("jobs:openings"))
    with django_assert_num_queries(7):
        page = client.get(reverse("jobs:openings")).content.decode()
    assert f"{rows} opening{'s' if rows > 1 else ''}, none altered or removed." in page
    assert "Marta Rowe" in page and "Born on" in page


def test_exceptions_that_wait_stand_above_the_openings_until_answered(
    client: Client, visit: Visit, boss: Person
) -> None:
    ask_exception(visit.job, actor=visit.technician, exception="danger", reason="Child in the car")
    url = reverse("jobs:openings")
    assert "Exceptions that wait" in client.get(url).content.decode()
    assert "Child in the car" in client.get(url).content.decode()
    allow_exception(visit.job, actor=boss)
    assert "Exceptions that wait" not in client.get(url).content.decode()


def test_a_broken_chain_is_told_on_the_page_and_by_the_command(
    client: Client, visit: Visit, boss: Person, capsys: Any
) -> None:
    opened(visit, boss, 4)
    noted = Opening.objects.get(number=2).hash
    call_command("check_openings", noted=noted)
    assert "4 openings, none altered or removed." in capsys.readouterr().out
    with erasing():
        connection.cursor().execute("DELETE FROM jobs_opening WHERE number = 2")
    page = client.get(reverse("jobs:openings")).content.decode()
    assert "The chain is broken." in page and "Opening 2 is missing." in page
    with pytest.raises(CommandError, match=r"Opening 2 is missing\.\nThe hash that was noted"):
        call_command("check_openings", noted=noted)


@pytest.mark.parametrize("job", ["x", "9" * 40, "-1", "0"])
def test_any_job_can_be_asked_for(job: str, client: Client, visit: Visit, boss: Person) -> None:
    opened(visit, boss, 1)
    assert "Reason 0" not in client.get(reverse("jobs:openings"), {"job": job, "page": "zz"}).content.decode()
    assert "Reason 0" in client.get(reverse("jobs:openings"), {"job": visit.job.number}).content.decode()


def test_owner_pages_are_the_owners(client: Client, boss: Person) -> None:
    ours = copy_rule(current_rule(), actor=boss, name="Ours")
    for name, args in (("openings", []), ("rules", []), ("rule", [ours.pk]), ("edit_rule", [ours.pk])):
        url = reverse(f"jobs:{name}", args=args)
        assert client.get(url).status_code == 200
        for stranger in (office(), technician()):
            assert signed_in(stranger).get(url).status_code == 403
    assert client.get(reverse("jobs:rule", args=[987654])).status_code == 404


def test_rules_say_that_they_are_to_be_checked_and_which_is_followed(client: Client) -> None:
    page = client.get(reverse("jobs:rules")).content.decode()
    for told in (
        "California",
        "Maryland",
        "Texas",
        "6980.53",
        "12.5-301",
        "1702",
        "Check with your licensing authority",
    ):
        assert told in page
    assert page.count("The shop follows this") == 1
    texas = RecordRule.objects.get(key="texas")
    client.post(reverse("jobs:choose_rule", args=[texas.pk]), {"form_key": once_key()})
    assert current_rule() == texas
    shown = client.get(reverse("jobs:rule", args=[texas.pk])).content.decode()
    assert "Never on the receipt" in shown and "No time named" in shown


def sent(row: RecordRule, **changed: str) -> dict[str, Any]:
    """What the page of a rule sends when nothing was touched but `changed`."""
    told: dict[str, Any] = {"form_key": once_key()}
    for form in (RuleForm.of(row, None), *entry_forms(row, None)):
        for bound in form:
            value = bound.value()
            if value is None and isinstance(bound.field.widget, Select):
                value = next(iter(bound.field.widget.choices))[0]
            if value not in (None, "", False, []):
                told[bound.html_name] = "on" if value is True else value
    return {**told, **changed}


def test_a_copy_is_changed_into_a_new_version_and_the_old_one_stays(client: Client, boss: Person) -> None:
    ship_rules()
    shipped = RecordRule.objects.get(key="california")
    answer = client.post(reverse("jobs:copy_rule", args=[shipped.pk]), {"name": "Ours", "form_key": once_key()})
    ours = RecordRule.objects.get(name="Ours")
    assert answer["Location"] == reverse("jobs:edit_rule", args=[ours.pk])
    assert ours.rule.entries == shipped.rule.entries
    choose_rule(ours, actor=boss)
    url = reverse("jobs:edit_rule", args=[ours.pk])
    assert client.post(url, sent(ours)).status_code == 302
    assert RecordRule.objects.filter(name="Ours").count() == 1
    form = sent(ours, **{"e0-years": "4", "e0-when_phone": "before_key", "answer_by_post": "7"})
    client.post(url, form)
    newest = RecordRule.objects.get(key=ours.key, version=2)
    assert (newest.rule.entries[0].kept.years, newest.rule.answer_by_post) == (4, 7)  # type: ignore[union-attr]
    assert Fact.PHONE in newest.rule.entries[0].before_key
    ours.refresh_from_db()
    assert ours.rule.entries == shipped.rule.entries
    assert current_rule() == newest
    stale = client.post(url, sent(ours, name="Ours anew"))
    assert stale.status_code == 422 and "changed this rule meanwhile" in stale.content.decode()


def test_entries_are_added_and_taken_away(client: Client, boss: Person) -> None:
    ours = copy_rule(current_rule(), actor=boss, name="Ours")
    added = {"e1-thing": "building", "e1-kinds": ["rekey"], "e1-when_name": "before_finish", "e0-is_gone": "on"}
    client.post(reverse("jobs:edit_rule", args=[ours.pk]), sent(ours, **added))  # type: ignore[arg-type]
    (entry,) = RecordRule.objects.get(key=ours.key, version=2).rule.entries
    assert (entry.thing, entry.kinds, entry.before_finish) == ("building", {"rekey"}, {Fact.NAME})


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"name": ""}, "This field is required"),
        ({"years": "-1"}, "At least 0."),
        ({"years": "400"}, "between no time and 100 years"),
        ({"e0-is_gone": "on"}, "at least one entry"),
        ({"e0-receipt_name": "shown", "e1-thing": "vehicle", "e1-receipt_name": "hidden"}, "forbids printing it there"),
        ({"e0-thing": "boat"}, "Select a valid choice"),
    ],
)
def test_a_rule_that_cannot_be_followed_is_refused_with_words(
    changed: dict[str, str], words: str, client: Client, boss: Person
) -> None:
    ours = copy_rule(current_rule(), actor=boss, name="Ours")
    answer = client.post(reverse("jobs:edit_rule", args=[ours.pk]), sent(ours, **changed))
    assert answer.status_code == 422 and words in answer.content.decode()
    assert not RecordRule.objects.filter(version=2).exists()


def test_shipped_rules_are_copied_not_changed_and_names_are_had_once(client: Client) -> None:
    plain = current_rule()
    assert client.get(reverse("jobs:edit_rule", args=[plain.pk])).status_code == 404
    for name in ("Texas", "  texas ", ""):
        assert client.post(reverse("jobs:copy_rule", args=[plain.pk]), {"name": name}).status_code == 422


@pytest.mark.parametrize(
    ("key", "shown", "hidden"),
    [
        (
            "california",
            [NUMBER, "17 April 1981", "Jonas Brackwater", "PH-T 310", "<svg", "Plate or VIN"],
            ["Price told"],
        ),
        ("texas", ["How identity was confirmed", "<svg", "Driver&#x27;s licence"], [NUMBER, "1981"]),
        (
            "maryland",
            ["Address of the service", "Type of lock serviced", "PH-T 310", "VIN"],
            [NUMBER, "1981", 'class="signed"'],
        ),
        ("plain", ["<svg", "Registration"], [NUMBER, "1981"]),
    ],
)
def test_the_work_order_shows_and_hides_by_the_rule(
    key: str, shown: list[str], hidden: list[str], client: Client, visit: Visit
) -> None:
    ship_rules()
    choose_rule(RecordRule.objects.get(key=key), actor=None)
    passed(visit)
    url = reverse("jobs:work_order", args=[visit.job.number])
    if key != "maryland":
        asked = client.get(url).content.decode()
        assert "Why do you open this?" in asked and NUMBER not in asked
        client.post(url, {"reason": "Printed for the customer", "form_key": once_key()})
    page = client.get(url).content.decode()
    for words in shown:
        assert words in page
    for words in hidden:
        assert words not in page
    # Only what the paper shows was opened.
    kinds = {kind for row in Opening.objects.all() for kind in row.kinds}
    assert (BIRTH in kinds) == (key == "california")
    assert BORN.isoformat() not in page


def test_a_job_without_a_check_has_a_work_order_with_nobody_on_it(client: Client) -> None:
    visit = on_site(technician(), kind_of_work=KindOfWork.LOCK_OUT)
    page = client.get(reverse("jobs:work_order", args=[visit.job.number])).content.decode()
    assert "Nobody was checked on this job." in page
    assert not Opening.objects.exists()
