"""The printed card is at true scale: measured on the page as a printer would get it, by both ways of printing."""

import subprocess
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest
from django.conf import settings
from django.template.loader import render_to_string
from PIL import Image
from playwright.sync_api import Browser, Page
from weasyprint import CSS, HTML

from shop.models import PaperSize, Shop
from tests.cast import owner, technician
from vehicles.actions import add_key_system
from vehicles.keys import KeySystem
from vehicles.models import KeySystemSheet
from vehicles.true_scale import MARGIN, true_scale
from vehicles.views.cutting_cards import card_paper_context

DPI = 600
MM = DPI / 25.4
# A cut to the full depth in the middle of an otherwise whole blade, so that the picture has few edges to find.
SYSTEM = KeySystem(
    name="Alder",
    positions_mm=["6", "15", "24"],
    root_depths_mm={"0": "8.00", "1": "4.00"},
    flat_mm="3.00",
    angle_deg=90,
    blade_height_mm="8.00",
    blade_length_mm="30.00",
    locks={"ignition": [1, 2, 3]},
)
BITTING = ("0", "1", "0")


def test_the_outline_is_the_blade_in_millimetres() -> None:
    # A 90 degree cutter with a 3 mm flat, 4 mm deep, is 3 + 2 x 4 = 11 mm wide at the top (plane geometry).
    drawn = true_scale(SYSTEM, BITTING)
    points = {tuple(float(value) for value in point.split(",")) for point in drawn.outline.split()}
    top, low = MARGIN, MARGIN + 4
    assert {(MARGIN + 9.5, top), (MARGIN + 13.5, low), (MARGIN + 16.5, low), (MARGIN + 20.5, top)} <= points
    assert (drawn.width, drawn.height) == (30 + 2 * MARGIN, 8 + 2 * MARGIN)


@pytest.fixture
def sheet(db: None) -> KeySystemSheet:
    return add_key_system(actor=owner(), system=SYSTEM)


def _page(sheet: KeySystemSheet) -> str:
    return render_to_string(
        "vehicles/keys/card_paper.html", {"shop": Shop.current(), **card_paper_context(sheet, BITTING)}
    )


def _styles() -> list[Path]:
    static = Path(settings.ROOT) / "static"
    return [static / "shop/css/print.css", static / "vehicles/css/card_paper.css"]


def _picture(pdf: Path) -> Image.Image:
    """The first page at 600 dots an inch, as a printer gets it."""
    drawn = pdf.with_suffix("")
    subprocess.run(["pdftoppm", "-r", str(DPI), "-f", "1", "-l", "1", "-png", "-singlefile", pdf, drawn], check=True)
    return Image.open(drawn.with_suffix(".png")).convert("RGB")


METAL = (0xE8, 0xE6, 0xDA)
# mm, the outline's own line: half of it lies over the metal on either side.
LINE = 0.1


def _metal(picture: Image.Image, row: int) -> list[int]:
    """The columns of a row of dots that lie in the true drawing's blade."""
    line = picture.crop((0, row, picture.width // 2, row + 1))
    return [x for x in range(line.width) if line.getpixel((x, 0)) == METAL]


def _runs(columns: list[int]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    for x in columns:
        if runs and x - runs[-1][1] <= 2:
            runs[-1] = (runs[-1][0], x)
        else:
            runs.append((x, x))
    return [run for run in runs if run[1] - run[0] > 5]


def _ruler(picture: Image.Image, below: int) -> float:
    """mm between the first and the last line of the ruler, the first long dark row under the blade."""
    for row in range(below, below + round(30 * MM)):
        dark = [x for x in range(picture.width) if sum(picture.getpixel((x, row))) < 200]  # type: ignore[arg-type]
        if len(dark) > 90 * MM:
            ticks = [x for x in range(picture.width) if sum(picture.getpixel((x, row + round(3.4 * MM)))) < 200]  # type: ignore[arg-type]
            return (_middle(ticks, last=True) - _middle(ticks)) / MM
    raise AssertionError("There is no ruler.")


def _middle(ticks: list[int], *, last: bool = False) -> float:
    edge = ticks[-1] if last else ticks[0]
    near = [x for x in ticks if abs(x - edge) < MM / 2]
    return (near[0] + near[-1]) / 2


def _measure(picture: Image.Image) -> dict[str, float]:
    """Blade length and height, the deep cut's position and root depth, and the ruler, in mm."""
    rows = [row for row in range(0, picture.height // 2, 2) if len(_metal(picture, row)) > 10 * MM]
    # The drawing of the blade comes first; it ends where no metal is seen for a millimetre.
    last = next((one for one, two in pairwise(rows) if two - one > MM), rows[-1])
    whole = _metal(picture, last - round(MM))
    # Above the cut's root the blade is parted by the cut; its middle is the cut's position.
    left, right = _runs(_metal(picture, last - round(5.5 * MM)))
    middle = (left[1] + right[0]) / 2
    under = [row for row in range(rows[0], last + 1) if picture.getpixel((round(middle), row)) == METAL]
    return {
        "length": (whole[-1] - whole[0]) / MM + LINE,
        "height": (last - rows[0]) / MM + LINE,
        "position": (middle - whole[0]) / MM + LINE / 2,
        "root": (under[-1] - under[0]) / MM + LINE,
        "ruler": _ruler(picture, last),
    }


def _is_true(measured: dict[str, float]) -> None:
    # The line of the stop, 0.2 mm wide, lies over the blade's beginning.
    expected = {"length": 30.0, "height": 8.0, "position": 15.0, "root": 4.0, "ruler": 100.0}
    for name, value in expected.items():
        assert measured[name] == pytest.approx(value, abs=0.2), (name, measured)


@pytest.mark.parametrize("size", [PaperSize.A4, PaperSize.LETTER])
def test_paper_made_by_the_renderer_is_at_true_scale(sheet: KeySystemSheet, tmp_path: Path, size: str) -> None:
    Shop.objects.update(paper_size=size)
    Shop.forget()
    pdf = tmp_path / "card.pdf"
    HTML(string=_page(sheet), base_url=str(settings.ROOT)).write_pdf(
        pdf, stylesheets=[CSS(filename=str(style)) for style in _styles()]
    )
    _is_true(_measure(_picture(pdf)))


@pytest.mark.browser
def test_paper_printed_by_the_browser_is_at_true_scale(
    live: str, phone: Callable[..., Page], browser: Browser, tmp_path: Path
) -> None:
    sheet = add_key_system(actor=owner(), system=SYSTEM)
    page = phone(technician())
    page.goto(f"/key-systems/{sheet.pk}/card")
    page.get_by_label("Cuts in reading order").fill("010")
    page.get_by_role("button", name="Show card").click()
    with page.expect_popup() as opened:
        page.get_by_role("button", name="Print at true scale").click()
    paper = opened.value
    paper.wait_for_load_state()
    assert "010" not in paper.url
    pdf = tmp_path / "card.pdf"
    paper.pdf(path=pdf, prefer_css_page_size=True, print_background=True)
    _is_true(_measure(_picture(pdf)))
