"""HTML to PDF. Fonts and parsed style sheets are kept for the life of the process: they cost more than a page does."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from django.contrib.staticfiles import finders
from PIL import ImageFile

SHEETS = ("shop/css/print.css", "billing/css/papers.css")


@dataclass(frozen=True)
class _Kept:
    html: Any
    fonts: Any
    sheets: list[Any]
    fetcher: Any
    reached_out: type[BaseException]


class OutsideRead(ValueError):
    """A page asked for something that is not part of it."""


def pdf_of(html: str, *, identifier: str) -> bytes:
    """A tagged PDF (PDF/UA-1) of a paper. Raises OutsideRead for a page that asks for anything from outside."""
    kept = _kept()
    document = kept.html(string=html, url_fetcher=kept.fetcher)
    try:
        made: bytes = document.write_pdf(
            stylesheets=kept.sheets,
            font_config=kept.fonts,
            pdf_variant="pdf/ua-1",
            pdf_tags=True,
            pdf_identifier=identifier.encode(),
        )
    except kept.reached_out as error:
        raise OutsideRead(str(error)) from error
    return made


@cache
def _kept() -> _Kept:
    # Imported here, so that web processes neither carry it nor fail where its system libraries are missing.
    from weasyprint import CSS, HTML
    from weasyprint.text.fonts import FontConfiguration
    from weasyprint.urls import FatalURLFetchingError, URLFetcher

    # The import lets Pillow take pictures that were cut short, everywhere in the process; photos must not be.
    ImageFile.LOAD_TRUNCATED_IMAGES = False

    class NothingFetched(URLFetcher):
        def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
            raise FatalURLFetchingError(f"A paper reads nothing from outside: {url}")

    fonts, fetcher = FontConfiguration(), NothingFetched()
    sheets = [CSS(string=_read(name), font_config=fonts, url_fetcher=fetcher) for name in SHEETS]
    return _Kept(HTML, fonts, sheets, fetcher, FatalURLFetchingError)


def _read(name: str) -> str:
    found = finders.find(name)
    if not found:
        raise FileNotFoundError(f"The style sheet {name} is missing from the program's folder.")
    return Path(found).read_text()
