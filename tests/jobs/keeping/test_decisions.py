"""Every model field has a retention decision, and the check says exactly what lacks."""

import pytest
from django.apps import apps
from django.core.checks import run_checks
from django.core.management import CommandError
from django.db.models import Model

from jobs.models import Job, KeyWork, Photo
from jobs.retention.erasing import OF_JOB, OF_RECORD
from shop.keeping.decisions import BadDecisions, Decision, Keep, parse, read_decisions, undecided
from shop.running.prepare import check_retention


def faults(decisions: list[Decision]) -> list[str]:
    return undecided(decisions, apps.get_models(include_auto_created=True))


def without(model: str, field: str) -> list[Decision]:
    return [
        Decision(
            each.model, each.fields - {field} if each.model == model else each.fields, each.keep, each.is_guarded, ""
        )
        for each in read_decisions()
    ]


def test_every_field_of_the_program_is_decided() -> None:
    assert faults(read_decisions()) == []
    assert run_checks(tags=["retention"]) == []


def test_an_undecided_field_is_told_with_what_to_add() -> None:
    (words,) = faults(without("jobs.Photo", "words"))
    assert "jobs.Photo: nobody has decided how long to keep words" in words
    assert 'Add to jobs/retention.toml: [[Photo]] fields = ["words"]' in words


def test_the_program_does_not_start_with_an_undecided_field(monkeypatch: pytest.MonkeyPatch) -> None:
    check_retention()
    monkeypatch.setattr("shop.keeping.checks.read_decisions", lambda: without("jobs.Photo", "words"))
    with pytest.raises(CommandError, match="nobody has decided how long to keep words"):
        check_retention()


def test_a_model_without_any_decision_is_told() -> None:
    (words,) = faults([each for each in read_decisions() if each.model != "jobs.CallDraft"])
    assert all(name in words for name in ("key", "started_by", "typed", "started_at", "changed_at"))


def test_a_model_of_another_package_is_decided_in_the_sites_own_file() -> None:
    (words,) = faults(without("sessions.Session", "session_data"))
    assert 'Add to shop/retention.toml: [["sessions.Session"]]' in words


def test_what_is_decided_must_be_there() -> None:
    gone = Decision("jobs.Job", frozenset({"moon"}), Keep.FOR_EVER, False, "")
    lost = Decision("jobs.Moon", frozenset({"phase"}), Keep.FOR_EVER, False, "")
    assert [("moon" in words, "Moon" in words) for words in faults([*read_decisions(), gone, lost])] == [
        (True, False),
        (False, True),
    ]


def test_a_field_is_decided_once() -> None:
    again = Decision("jobs.Job", frozenset({"number"}), Keep.DAYS, False, "")
    assert faults([*read_decisions(), again]) == ["jobs.Job.number is decided more than once in retention.toml."]


def test_sealed_fields_are_called_guarded_and_others_not() -> None:
    turned = [
        Decision(each.model, each.fields, each.keep, not each.is_guarded, "")
        for each in read_decisions()
        if each.model in {"jobs.KeyWork", "jobs.Job"}
    ]
    told = undecided(turned, [KeyWork, Job])
    assert "jobs.KeyWork.bitting belongs in a group with guarded = true in retention.toml." in told
    assert "jobs.Job.street does not belong in a group with guarded = true in retention.toml." in told
    assert undecided([each for each in read_decisions() if each.model == "jobs.Photo"], [Photo]) == []


@pytest.mark.parametrize(
    "text",
    ["[[Job]", '[[Job]]\nfields = ["a"]\nkeep = "sometimes"\nwhy = ""', '[[Job]]\nkeep = "days"\nwhy = ""', "Job = 3"],
)
def test_a_file_that_cannot_be_read_is_named(text: str) -> None:
    with pytest.raises(BadDecisions, match=r"jobs/retention\.toml"):
        list(parse(text, app="jobs", source="jobs/retention.toml"))


@pytest.mark.parametrize(
    ("keep", "emptied"),
    [(Keep.RECORD_RULE, OF_RECORD), (Keep.UNTIL_ERASED, OF_JOB)],
)
def test_what_is_decided_is_what_is_emptied(keep: Keep, emptied: dict[type[Model], dict[str, object]]) -> None:
    """Photos of papers go as rows with their files, not as columns."""
    decided: dict[str, set[str]] = {}
    for decision in read_decisions():
        if decision.keep == keep and decision.model.startswith("jobs.") and "Photo" not in decision.model:
            decided.setdefault(decision.model, set()).update(decision.fields)
    assert decided == {model._meta.label: set(values) for model, values in emptied.items()}
