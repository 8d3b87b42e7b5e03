"""What the content policy would refuse, found in the templates before a browser does (Content Security Policy 3)."""

import re
from pathlib import Path

import pytest
from django.template.loader import get_template

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "templates"
TEMPLATES = sorted(FOLDER.rglob("*.html"))
REFUSED = {
    "an inline style": re.compile(r"<[^>]*\sstyle\s*=|<style\b", re.IGNORECASE),
    "an inline script": re.compile(r"<script(?![^>]*\bsrc=)", re.IGNORECASE),
    "an event attribute": re.compile(r"<[^>]*\son[a-z]+\s*=", re.IGNORECASE),
    "htmx code that is evaluated": re.compile(r"\shx-on|hx-vals=['\"]js:|hx-headers=['\"]js:|hx-trigger=[^>]*\["),
    "something from another host": re.compile(r"<(?:script|link|img|iframe)\b[^>]*(?:src|href)=['\"](?:https?:)?//"),
}


def name_of(file: Path) -> str:
    return str(file.relative_to(FOLDER))


@pytest.mark.parametrize("file", TEMPLATES, ids=name_of)
def test_template_holds_nothing_the_content_policy_refuses(file: Path) -> None:
    # A paper is also read by the PDF maker, which takes styles of the page itself; browsers refuse them all the same.
    text = re.sub(r"\{#.*?#\}|\{% comment %\}.*?\{% endcomment %\}", "", file.read_text(), flags=re.DOTALL)
    assert [what for what, pattern in REFUSED.items() if pattern.search(text)] == []


@pytest.mark.parametrize("file", TEMPLATES, ids=name_of)
def test_template_compiles(file: Path) -> None:
    assert get_template(name_of(file)).template.nodelist is not None  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "text", ['<p style="x">', "<style>", "<script>x</script>", "<a onclick='x'>", '<b hx-on:click="x">']
)
def test_the_check_finds_what_it_looks_for(text: str) -> None:
    assert any(pattern.search(text) for pattern in REFUSED.values())


def test_a_post_form_carries_its_token() -> None:
    """Django's CSRF protection asks for it; htmx forms get the header, and must work without htmx too."""
    missing = [
        name_of(file)
        for file in TEMPLATES
        for form in re.findall(r"<form\b[^>]*method=\"post\".*?</form>", file.read_text(), re.DOTALL | re.IGNORECASE)
        if "csrf_token" not in form
    ]
    assert missing == []
