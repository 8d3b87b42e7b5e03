"""The pages of keys in a real browser: the drawing follows the typing, a file becomes a book, all keep to the rules."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.cast import office as office_person
from tests.cast import owner, technician
from vehicles.demo_data import add_demo_key_systems
from vehicles.models import KeySystemSheet

pytestmark = pytest.mark.browser
Opener = Callable[..., Page]
Look = Callable[[Page], None]


def test_the_drawing_beside_the_form_follows_the_typing(live: str, office: Opener, axe: Look) -> None:
    page = office(office_person())
    page.goto("/key-systems/add")
    drawing = page.get_by_role("complementary", name="Drawing")
    typed = {"name": "Alder", "first_position": "3.2", "spacing": "2.6", "cuts": "6"}
    typed |= {"depth_labels": "1-4", "first_root": "8", "depth_step": "0.5"}
    for name, value in typed.items():
        page.locator(f"#id_{name}").fill(value)
    expect(drawing.locator(".kd-box")).to_have_count(6)
    page.locator("#id_cuts").fill("8")
    expect(drawing.locator(".kd-box")).to_have_count(8)
    page.locator("#id_macs").fill("0")
    expect(drawing).to_contain_text("MACS 0 would make every cut the same")
    axe(page)
    page.get_by_role("button", name="Keep key system").click()
    expect(page.locator("#id_macs_error")).to_contain_text("MACS 0")
    page.locator("#id_macs").fill("2")
    page.get_by_role("button", name="Keep key system").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Alder")
    assert KeySystemSheet.objects.get().system.macs == 2


def test_a_file_becomes_a_book_while_one_watches(
    live: str, worker: None, office: Opener, axe: Look, tmp_path: Path
) -> None:
    made = add_demo_key_systems(owner())
    file = tmp_path / "book.csv"
    rows = [
        f"KX{number:04d};{' '.join(row.labels)}" for number, row in enumerate(made["Brixo"].code_books.get().rows.all())
    ]
    file.write_bytes("\n".join(["code;bitting", *rows]).encode("utf-8-sig"))
    page = office(office_person())
    page.goto("/code-books/add")
    page.get_by_label("Key system").select_option(label="Brixo B8")
    page.get_by_label("Name of the book").fill("Brixo KX")
    page.get_by_label("Source").fill("The maker")
    page.get_by_label("Licence").fill("Bought")
    page.get_by_label("CSV file").set_input_files(file)
    page.get_by_role("button", name="Check the file").click()
    page.get_by_role("button", name="Take in 2,000 codes").click()
    expect(page.get_by_text("2,000 codes are taken in")).to_be_visible()
    axe(page)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_of_keys_keep_to_the_rules_on_a_phone(live: str, phone: Opener, axe: Look, scheme: str) -> None:
    made = add_demo_key_systems(owner())
    page = phone(technician(), scheme=scheme)
    corvane, dunmark = made["Corvane"].pk, made["Dunmark"].pk
    for path in (
        "/key-systems",
        f"/key-systems/{dunmark}",
        "/code-books",
        "/workbench",
        f"/workbench/{corvane}/decode",
    ):
        page.goto(path)
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
    page.goto(f"/key-systems/{corvane}/card")
    page.get_by_label("Cuts in reading order").fill("ADCDDABBCC")
    page.get_by_role("button", name="Show card").click()
    expect(page.get_by_text("MACS allows 2")).to_be_visible()
    axe(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_missing_cuts_are_planned_without_scripts(live: str, phone: Opener) -> None:
    made = add_demo_key_systems(owner())["Brixo"]
    page = phone(technician(), scripts=False)
    page.goto(f"/workbench/{made.pk}/missing")
    for cut, label in enumerate("212343", 3):
        page.get_by_label(f"Cut {cut}", exact=True).fill(label)
    page.get_by_role("button", name="Find the fewest blanks").click()
    expect(page.get_by_text("proved: no fewer can do")).to_be_visible()
    expect(page.get_by_text("New blank 3")).to_be_visible()
