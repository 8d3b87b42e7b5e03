"""Papers as files, read back with a reader that did not make them."""

import hashlib
from decimal import Decimal
from io import BytesIO
from pathlib import Path

import pytest
from django.conf import settings
from pypdf import PdfReader

from billing import actions as billing
from billing.models import Invoice
from billing.papers.render import OutsideRead, pdf_of
from jobs.models import Job
from shop.models import PaperSize
from tests import cast
from tests.billing import make
from tests.billing.worked import VIN, finished, issued, line, sold, stocked, van, vehicle

pytestmark = pytest.mark.django_db
D = Decimal
# ISO 216 A4 (210 by 297 mm) and ANSI letter (8.5 by 11 in), in points of 1/72 in, rounded.
SIZES = {PaperSize.A4: (595, 842), PaperSize.LETTER: (612, 792)}


@pytest.fixture(autouse=True)
def _papers(tmp_path: Path, settings: object) -> None:
    settings.MEDIA_ROOT = tmp_path  # type: ignore[attr-defined]
    make.shop(
        name="Hollow Lane Locksmiths",
        licence_number="LIC 04412",
        tax_number="88-77",
        invoice_words="Keys are tested before we leave.\nCall within 14 days.",
    )
    make.price_book()


@pytest.fixture
def job() -> Job:
    tech = cast.technician(name="Ines Marlow", licence_number="LT-22")
    blank = stocked(van(tech))
    person = make.customer()
    return finished(
        tech,
        of=person,
        vehicle=vehicle(person),
        street="3 Mill Lane, level 3",
        town="Wenbury",
        told=[line("1180.00"), sold(blank)],
        used=[(blank, 2)],
    )


def words(path: str) -> str:
    """The text of a PDF with single spaces."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(path).pages).split())


def test_invoice_says_all_that_the_law_and_the_customer_ask(job: Job) -> None:
    draft = billing.draft_invoice(job, actor=None)
    billing.record_payment(draft, actor=None, method="card", amount=D("100.00"), reference="slip 41")
    invoice = billing.make_paper(billing.issue_invoice(draft, actor=None, at=make.NOON).pk)
    assert invoice is not None
    text = words(invoice.paper.path)
    for said in (
        "Hollow Lane Locksmiths",
        "LIC 04412",
        "88-77",
        "2026-0001",
        "3 March 2026",
        "Ada Vermeer",
        "2019 Corvane Estate 5",
        VIN,
        "KLM 204",
        "3 Mill Lane, level 3, Wenbury",
        "Ines Marlow (LT-22)",
        f"Job {job.number}",
        # 1,180.00 at 5 % and 42.00 at 8.25 %, told; one blank more, charged.
        "Price told Price charged 1,284.47 USD 1,329.93 USD",
        "45.46 USD more than told",
        "Accepted by Ada Vermeer",
        "Labour tax 5 % of 1,180.00 59.00",
        "Sales tax 8.25 % of 84.00 6.93",
        "Total 1,329.93",
        "Card slip 41, receipt 1 100.00",
        "Amount due 1,229.93 USD",
        "Payable on receipt.",
        "Keys are tested before we leave.",
    ):
        assert said in text, said


@pytest.mark.parametrize("size", SIZES)
def test_paper_has_the_shops_size_title_language_and_tags(size: PaperSize) -> None:
    make.shop(paper_size=size)
    invoice = billing.make_paper(issued().pk)
    assert invoice is not None
    reader = PdfReader(invoice.paper.path)
    width, height = SIZES[size]
    box = reader.pages[0].mediabox
    assert (round(box.width), round(box.height)) == (width, height)
    root = reader.root_object
    assert reader.metadata is not None
    assert (reader.metadata.title, reader.metadata.author) == (
        "Invoice 2026-0001",
        Invoice.objects.get().parties["shop"]["name"],
    )
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"]  # type: ignore[index]
    # PDF/UA-1 (ISO 14289-1, 5): the identifier in the metadata.
    assert b"pdfuaid:part" in root["/Metadata"].get_object().get_data()  # type: ignore[union-attr]


def test_paper_is_made_once_and_its_hash_is_that_of_the_file() -> None:
    pk = issued().pk
    first = billing.make_paper(pk)
    assert first is not None
    made_at, file = first.paper_made_at, Path(first.paper.path)
    again = billing.make_paper(pk)
    assert again is not None
    assert (again.paper_made_at, again.paper_sha256) == (made_at, hashlib.sha256(file.read_bytes()).hexdigest())
    assert [each.name for each in file.parent.iterdir()] == [file.name]
    assert file.stat().st_mode & 0o077 == 0, "nobody else on the machine reads it"


def test_lost_file_is_made_again_byte_for_byte() -> None:
    invoice = billing.make_paper(issued().pk)
    assert invoice is not None
    before = Path(invoice.paper.path).read_bytes()
    Path(invoice.paper.path).unlink()
    make.shop(name="Another name since")
    assert billing.make_paper(invoice.pk) is not None
    assert Path(invoice.paper.path).read_bytes() == before


def test_draft_has_no_paper() -> None:
    draft = billing.draft_invoice(finished(told=[line()]), actor=None)
    assert billing.make_paper(draft.pk) is None
    assert not list(Path(settings.MEDIA_ROOT).rglob("*.pdf"))


def test_receipt_says_what_was_paid_and_what_is_left(job: Job) -> None:
    tech = cast.technician(name="Tove Brand")
    invoice = issued(job)
    first = billing.record_payment(invoice, actor=tech, method="cheque", amount=D("1000.00"), reference="No 88")
    billing.record_payment(invoice, actor=tech, method="cash", amount=D("29.93"))
    made = billing.make_receipt(first.pk)
    assert made is not None
    text = words(made.receipt.path)
    for said in ("Receipt", "Ada Vermeer", "1,000.00 USD", "Invoice 2026-0001", "Cheque No 88", "Tove Brand"):
        assert said in text, said
    # What was left after this payment, not after the later one.
    assert "1,329.93 1,000.00 329.93" in text


def test_markup_in_a_name_is_only_text() -> None:
    person = make.customer(name='<img src="file:///etc/passwd"> & Sons')
    invoice = billing.make_paper(issued(finished(told=[line()], of=person)).pk)
    assert invoice is not None
    assert '<img src="file:///etc/passwd"> & Sons' in words(invoice.paper.path)


def test_nothing_outside_is_read() -> None:
    with pytest.raises(OutsideRead, match="reads nothing from outside"):
        pdf_of('<html lang="en"><title>x</title><img alt="x" src="file:///etc/hostname"></html>', identifier="x")


def test_long_invoice_keeps_its_head_row_on_every_page() -> None:
    lines = [line("1.00", f"Lock number {k}") for k in range(1, 81)]
    invoice = billing.make_paper(issued(finished(told=lines)).pk)
    assert invoice is not None
    pages = PdfReader(BytesIO(Path(invoice.paper.path).read_bytes())).pages
    assert len(pages) > 2
    assert all("Description" in page.extract_text() for page in pages[:-1])
    assert f"Page {len(pages)} of {len(pages)}" in " ".join(pages[-1].extract_text().split())
