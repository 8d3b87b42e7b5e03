"""The open file: out and in again, conflicts shown, nothing overwritten unasked. Checked against its JSON Schema."""

import json
from copy import deepcopy
from dataclasses import replace
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from shop.errors import Refused
from shop.staff.models import Person
from shop.stock.actions import add_item
from tests.cast import owner
from tests.vehicles.know.made import CONTENT, STEPS, brisk, in_force
from vehicles.actions import add_variant, change_family, change_variant
from vehicles.actions.exchange import take_in_families
from vehicles.exchange import SCHEMA_FILE, BadExchange, plan_exchange, read_exchange, write_exchange
from vehicles.models import Procedure, ProcedureVersion, VehicleFamily
from vehicles.reads_exchange import family_facts, what_is_here
from vehicles.reads_know import content_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def boss() -> Person:
    return owner()


@pytest.fixture
def text(boss: Person) -> str:
    """What a shop with one family exports."""
    item = add_item(actor=boss, number="T-1", name="Transponder blank", kind="transponder_blank", price=9)
    family = brisk(boss, items=[(item, "transponder")], transponder="Coded", access_steps="One.\nTwo.", key_capacity=4)
    late = add_variant(family, actor=boss, name="Late", sign="Two lights")
    in_force(family, boss)
    in_force(family, boss, variant=late, content=replace(CONTENT, steps=STEPS[:3]))
    return exported()


def exported() -> str:
    return write_exchange(family_facts(VehicleFamily.objects.order_by("pk")), shop="Ours", written_at="2026-01-01")


def take_in(text: str, boss: Person, replaced: tuple[str, ...] = ()) -> list[str]:
    families = read_exchange(text)
    plans = take_in_families(
        families, actor=boss, replace=replaced, shown=what_is_here().fingerprint, source="theirs.json"
    )
    return [plan.title for plan in plans]


def changed(text: str, **facts: Any) -> str:
    data = json.loads(text)
    data["families"][0] |= facts
    return json.dumps(data)


def another(text: str) -> str:
    """The same families under names and uids that this shop does not have, as another shop would send them."""
    swapped = text
    for number, uid in enumerate(sorted(set(_uids(json.loads(text)))), 1):
        swapped = swapped.replace(uid, f"{number:08d}-0000-4000-8000-000000000000")
    return swapped.replace('"Brisk"', '"Moor"')


def _uids(data: Any) -> list[str]:
    if isinstance(data, list):
        return [uid for each in data for uid in _uids(each)]
    if isinstance(data, dict):
        return [*([data["uid"]] if "uid" in data else []), *(uid for each in data.values() for uid in _uids(each))]
    return []


def test_schema_is_a_schema_and_an_export_obeys_it(text: str) -> None:
    schema = json.loads(SCHEMA_FILE.read_text())
    Draft202012Validator.check_schema(schema)
    assert list(Draft202012Validator(schema).iter_errors(json.loads(text))) == []


def test_what_goes_out_comes_in_the_same(text: str, boss: Person) -> None:
    assert take_in(another(text), boss) == ["Halden Moor"]
    ours, theirs = VehicleFamily.objects.order_by("pk")
    for name in ("transponder", "access_steps", "key_capacity", "year_from", "year_until"):
        assert getattr(ours, name) == getattr(theirs, name)
    assert [line.item.number for line in theirs.family_items.all()] == ["T-1"]
    assert [each.sign for each in theirs.variants.all()] == ["Two lights"]
    versions = ProcedureVersion.objects.filter(procedure__family=theirs).order_by("pk")
    assert [content_of(each) for each in versions] == [CONTENT, replace(CONTENT, steps=STEPS[:3])]
    # Somebody accepts them before anyone works by them.
    assert {each.state for each in versions} == {"proposed"}


def test_own_export_brings_nothing(text: str, boss: Person) -> None:
    assert [plan.state for plan in plan_exchange(read_exchange(text), what_is_here().here)] == ["same"]
    before = exported()
    assert take_in(text, boss) == []
    assert exported() == before
    assert not ProcedureVersion.objects.proposed().exists()


def test_what_differs_is_shown_side_by_side_and_stays_unless_told(text: str, boss: Person) -> None:
    theirs = changed(text, notes="Theirs", year_until=2021)
    (plan,) = plan_exchange(read_exchange(theirs), what_is_here().here)
    assert [(fact.name, fact.ours, fact.theirs) for fact in plan.facts] == [
        ("Until year", "2018", "2021"),
        ("Notes", "", "Theirs"),
    ]
    take_in(theirs, boss)
    assert VehicleFamily.objects.get().notes == ""
    take_in(theirs, boss, replaced=(plan.uid,))
    assert (VehicleFamily.objects.get().notes, VehicleFamily.objects.get().year_until) == ("Theirs", 2021)


def test_sign_of_a_variant_stays_unless_told(text: str, boss: Person) -> None:
    variant = VehicleFamily.objects.get().variants.get()
    change_variant(variant, actor=boss, name="Late", sign="Two lights, one red")
    (plan,) = plan_exchange(read_exchange(text), what_is_here().here)
    assert [(fact.ours, fact.theirs) for fact in plan.variants] == [("Late: Two lights, one red", "Late: Two lights")]
    take_in(text, boss)
    assert VehicleFamily.objects.get().variants.get().sign == "Two lights, one red"


def test_different_procedure_comes_in_as_a_proposal_once(text: str, boss: Person) -> None:
    data = json.loads(text)
    data["families"][0]["procedures"][0]["steps"][2]["seconds"] = 1200
    (plan,) = plan_exchange(read_exchange(json.dumps(data)), what_is_here().here)
    assert [each.state for each in plan.procedures] == ["different", "same"]
    for _ in range(2):
        take_in(json.dumps(data), boss)
    proposed = ProcedureVersion.objects.proposed().get()
    assert (proposed.number, proposed.based_on.number, proposed.change_words) == (2, 1, "From theirs.json")
    in_use = Procedure.objects.for_work(VehicleFamily.objects.get(), "all_keys_lost")
    assert in_use
    assert in_use.versions.accepted().get().number == 1


def test_another_family_of_the_same_name_is_left_out(text: str, boss: Person) -> None:
    theirs = another(text).replace('"name": "Moor"', '"name": "BRISK"')
    (plan,) = plan_exchange(read_exchange(theirs), what_is_here().here)
    assert "another family of this name" in plan.clash
    assert take_in(theirs, boss) == []
    assert VehicleFamily.objects.count() == 1


def test_items_and_key_systems_the_shop_has_not_are_named_and_left_out(text: str, boss: Person) -> None:
    theirs = another(changed(text, key_system="Unheard", items=[{"number": "X-9", "name": "Blank", "role": "trial"}]))
    (plan,) = plan_exchange(read_exchange(theirs), what_is_here().here)
    assert [words for words in plan.notes if "X-9 Blank" in words or "Unheard" in words] == list(plan.notes)
    take_in(theirs, boss)
    assert not VehicleFamily.objects.get(name="Moor").family_items.exists()


def test_nothing_is_written_when_the_shops_own_changed_since_it_was_shown(text: str, boss: Person) -> None:
    shown = what_is_here().fingerprint
    change_family(VehicleFamily.objects.get(), actor=boss, notes="Written meanwhile")
    theirs = read_exchange(changed(text, notes="Theirs"))
    with pytest.raises(Refused, match="changed since"):
        take_in_families(theirs, actor=boss, replace=[theirs[0]["uid"]], shown=shown, source="theirs.json")
    assert VehicleFamily.objects.get().notes == "Written meanwhile"


def test_all_comes_in_or_nothing(text: str, boss: Person) -> None:
    data = json.loads(another(text))
    far = deepcopy(data["families"][0]) | {"name": "Far", "year_until": 2200, "variants": [], "procedures": []}
    data["families"].append(far | {"uid": "99999999-0000-4000-8000-000000000000"})
    with pytest.raises(Refused, match="too far ahead"):
        take_in(json.dumps(data), boss)
    assert VehicleFamily.objects.count() == 1


@pytest.mark.parametrize(
    ("mend", "words"),
    [
        (lambda data: data | {"version": 2}, "version 2; this program reads up to version 1"),
        (lambda data: data | {"format": "recipes"}, "no vehicle families"),
        (lambda data: data | {"more": 1}, "more"),
        (lambda data: [], "no vehicle families"),
        (lambda data: data | {"version": True}, "version"),
        (lambda data: data | {"families": [data["families"][0] | {"year_from": "2012"}]}, r"families\[0\].year_from"),
        (lambda data: data | {"families": [data["families"][0] | {"year_from": 2019}]}, "before the first"),
        (lambda data: data | {"families": data["families"] * 2}, "twice"),
        (lambda data: data | {"families": [data["families"][0] | {"variants": []}]}, "variant is not in the file"),
    ],
)
def test_file_that_does_not_fit_is_refused_with_its_place(text: str, mend: Any, words: str) -> None:
    with pytest.raises(BadExchange, match=words):
        read_exchange(json.dumps(mend(json.loads(text))))


@pytest.mark.parametrize(
    ("step", "words"),
    [
        ({"kind": "wait", "words": "Stand by", "seconds": 0}, "seconds"),
        ({"kind": "wait", "words": "Stand by", "seconds": 108_000}, "seconds"),
        ({"kind": "wait", "words": "Stand by"}, "how long"),
        ({"kind": "measure", "words": "Posts", "unit": "V", "low": "12,4"}, "low"),
        ({"kind": "measure", "words": "Posts", "unit": "V", "low": "1260"}, "12.6 V meant"),
        ({"kind": "dance", "words": "Turn"}, "kind"),
    ],
)
def test_step_that_is_none_is_refused_in_a_file_too(text: str, step: dict[str, Any], words: str) -> None:
    data = json.loads(text)
    data["families"][0]["procedures"][0]["steps"] = [step]
    with pytest.raises(BadExchange, match=words):
        read_exchange(json.dumps(data))


@pytest.mark.parametrize("text", ["", "{", "null", "[" * 20_000, '{"format": NaN}', "x" * 2_000_001])
def test_text_that_is_no_such_file_is_refused(text: str) -> None:
    with pytest.raises(BadExchange):
        read_exchange(text)
