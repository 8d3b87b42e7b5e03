"""Papers come out in the size the shop uses: A4 is 210 x 297 mm (ISO 216), Letter 8.5 x 11 in (ANSI/ASME Y14.1)."""

from io import BytesIO
from pathlib import Path

import pytest
from django.template.loader import render_to_string
from pypdf import PdfReader
from weasyprint import CSS, HTML

from shop.models import Shop
from shop.views.specimen import parts

PRINT = Path(__file__).resolve().parents[2] / "static" / "shop" / "css" / "print.css"
POINTS_PER_MM = 72 / 25.4


@pytest.mark.parametrize(("size", "width", "height"), [("A4", 210, 297), ("Letter", 215.9, 279.4)])
@pytest.mark.django_db
def test_sheet_has_the_size_of_the_shops_paper(size: str, width: float, height: float) -> None:
    context = {"shop": Shop(name="Harrow Cross Locksmiths", paper_size=size), **parts()}
    html = render_to_string("shop/specimen_paper.html", context)
    pdf = HTML(string=html, base_url=".").write_pdf(stylesheets=[CSS(str(PRINT))])
    (page,) = PdfReader(BytesIO(pdf)).pages
    assert float(page.mediabox.width) / POINTS_PER_MM == pytest.approx(width, abs=0.2)
    assert float(page.mediabox.height) / POINTS_PER_MM == pytest.approx(height, abs=0.2)
    assert "Page 1 of 1" in page.extract_text()
    assert "Invoice" in page.extract_text()
