"""The pages of key systems, code books and the workbench: each works, is refused to others, and says what is wrong."""

from io import BytesIO
from typing import Any

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from tests.cast import office, once_key, owner, signed_in, technician
from vehicles.actions import add_key_system
from vehicles.demo_data import add_demo_key_systems
from vehicles.keys import KeySystem
from vehicles.models import CodeBook, CodeBookImport, CodeBookLook, KeySystemSheet, TrialPlanRequest
from vehicles.tasks import plan_trials, work_on_code_book

pytestmark = pytest.mark.django_db

SYSTEM = KeySystem(
    name="Alder",
    positions_mm=["3.2", "5.8", "8.4", "11"],
    root_depths_mm={"1": 8, "2": "7.5", "3": 7},
    macs=1,
    locks={"ignition": [1, 2, 3, 4], "door": [2, 3, 4]},
    flat_mm=1,
    angle_deg=90,
    blade_height_mm="8.5",
    blade_length_mm=14,
)
TYPED = {
    "name": "Birch",
    "unit": "mm",
    "layout": "one edge",
    "stop": "tip",
    "reads": "tip to bow",
    "position_kind": "even",
    "first_position": "3,2",
    "spacing": "2.6",
    "cuts": "4",
    "depth_kind": "even",
    "depth_labels": "1-3",
    "first_root": "8",
    "depth_step": "0.5",
    "depths_run": "deeper",
    "macs": "1",
    "can_recut": "on",
    "locks": "door: 1-3",
    "rule_equal_run": "3",
    "source": "Data sheet 4",
    "notes": "",
}


@pytest.fixture
def sheet() -> KeySystemSheet:
    return add_key_system(actor=owner(), system=SYSTEM)


@pytest.fixture
def desk() -> Client:
    return signed_in(office())


@pytest.fixture
def van() -> Client:
    return signed_in(technician())


def page(answer: Any) -> str:
    return str(answer.content.decode())


def test_a_typed_system_is_kept_and_shown(desk: Client) -> None:
    answer = desk.post("/key-systems/add", {**TYPED, "form_key": once_key()})
    kept = KeySystemSheet.objects.get()
    assert answer["Location"] == f"/key-systems/{kept.pk}"
    assert (kept.system.stop, kept.system.macs, kept.source) == ("tip", 1, "Data sheet 4")
    assert "At most 3 equal depths in a row." in page(desk.get(answer["Location"]))


def test_a_system_sent_twice_is_kept_once(desk: Client) -> None:
    typed = {**TYPED, "form_key": once_key()}
    for _ in range(2):
        assert desk.post("/key-systems/add", typed).status_code == 302
    assert KeySystemSheet.objects.count() == 1


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"macs": "0"}, "macs", "MACS 0 would make every cut the same"),
        ({"depth_kind": "list", "depths": "1=8 2=7 3=7.5"}, "depths", "only fall or only rise"),
        ({"blade_length": "5"}, "first_position", "lies beyond the blade"),
        ({"rule_first": "9"}, "rule_first", "names depth 9"),
    ],
)
def test_impossible_data_is_refused_beside_its_field_and_stays(
    desk: Client, changed: dict[str, str], field: str, words: str
) -> None:
    answer = desk.post("/key-systems/add", TYPED | changed)
    text = page(answer)
    assert answer.status_code == 422
    assert words in text
    assert f'id="id_{field}_error"' in text
    assert 'value="Data sheet 4"' in text
    assert not KeySystemSheet.objects.exists()


def test_a_name_that_is_taken_is_refused_beside_it(desk: Client, sheet: KeySystemSheet) -> None:
    answer = desk.post("/key-systems/add", TYPED | {"name": "ALDER"})
    assert answer.status_code == 422
    assert "already a key system called" in page(answer)


def test_the_drawing_follows_what_is_typed(desk: Client) -> None:
    drawn = page(desk.post("/key-systems/drawing", TYPED))
    assert drawn.count('class="kd-box') == 4
    assert "door" in drawn
    waiting = page(desk.post("/key-systems/drawing", TYPED | {"spacing": "0"}))
    assert "<svg" in waiting  # the icon
    assert "kd-box" not in waiting
    assert "The spacing must be above 0" in waiting


def test_a_changed_system_shows_its_inches(desk: Client) -> None:
    typed = TYPED | {
        "unit": "in",
        "first_position": ".126",
        "spacing": ".1024",
        "first_root": ".315",
        "depth_step": ".02",
    }
    desk.post("/key-systems/add", typed)
    form = page(desk.get(f"/key-systems/{KeySystemSheet.objects.get().pk}/change"))
    for figure in ("0.1260", "0.1024", "0.315", "0.020"):
        assert f'value="{figure}"' in form


def test_a_copy_is_opened_to_be_changed(desk: Client, sheet: KeySystemSheet) -> None:
    answer = desk.post(f"/key-systems/{sheet.pk}/copy", {"form_key": once_key()})
    copy = KeySystemSheet.objects.get(name="Alder, copy")
    assert answer["Location"] == f"/key-systems/{copy.pk}/change"


def test_a_system_is_switched_off_and_on(desk: Client, sheet: KeySystemSheet) -> None:
    desk.post(f"/key-systems/{sheet.pk}/off")
    assert not KeySystemSheet.objects.get().is_active
    assert "Out of use" in page(desk.get("/key-systems"))
    assert "Alder" not in page(desk.get("/workbench"))
    desk.post(f"/key-systems/{sheet.pk}/on")
    assert KeySystemSheet.objects.get().is_active


def test_an_export_is_imported_back(desk: Client) -> None:
    made = add_demo_key_systems(owner())
    before = {sheet.name: sheet.system for sheet in made.values()}
    written = desk.get("/key-systems/export.csv").content
    CodeBook.objects.all().delete()
    KeySystemSheet.objects.all().delete()
    look = desk.post("/key-systems/import", {"file": BytesIO(written)})
    assert "5 key systems, nothing wrong" in page(look)
    assert not KeySystemSheet.objects.exists()
    desk.post("/key-systems/import", {"file": BytesIO(written), "take": "yes", "form_key": once_key()})
    assert {sheet.name: sheet.system for sheet in KeySystemSheet.objects.all()} == before


def test_an_import_with_a_wrong_row_takes_nothing_in(desk: Client, sheet: KeySystemSheet) -> None:
    text = b"name,positions,depths\nCedar,3 5,1=8 2=7\nAlder,3 5,1=8 2=7\nDogwood,5 3,1=8 2=7\n"
    answer = desk.post("/key-systems/import", {"file": BytesIO(text), "take": "yes"})
    assert "2 of 3 rows are wrong" in page(answer)
    assert KeySystemSheet.objects.count() == 1


def test_lists_take_the_same_queries_for_one_and_for_five(
    desk: Client, sheet: KeySystemSheet, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for path in ("/key-systems", "/code-books", "/workbench"):
        desk.get(path)
    for _ in range(2):
        with django_assert_num_queries(3):
            desk.get("/key-systems")
        with django_assert_num_queries(4):
            desk.get("/code-books")
        if KeySystemSheet.objects.count() == 1:
            add_demo_key_systems(owner())


def test_a_technician_reads_but_does_not_change(van: Client, sheet: KeySystemSheet) -> None:
    for path in ("/key-systems", f"/key-systems/{sheet.pk}", "/code-books", "/workbench"):
        assert van.get(path).status_code == 200
    for path in ("/key-systems/add", f"/key-systems/{sheet.pk}/change", "/code-books/add", "/code-books/looks"):
        assert van.get(path).status_code == 403
    assert "Add key system" not in page(van.get("/key-systems"))


def test_a_missing_row_is_404(desk: Client) -> None:
    for path in ("/key-systems/9", "/key-systems/9/card", "/workbench/9/decode", "/code-books/9", "/workbench/plans/9"):
        assert desk.get(path).status_code == 404


def test_a_card_shows_cuts_in_both_units_and_faults_by_place(van: Client, sheet: KeySystemSheet) -> None:
    text = page(van.post(f"/key-systems/{sheet.pk}/card", {"bitting": "1 2 1 3"}))
    assert "Cut 3 and cut 4: 1 beside 3 is a step of 2; MACS allows 1." in text
    assert "8.40" in text
    assert "0.3307 in" in text  # 8.4 / 25.4, one inch being exactly 25.4 mm (1959)


@pytest.mark.parametrize(
    ("cuts", "words"),
    [
        ("1 2 9 1", "no depth 9"),
        ("121", "3 cuts are too few"),
        ("12121", "5 cuts are too many"),
        ("12?1", "Cut 3 is unknown"),
    ],
)
def test_cuts_that_are_no_key_are_refused_beside_the_field(
    van: Client, sheet: KeySystemSheet, cuts: str, words: str
) -> None:
    for path in ("card", "card/paper"):
        answer = van.post(f"/key-systems/{sheet.pk}/{path}", {"bitting": cuts})
        assert answer.status_code == 422
        assert words in page(answer)


def test_a_file_becomes_a_book_on_its_page(desk: Client, sheet: KeySystemSheet) -> None:
    facts = {"key_system": sheet.pk, "name": "A series", "source": "Maker", "licence_note": "Bought"}
    sent = {**facts, "file": BytesIO(b"code;bitting\nA1;1212\nA2;1221\n"), "form_key": once_key()}
    address = desk.post("/code-books/add", sent)["Location"]
    assert "Checking every row" in page(desk.get(address))
    assert 'hx-trigger="every 2s"' in page(desk.get(address))
    made = CodeBookImport.objects.get()
    work_on_code_book(made.pk)
    fragment = page(desk.get(address, headers={"HX-Request": "true"}))
    assert "Take in 2 codes" in fragment
    assert "<html" not in fragment
    desk.post(f"{address}/take-in", {"form_key": once_key()})
    work_on_code_book(made.pk)
    done = page(desk.get(address))
    assert "2 codes are taken in" in done
    assert "every 2s" not in done


def test_a_book_without_source_or_licence_is_refused(desk: Client, sheet: KeySystemSheet) -> None:
    answer = desk.post("/code-books/add", {"key_system": sheet.pk, "name": "A", "file": BytesIO(b"code,bitting\n")})
    assert answer.status_code == 422
    assert 'id="id_source_error"' in page(answer)
    assert 'id="id_licence_note_error"' in page(answer)


def test_a_technician_looks_up_with_job_and_reason_only(van: Client) -> None:
    add_demo_key_systems(owner())
    refused = van.post("/code-books/code", {"code": "AW0017", "reason": "Lost"})
    assert refused.status_code == 422
    assert "number of the job" in page(refused)
    found = page(van.post("/code-books/code", {"code": "aw 0017", "reason": "Lost", "job_number": "1042"}))
    assert "Aldren AW series" in found
    assert "Print at true scale" in found
    assert CodeBookLook.objects.get().job_number == "1042"


def test_cuts_with_unknown_ones_are_looked_for(desk: Client) -> None:
    made = add_demo_key_systems(owner())
    asked = {"key_system": made["Elvara"].pk, "cuts": "3?1???", "reason": "Found key"}
    text = page(desk.post("/code-books/cuts", asked))
    assert "codes with the cuts" in text
    assert "EL0002" in text
    wrong = desk.post("/code-books/cuts", asked | {"cuts": "3?9"})
    assert wrong.status_code == 422
    assert "no depth 9" in page(wrong)


def test_the_owner_sees_who_looked_and_asks_for_a_code(desk: Client) -> None:
    add_demo_key_systems(owner())
    desk.post("/code-books/code", {"code": "AW0017", "reason": "Lost on the ferry", "job_number": "1042"})
    desk.post("/code-books/code", {"code": "ZZ9", "reason": "Stamped on a padlock"})
    boss = signed_in(owner())
    assert "Lost on the ferry" in page(boss.get("/code-books/looks"))
    assert "Stamped on a padlock" in page(boss.get("/code-books/looks"))
    assert "Lost on the ferry" not in page(boss.get("/code-books/looks?job=7"))
    assert "Lost on the ferry" in page(boss.post("/code-books/looks", {"code": "aw-0017"}))
    assert "Lost on the ferry" not in page(boss.post("/code-books/looks", {"code": "AW0018"}))
    assert desk.get("/code-books/looks").status_code == 403


def cells(name: str, values: str) -> dict[str, str]:
    return {f"{name}_{place}": "" if value == "-" else value for place, value in enumerate(values.split(), 1)}


def test_readings_are_decoded_with_the_cut_to_read_again(van: Client, sheet: KeySystemSheet) -> None:
    text = page(van.post(f"/workbench/{sheet.pk}/decode", cells("reading", "8 7.5 7.75 7.5") | {"unit": "mm"}))
    assert "2 candidates" in text
    assert "Read <strong>cut 3</strong> once more" in text
    assert "Order of trying" in text


def test_readings_in_inches_are_recognised_asked_and_taken_on_agreement(van: Client, sheet: KeySystemSheet) -> None:
    path = f"/workbench/{sheet.pk}/decode"
    asked = van.post(path, cells("reading", ".315 .295 .315 .295") | {"unit": "mm"})
    text = page(asked)
    assert "look like inches, not millimetres" in text
    assert "Yes, they are inches" in text
    agreed = page(van.post(path, cells("reading", ".315 .295 .315 .295") | {"unit": "in"}))
    assert "1 candidate" in agreed
    assert "1 2 1 2" in agreed
    # 315 thousandths of an inch are 8.001 mm.
    assert "1 candidate" in page(van.post(path, cells("reading", "315 295 315 295") | {"unit": "thou"}))


@pytest.mark.parametrize(
    ("values", "words"),
    [("8 x 8 8", "Cut 2"), ("- - - -", "at least one reading"), ("8 7.5 99 8", "99"), ("-8 7.5 8 8", "Cut 1")],
)
def test_readings_that_are_none_are_refused_in_words(
    van: Client, sheet: KeySystemSheet, values: str, words: str
) -> None:
    answer = van.post(f"/workbench/{sheet.pk}/decode", cells("reading", values) | {"unit": "mm"})
    assert answer.status_code == 422
    assert words in page(answer)


def test_missing_cuts_are_planned_on_the_fewest_blanks(van: Client, sheet: KeySystemSheet) -> None:
    text = page(van.post(f"/workbench/{sheet.pk}/missing", cells("cut", "- 2 1 -")))
    # Three depths before a 2, two beside a 1: 1, 2 or 3 by 1 or 2 make a grid of 3 x 2, whose widest antichain is 2
    # (de Bruijn, Tengbergen and Kruyswijk 1951: the middle ranks of a product of chains).
    assert "<dd>6</dd>" in text
    assert "Why no fewer than 2" in text
    assert text.count('class="try try-new"') == 2


@pytest.mark.parametrize(("values", "words"), [("1 3 - -", "No key has these cuts"), ("1 9 - -", "no depth 9")])
def test_cuts_no_key_has_are_refused(van: Client, sheet: KeySystemSheet, values: str, words: str) -> None:
    answer = van.post(f"/workbench/{sheet.pk}/missing", cells("cut", values))
    assert answer.status_code == 422
    assert words in page(answer)


def test_a_large_plan_is_made_by_the_worker_for_the_one_who_asked(van: Client) -> None:
    made = add_demo_key_systems(owner())["Brixo"]
    address = van.post(f"/workbench/{made.pk}/missing", cells("cut", "- - - - - - 2 3"))["Location"]
    assert "Working out the fewest blanks" in page(van.get(address))
    plan_trials(TrialPlanRequest.objects.get().pk)
    done = page(van.get(address, headers={"HX-Request": "true"}))
    assert "proved: no fewer can do" in done
    assert "every 2s" not in done
    assert signed_in(owner()).get(address).status_code == 404


def test_too_many_keys_ask_for_one_more_cut(van: Client) -> None:
    made = add_demo_key_systems(owner())["Dunmark"]
    text = page(van.post(f"/workbench/{made.pk}/missing", cells("cut", "- - - - - - - - -")))
    assert "Read one more cut" in text
    assert not TrialPlanRequest.objects.exists()


def test_missing_cuts_kept_to_the_code_book_are_fewer(van: Client) -> None:
    made = add_demo_key_systems(owner())["Elvara"]
    row = made.code_books.get().rows.order_by("code")[0]
    known = cells("cut", " ".join([*row.labels[:4], "-", "-"]))
    free = van.post(f"/workbench/{made.pk}/missing", known)
    kept = van.post(f"/workbench/{made.pk}/missing", known | {"in_books": "yes"})
    assert free.context["count"] > kept.context["count"] >= 1
