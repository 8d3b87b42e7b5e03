from decimal import Decimal
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image
from pytest_django import DjangoAssertNumQueries

from shop.models import Shop
from shop.staff.models import Person
from shop.stock.actions import add_item, add_place, receive
from tests.cast import office, once_key, owner, signed_in, technician
from tests.vehicles.know.made import CONTENT, brisk, in_force
from vehicles.actions import add_procedure, add_variant, add_vehicle, propose_version
from vehicles.models import Procedure, ProcedureVersion, Variant, VehicleFamily

pytestmark = pytest.mark.django_db

NEW = {
    "make": "Halden",
    "name": "Brisk",
    "model_names": "Brisk, Brisk Wagon",
    "year_from": "2012",
    "year_until": "2018",
}
TYPED = {
    "steps": "2",
    "1-kind": "do",
    "1-words": "Cut a trial key",
    "2-kind": "wait",
    "2-words": "Leave the ignition on",
    "2-wait": "12 min",
    "source": "Worked out here",
    "low_volts": "12.4",
    "do": "propose",
}


@pytest.fixture
def boss() -> Person:
    return owner()


@pytest.fixture
def desk() -> Client:
    return signed_in(office())


@pytest.fixture
def van() -> Client:
    return signed_in(technician())


def test_family_is_added(desk: Client) -> None:
    add_item(actor=None, number="B-1", name="Blank", kind="blank", price=9)
    answer = desk.post("/vehicles/families/add", {**NEW, "trial": "b-1", "form_key": once_key()})
    family = VehicleFamily.objects.get()
    assert answer["Location"] == f"/vehicles/families/{family.pk}"
    assert (family.model_names, family.years) == (["Brisk", "Brisk Wagon"], "2012–2018")
    assert [line.item.number for line in family.family_items.all()] == ["B-1"]


def test_family_without_years_is_asked_for_them(desk: Client) -> None:
    answer = desk.post("/vehicles/families/add", {**NEW, "year_from": "", "year_until": ""})
    assert answer.status_code == 422
    assert "From which year until which?" in answer.content.decode()
    assert not VehicleFamily.objects.exists()


def test_unknown_item_is_refused_beside_its_field(desk: Client) -> None:
    answer = desk.post("/vehicles/families/add", {**NEW, "fob": "F-9"})
    assert answer.status_code == 422
    assert "No item has the number F-9" in answer.content.decode()


def test_overlapping_family_is_kept_only_on_purpose(desk: Client) -> None:
    other = brisk(name="First shape", year_from=2010, year_until=2012)
    answer = desk.post("/vehicles/families/add", NEW)
    assert answer.status_code == 422
    assert str(other) in answer.content.decode()
    assert desk.post("/vehicles/families/add", {**NEW, "is_overlap_meant": "on"}).status_code == 302


def test_change_shows_what_is_kept_and_does_not_overlap_with_itself(desk: Client) -> None:
    family = brisk(market="North")
    assert 'value="North"' in desk.get(f"/vehicles/families/{family.pk}/change").content.decode()
    assert desk.post(f"/vehicles/families/{family.pk}/change", {**NEW, "notes": "Tag is often gone"}).status_code == 302
    family.refresh_from_db()
    assert (family.notes, family.market) == ("Tag is often gone", "")


def test_technician_reads_but_does_not_change(van: Client) -> None:
    family = brisk()
    assert van.get(f"/vehicles/families/{family.pk}").status_code == 200
    for path in ("add", f"{family.pk}/change", f"{family.pk}/variants/add", "import"):
        assert van.get(f"/vehicles/families/{path}").status_code == 403
    assert van.post(f"/vehicles/families/{family.pk}/off").status_code == 403


def test_missing_family_is_404_and_wrong_method_405(desk: Client) -> None:
    assert desk.get("/vehicles/families/999").status_code == 404
    assert desk.post("/vehicles").status_code == 405
    assert desk.get(f"/vehicles/families/{brisk().pk}/off").status_code == 405


@pytest.mark.parametrize(
    ("text", "count"), [("", 2), ("halden 2015", 1), ("wagon", 1), ("2005", 1), ("nothing", 0), ("norrik", 1)]
)
def test_families_are_found_by_make_model_and_year(desk: Client, text: str, count: int) -> None:
    brisk(model_names=["Brisk", "Brisk Wagon"])
    brisk(make="Norrik", name="Fjell", model_names=["Fjell"], year_from=2001, year_until=2006)
    assert len(desk.get("/vehicles", {"q": text}).context["families"]) == count


@pytest.mark.parametrize("count", [1, 3])
def test_list_asks_the_same_for_any_number_of_families(
    desk: Client, count: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    item = add_item(actor=None, number="B-1", name="Blank", kind="blank", price=9)
    for number in range(count):
        brisk(name=f"Shape {number}", items=[(item, "trial")])
    Shop.current()
    # Session, person, families, their items, the items, how many proposals wait.
    with django_assert_num_queries(6):
        desk.get("/vehicles")


def test_variant_is_kept_with_a_photo_made_safe(desk: Client) -> None:
    family, taken = brisk(), BytesIO()
    Image.new("RGB", (9, 9)).save(taken, "PNG")
    photo = SimpleUploadedFile("sign.png", taken.getvalue())
    path = f"/vehicles/families/{family.pk}/variants/add"
    assert desk.post(path, {"name": "Late", "sign": "Two lights", "photo": photo}).status_code == 302
    variant = Variant.objects.get()
    answer = desk.get(f"/vehicles/variants/{variant.pk}/photo")
    assert answer["Content-Type"] == "image/jpeg"
    assert b"".join(answer.streaming_content)[:2] == b"\xff\xd8"  # type: ignore[attr-defined]


def test_file_that_is_no_photo_is_refused(desk: Client) -> None:
    photo = SimpleUploadedFile("sign.png", b"not a picture")
    path = f"/vehicles/families/{brisk().pk}/variants/add"
    answer = desk.post(path, {"name": "Late", "sign": "Two lights", "photo": photo})
    assert answer.status_code == 422
    assert "That is not a photo" in answer.content.decode()


def test_technician_writes_a_procedure_down_and_the_office_accepts_it(van: Client, desk: Client) -> None:
    family = brisk()
    path = f"/vehicles/families/{family.pk}/procedures/add"
    assert van.post(path, {**TYPED, "kind_of_work": "all_keys_lost"}).status_code == 302
    version = ProcedureVersion.objects.get()
    assert [step.seconds for step in version.steps.all()] == [None, 720]
    assert "All keys lost" in desk.get("/vehicles/proposals").content.decode()
    assert van.post(f"/vehicles/proposals/{version.pk}", {"do": "accept"}).status_code == 403
    assert desk.post(f"/vehicles/proposals/{version.pk}", {"do": "accept"}).status_code == 302
    version.refresh_from_db()
    assert version.state == "accepted"
    assert "Leave the ignition on" in van.get(f"/vehicles/procedures/{version.procedure_id}").content.decode()


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"2-wait": "0"}, "A wait of nothing is no wait"),
        ({"2-wait": "30 h"}, "30 h is longer than a visit"),
        ({"low_volts": "12,4"}, "12,4 has a comma"),
        ({"low_volts": "1260"}, "Is 12.6 V meant?"),
        ({"source": ""}, "Say where this comes from"),
        ({"steps": "0"}, "at least one step"),
        ({"steps": "-1"}, "at least one step"),
    ],
)
def test_what_is_wrong_is_said_beside_it_and_what_is_typed_stays(
    van: Client, typed: dict[str, str], words: str
) -> None:
    path = f"/vehicles/families/{brisk().pk}/procedures/add"
    answer = van.post(path, {**TYPED, "kind_of_work": "rekey", **typed})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    for value in typed.values():
        assert f'value="{value}"' in page or not value or value == "-1"
    assert not Procedure.objects.exists()


def test_steps_are_added_moved_and_removed_without_scripts(van: Client) -> None:
    path = f"/vehicles/families/{brisk().pk}/procedures/add"
    answer = van.post(path, {**TYPED, "kind_of_work": "rekey", "do": "down-1"})
    assert [row.words for row in answer.context["sheet"].rows] == ["Leave the ignition on", "Cut a trial key"]
    assert len(van.post(path, {**TYPED, "do": "add-2"}).context["sheet"].rows) == 3
    assert len(van.post(path, {**TYPED, "do": "remove-1"}).context["sheet"].rows) == 1
    assert not Procedure.objects.exists()


def test_change_that_changes_nothing_is_refused(van: Client, boss: Person) -> None:
    procedure = add_procedure(brisk(), actor=boss, kind_of_work="rekey", content=CONTENT)
    path = f"/vehicles/procedures/{procedure.pk}/propose"
    sheet = van.get(path).context["sheet"]
    answer = van.post(path, {**posted(sheet), "from": "1", "seen": "1", "do": "propose"})
    assert answer.status_code == 422
    assert "Nothing is different from version 1" in answer.content.decode()


def test_second_author_sees_what_the_first_changed_and_loses_nothing(van: Client, boss: Person) -> None:
    procedure = in_force(brisk(), boss)
    path = f"/vehicles/procedures/{procedure.pk}/propose"
    mine = posted(van.get(path).context["sheet"]) | {"1-words": "My own words", "from": "1", "seen": "1"}
    other = technician(name="Sadie")
    typed = posted(van.get(path).context["sheet"]) | {"3-wait": "20 min", "from": "1", "seen": "1", "do": "propose"}
    assert signed_in(other).post(path, typed).status_code == 302
    answer = van.post(path, {**mine, "do": "propose"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "version 2 by Sadie" in page
    assert "For 20 min" in page
    assert "My own words" in page
    seen = str(answer.context["seen"])
    assert van.post(path, {**mine, "seen": seen, "do": "propose"}).status_code == 302
    third = procedure.versions.get(number=3)
    assert third.based_on
    assert (third.based_on.number, third.steps.all()[0].words) == (1, "My own words")


def test_office_is_warned_of_a_proposal_made_from_an_older_version(desk: Client, boss: Person) -> None:
    procedure = in_force(brisk(), boss)
    first, author = procedure.versions.get(), technician()
    for number in (2, 3):
        propose_version(procedure, actor=author, content=CONTENT, based_on=first, change_words=f"No {number}")
    second, third = procedure.versions.filter(number__gt=1)
    assert desk.post(f"/vehicles/proposals/{second.pk}", {"do": "accept"}).status_code == 302
    path = f"/vehicles/proposals/{third.pk}"
    assert "version 2 is in force by now" in desk.get(path).content.decode()
    assert desk.post(path, {"do": "accept"}).status_code == 422
    assert desk.post(path, {"do": "accept", "knows_of": "2"}).status_code == 302


def test_rejection_without_a_reason_is_refused(desk: Client, boss: Person) -> None:
    version = add_procedure(brisk(), actor=boss, kind_of_work="rekey", content=CONTENT).versions.get()
    path = f"/vehicles/proposals/{version.pk}"
    answer = desk.post(path, {"do": "reject", "reason": ""})
    assert answer.status_code == 422
    assert "Say why" in answer.content.decode()
    assert desk.post(path, {"do": "reject", "reason": "Too short a wait"}).status_code == 302


def test_two_versions_stand_side_by_side(van: Client, boss: Person) -> None:
    procedure = in_force(brisk(), boss)
    path = f"/vehicles/procedures/{procedure.pk}"
    typed = posted(van.get(f"{path}/propose").context["sheet"]) | {"3-wait": "20 min", "from": "1", "seen": "1"}
    van.post(f"{path}/propose", {**typed, "do": "propose"})
    page = van.get(f"{path}/compare", {"old": "1", "new": "2"}).content.decode()
    assert "For 12 min" in page
    assert "For 20 min" in page
    assert van.get(f"{path}/compare", {"old": "77", "new": "x"}).status_code == 200


def posted(sheet: object) -> dict[str, str]:
    """What a browser sends of a sheet as it was shown."""
    data = {"steps": str(len(sheet.rows)), **sheet.head}  # type: ignore[attr-defined]
    for number, row in enumerate(sheet.rows, 1):  # type: ignore[attr-defined]
        for name in ("kind", "words", "caution", "unit", "low", "high", "wait"):
            data[f"{number}-{name}"] = getattr(row, name)
        for name in ("is_uninterruptible", "asks_immobilizer_light"):
            if getattr(row, name):
                data[f"{number}-{name}"] = "yes"
    return data


def test_known_says_family_blank_and_where_it_is(desk: Client, boss: Person) -> None:
    item = add_item(actor=boss, number="T-1", name="Transponder blank", kind="transponder_blank", price=9)
    place = add_place(actor=boss, name="Van 2", kind="van", driver=None)
    receive(item, actor=boss, place=place, quantity=7, unit_cost=Decimal(4))
    family = brisk(items=[(item, "transponder")])
    in_force(family, boss)
    add_variant(family, actor=boss, name="Late", sign="Two lights stand still")
    asked = {"make": "halden", "model": "Brisk", "year": "2015", "kind_of_work": "all_keys_lost"}
    page = desk.get("/vehicles/known", asked, headers={"HX-Request": "true"}).content.decode()
    for words in ("Halden Brisk", "T-1", "Van 2", ">7<", "Support unit", "Two lights stand still"):
        assert words in page
    assert "<form" not in page
    assert "<html" not in page


def test_known_asks_while_it_is_in_doubt_and_keeps_what_is_chosen(van: Client) -> None:
    first = brisk(name="First shape")
    brisk(name="Second shape", year_from=2018, year_until=2022)
    car = add_vehicle(actor=None, make="Halden", model="Brisk", year=2018)
    page = van.get("/vehicles/known", {"vehicle": car.pk}).content.decode()
    assert "Which family is it?" in page
    assert "another family fits as well" in page
    chosen = {"family": first.pk, "next": f"/vehicles/known?vehicle={car.pk}"}
    assert van.post(f"/vehicles/{car.pk}/family", chosen)["Location"] == f"/vehicles/known?vehicle={car.pk}"
    car.refresh_from_db()
    assert (car.family, car.family_is_confirmed) == (first, True)


def test_choice_never_leads_to_another_site(van: Client) -> None:
    family = brisk()
    car = add_vehicle(actor=None, make="Halden", model="Brisk", year=2018)
    answer = van.post(f"/vehicles/{car.pk}/family", {"family": family.pk, "next": "https://elsewhere.example/"})
    assert answer["Location"] == f"/vehicles/known?vehicle={car.pk}"


@pytest.mark.parametrize(
    "asked", [{}, {"year": "next"}, {"vehicle": "x"}, {"vin": "\0" * 90}, {"make": "Halden", "year": "²"}]
)
def test_known_of_nothing_is_quiet(desk: Client, asked: dict[str, str]) -> None:
    answer = desk.get("/vehicles/known", asked, headers={"HX-Request": "true"})
    assert answer.status_code == 200
    assert not answer.content.strip()


def test_known_asks_little_of_the_database(desk: Client, django_assert_max_num_queries: object) -> None:
    for number in range(30):
        brisk(name=f"Shape {number}", model_names=[f"M{number}"])
    asked = {"make": "Halden", "model": "M7", "year": "2015", "kind_of_work": "all_keys_lost"}
    Shop.current()
    with django_assert_max_num_queries(9):  # type: ignore[operator]
        answer = desk.get("/vehicles/known", asked, headers={"HX-Request": "true"})
    assert "Shape 7" in answer.content.decode()


def test_file_is_looked_through_then_taken_in(desk: Client, boss: Person) -> None:
    family = brisk()
    in_force(family, boss)
    out = desk.get("/vehicles/families.json")
    assert out["Content-Disposition"].startswith('attachment; filename="vehicle-families-')
    text = out.content.decode()
    VehicleFamily.objects.filter(pk=family.pk).update(notes="Ours")
    path = "/vehicles/families/import"
    page = desk.post(path, {"file": SimpleUploadedFile("theirs.json", text.encode())})
    assert page.status_code == 200
    assert "Ours" in page.content.decode()
    assert VehicleFamily.objects.get().notes == "Ours"
    take = {"text": text, "file_name": "theirs.json", "shown": page.context["shown"], "take": "yes"}
    assert desk.post(path, {**take, "shown": "stale"}).status_code == 422
    assert desk.post(path, take).status_code == 302
    assert VehicleFamily.objects.get().notes == "Ours"
    assert desk.post(path, {**take, "replace": str(family.uid)}).status_code == 302
    assert VehicleFamily.objects.get().notes == ""


def test_file_of_a_newer_form_is_refused_in_words(desk: Client) -> None:
    newer = SimpleUploadedFile("new.json", b'{"format": "vehicle-families", "version": 7, "families": []}')
    answer = desk.post("/vehicles/families/import", {"file": newer})
    assert answer.status_code == 422
    assert "This file is of version 7" in answer.content.decode()
