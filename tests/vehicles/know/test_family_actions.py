from dataclasses import replace
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from shop.errors import Refused
from tests.cast import office, owner, technician
from tests.vehicles.know.made import CONTENT, STEPS, brisk, in_force
from vehicles.actions import (
    accept_version,
    add_procedure,
    add_variant,
    add_vehicle,
    change_family,
    change_vehicle,
    propose_version,
    reject_version,
    set_family,
    switch_family,
)
from vehicles.errors import ChangedMeanwhile, NotAProcedure
from vehicles.models import Procedure, ProcedureStep, ProcedureVersion, VehicleFamily
from vehicles.procedure_content import StepContent
from vehicles.reads_know import content_of

pytestmark = pytest.mark.django_db

SLOWER = replace(CONTENT, steps=(*STEPS[:2], replace(STEPS[2], seconds=1200), STEPS[3]))


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"year_from": None}, "year_from"),
        ({"year_until": None}, "year_until"),
        ({"year_from": 2019}, "year_until"),
        ({"year_from": 1812}, "year_from"),
        ({"year_until": 2999}, "year_until"),
        ({"make": " "}, "make"),
        ({"name": ""}, "name"),
        ({"model_names": [" "]}, "model_names"),
        ({"vin_pattern": "2Z9IO"}, "vin_pattern"),
        ({"vin_pattern": "2Z9*"}, "vin_pattern"),
        ({"key_capacity": 0}, "key_capacity"),
    ],
)
def test_family_that_says_too_little_is_refused(facts: dict[str, Any], field: str) -> None:
    with pytest.raises(Refused) as refused:
        brisk(**facts)
    assert refused.value.field == field
    assert not VehicleFamily.objects.exists()


def test_name_is_once_in_a_make_whatever_its_capitals() -> None:
    brisk()
    with pytest.raises(Refused, match="already"):
        brisk(name="BRISK", make="halden")
    assert brisk(make="Norrik").pk


def test_changed_family_keeps_what_is_not_told() -> None:
    family = change_family(brisk(market="North", vin_pattern="2z9??"), actor=None, year_until=2020)
    family.refresh_from_db()
    assert (family.market, family.vin_pattern, family.year_until) == ("North", "2Z9", 2020)


def test_database_refuses_a_family_with_years_in_the_wrong_order() -> None:
    family = brisk()
    with pytest.raises(IntegrityError, match="family_years_in_order"), transaction.atomic():
        VehicleFamily.objects.filter(pk=family.pk).update(year_until=2001)


def test_vehicle_finds_its_family_and_finds_it_anew_when_it_changes() -> None:
    first, second = brisk(), brisk(name="Brisk, second shape", year_from=2019, year_until=2024)
    car = add_vehicle(actor=None, plate="KLM 204", make="halden", model="brisk", year=2015)
    assert (car.family, car.family_is_confirmed) == (first, False)
    assert change_vehicle(car, actor=None, year=2020).family == second
    assert change_vehicle(car, actor=None, year=1999).family is None
    assert change_vehicle(car, actor=None, colour="red").family is None


def test_doubtful_match_is_not_assumed() -> None:
    brisk()
    brisk(name="Brisk, second shape", year_from=2018, year_until=2024)
    assert add_vehicle(actor=None, make="Halden", model="Brisk", year=2018).family is None
    assert add_vehicle(actor=None, make="Halden", model="Brisk").family is None


def test_family_out_of_use_is_not_found() -> None:
    switch_family(brisk(), actor=None, on=False)
    assert add_vehicle(actor=None, make="Halden", model="Brisk", year=2015).family is None


def test_what_somebody_saw_stays_when_facts_change() -> None:
    brisk()
    other = brisk(name="Brisk, second shape", year_from=2019, year_until=2024)
    variant = add_variant(other, actor=None, name="Late", sign="Two lights")
    car = add_vehicle(actor=None, make="Halden", model="Brisk", year=2018)
    set_family(car, actor=technician(), family=other, variant=variant)
    car = change_vehicle(car, actor=None, year=2015)
    assert (car.family, car.variant, car.family_is_confirmed) == (other, variant, True)


def test_variant_of_another_family_is_refused() -> None:
    first, other = brisk(), brisk(name="Moor")
    variant = add_variant(other, actor=None, name="Late", sign="Two lights")
    car = add_vehicle(actor=None, make="Halden", model="Brisk", year=2015)
    with pytest.raises(Refused):
        set_family(car, actor=None, family=first, variant=variant)
    with pytest.raises(Refused):
        add_procedure(first, actor=owner(), kind_of_work="lock_out", content=CONTENT, variant=variant)


def test_variant_without_a_sign_or_with_a_taken_name_is_refused() -> None:
    family = brisk()
    add_variant(family, actor=None, name="Late", sign="Two lights")
    for name, sign in (("Early", " "), ("late", "One light")):
        with pytest.raises(Refused):
            add_variant(family, actor=None, name=name, sign=sign)


def test_accepted_version_supersedes_the_one_before_and_old_ones_stay() -> None:
    boss, author = owner(), technician()
    procedure = in_force(brisk(), boss)
    first = procedure.versions.get()
    second = propose_version(procedure, actor=author, content=SLOWER, based_on=first)
    in_use = Procedure.objects.for_work(procedure.family, "all_keys_lost")
    assert in_use == procedure
    assert procedure.versions.accepted().get() == first
    accept_version(second, actor=boss)
    states = list(procedure.versions.values_list("number", "state"))
    assert states == [(1, "superseded"), (2, "accepted")]
    assert content_of(first) == CONTENT
    assert content_of(second) == SLOWER


def test_variants_own_procedure_comes_before_the_familys() -> None:
    boss, family = owner(), brisk()
    late = add_variant(family, actor=None, name="Late", sign="Two lights")
    early = add_variant(family, actor=None, name="Early", sign="One light")
    common, own = in_force(family, boss), in_force(family, boss, variant=late)
    find = Procedure.objects.for_work
    assert find(family, "all_keys_lost", late) == own
    assert find(family, "all_keys_lost", early) == common
    assert find(family, "all_keys_lost") == common
    assert find(family, "rekey", late) is None


def test_second_procedure_for_the_same_work_is_refused() -> None:
    boss, family = owner(), brisk()
    in_force(family, boss)
    with pytest.raises(Refused, match="already"):
        add_procedure(family, actor=boss, kind_of_work="all_keys_lost", content=CONTENT)


def test_content_with_faults_is_refused_and_nothing_is_kept() -> None:
    wrong = replace(CONTENT, steps=(StepContent("wait", "Stand by", seconds=30 * 3600),))
    with pytest.raises(NotAProcedure, match="Step 1"):
        add_procedure(brisk(), actor=technician(), kind_of_work="all_keys_lost", content=wrong)
    assert not Procedure.objects.exists()


def test_second_author_is_told_what_came_meanwhile() -> None:
    boss, author = owner(), technician()
    procedure = in_force(brisk(), boss)
    first = procedure.versions.get()
    propose_version(procedure, actor=author, content=SLOWER, based_on=first, seen_number=1)
    with pytest.raises(ChangedMeanwhile, match=f"version 2 by {author}, proposed, based on version 1") as changed:
        propose_version(procedure, actor=boss, content=SLOWER, based_on=first, seen_number=1)
    assert [each.number for each in changed.value.versions] == [2]
    assert propose_version(procedure, actor=boss, content=SLOWER, based_on=first, seen_number=2).number == 3


def test_proposal_made_from_an_older_version_is_accepted_only_knowingly() -> None:
    boss, author = owner(), technician()
    procedure = in_force(brisk(), boss)
    first = procedure.versions.get()
    second = propose_version(procedure, actor=author, content=SLOWER, based_on=first)
    third = propose_version(procedure, actor=author, content=CONTENT, based_on=first)
    accept_version(second, actor=boss)
    with pytest.raises(Refused, match="based on version 1, and version 2 is in force"):
        accept_version(third, actor=boss)
    assert accept_version(third, actor=boss, knows_of=2).state == "accepted"


def test_who_may_accept() -> None:
    boss, desk, author = owner(), office(), technician()
    family = brisk()
    by_author = add_procedure(family, actor=author, kind_of_work="rekey", content=CONTENT).versions.get()
    by_desk = add_procedure(family, actor=desk, kind_of_work="other", content=CONTENT).versions.get()
    for person, version in ((author, by_author), (technician(), by_author), (desk, by_desk)):
        with pytest.raises(Refused):
            accept_version(version, actor=person)
    assert accept_version(by_author, actor=desk).decided_by == desk
    assert accept_version(by_desk, actor=boss).decided_by == boss
    with pytest.raises(Refused, match="accepted already"):
        accept_version(by_desk, actor=boss)


def test_rejection_needs_a_reason_and_the_author_may_take_it_back() -> None:
    author, other = technician(), technician()
    version = add_procedure(brisk(), actor=author, kind_of_work="rekey", content=CONTENT).versions.get()
    with pytest.raises(Refused, match="Say why"):
        reject_version(version, actor=owner(), reason=" ")
    with pytest.raises(Refused):
        reject_version(version, actor=other, reason="No")
    assert reject_version(version, actor=author, reason="Mistyped").state == "rejected"


@pytest.mark.parametrize(
    "change",
    [
        lambda version: ProcedureVersion.objects.filter(pk=version.pk).update(source="Somewhere else"),
        lambda version: ProcedureVersion.objects.filter(pk=version.pk).update(state="proposed", decided_at=None),
        lambda version: ProcedureVersion.objects.filter(pk=version.pk)._raw_delete("default"),
        lambda version: version.steps.update(words="Something else"),
        lambda version: version.steps.all()[0].delete(),
        lambda version: ProcedureStep.objects.create(version=version, position=9, kind="do", words="One more"),
    ],
)
def test_database_refuses_to_change_an_accepted_version(change: object) -> None:
    version = in_force(brisk(), owner()).versions.get()
    with pytest.raises(IntegrityError, match=r"never change|no more steps"), transaction.atomic():
        change(version)  # type: ignore[operator]
    assert content_of(ProcedureVersion.objects.get(pk=version.pk)) == CONTENT


def test_database_refuses_to_change_what_a_proposal_says() -> None:
    version = add_procedure(brisk(), actor=owner(), kind_of_work="rekey", content=CONTENT).versions.get()
    with pytest.raises(IntegrityError, match="never changes"), transaction.atomic():
        ProcedureVersion.objects.filter(pk=version.pk).update(low_volts=9)
