"""Colours against WCAG 2.2: 4.5:1 for text (1.4.3), 3:1 for big figures, edges of fields and marks (1.4.11)."""

import re
from pathlib import Path

import pytest

CSS = Path(__file__).resolve().parents[2] / "static" / "shop" / "css"
PAIRS = re.findall(r"--([\w-]+): light-dark\((#\w{6}), (#\w{6})\)", (CSS / "tokens.css").read_text())
COLOURS = {name: {"light": light, "dark": dark} for name, light, dark in PAIRS}
GROUNDS = ("paper", "card", "desk", "press-wash", "hatch", "danger-wash")
INKS = ("ink", "ink-soft", "press", "press-deep", "danger")
TEXT = [(ink, ground) for ink in INKS for ground in GROUNDS] + [
    ("on-fill", "fill"),
    ("on-fill", "fill-deep"),
    ("on-danger", "danger"),
    ("on-marker", "marker"),
    ("press", "marker"),
    ("paper", "ink"),
]
EDGES = [("rule-strong", "paper"), ("rule-strong", "card"), ("fill", "paper"), ("fill", "card")]


def is_for_paper(file: Path) -> bool:
    """Papers are black on white whatever the theme, and WeasyPrint knows no light-dark()."""
    return file.name == "print.css" or "paper" in file.name


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_of_black_on_white_is_the_published_21() -> None:
    # WCAG 2.2, note to "contrast ratio": ratios range from 1 to 21.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(("ink", "ground"), TEXT)
def test_text_reads_on_its_ground(ink: str, ground: str, theme: str) -> None:
    assert contrast(COLOURS[ink][theme], COLOURS[ground][theme]) >= 4.5


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(("edge", "ground"), EDGES)
def test_edge_is_seen_on_its_ground(edge: str, ground: str, theme: str) -> None:
    assert contrast(COLOURS[edge][theme], COLOURS[ground][theme]) >= 3


SHEETS = [file for file in sorted(CSS.parent.parent.rglob("*.css")) if not is_for_paper(file)]


@pytest.mark.parametrize("file", SHEETS, ids=lambda file: file.name)
def test_every_colour_is_made_as_a_pair_for_light_and_dark(file: Path) -> None:
    rest = re.sub(r"--[\w-]+: light-dark\(#\w{6}, #\w{6}\)", "", file.read_text())
    assert re.findall(r"#[0-9a-fA-F]{3,8}\b", rest) == []


def test_every_colour_name_used_exists() -> None:
    made = set(re.findall(r"(--[\w-]+):", "".join(file.read_text() for file in CSS.parent.parent.rglob("*.css"))))
    used = {
        name for file in CSS.parent.parent.rglob("*.css") for name in re.findall(r"var\((--[\w-]+)", file.read_text())
    }
    assert used <= made
