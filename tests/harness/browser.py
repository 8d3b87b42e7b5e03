"""Pages of the running site in the system's Chromium."""

import os
import shutil
from collections.abc import Callable, Generator
from importlib import import_module
from typing import Any, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, sync_playwright

from shop.staff.models import Person

Opener = Callable[..., Page]
Scheme = Literal["light", "dark"]

_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
_MAC = "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome"
_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
_DESK: dict[str, Any] = {"viewport": {"width": 1440, "height": 900}}
_PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 3,
    "is_mobile": True,
    "has_touch": True,
}
_AXE_RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"], "resultTypes": ["violations"]}


def chromium() -> str:
    """The path of the system's Chromium or Chrome."""
    named = os.environ.get("BITTERN_CHROMIUM", "")
    for found in (named, *map(shutil.which, _NAMES), _MAC if os.path.exists(_MAC) else None):  # noqa: PTH110
        if found:
            return found
    raise RuntimeError(
        "The browser tests need Chromium: apt-get install chromium, or set BITTERN_CHROMIUM to its path."
    )


@pytest.fixture(scope="session")
def browser(django_db_setup: None) -> Generator[Browser]:
    """One Chromium for the session; each page gets a context of its own."""
    # Playwright's loop runs in this thread, where Django would take every query for one in async code.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=chromium(), args=_FLAGS)
        yield started
        started.close()


def _sign_in(context: BrowserContext, person: Person, address: str) -> None:
    """A session of `person`, as the sign-in page would make it."""
    session = import_module(settings.SESSION_ENGINE).SessionStore()
    session[SESSION_KEY] = str(person.pk)
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
    session[HASH_SESSION_KEY] = person.get_session_auth_hash()
    session.save()
    context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": session.session_key, "url": address}])


class _Windows:
    """The pages that one test opened, and what went wrong on them."""

    def __init__(self, browser: Browser, address: str) -> None:
        self._browser, self._address = browser, address
        self._contexts: list[BrowserContext] = []
        self.errors: list[str] = []

    def open(self, kind: dict[str, Any], person: Person | None, scheme: Scheme, scripts: bool) -> Page:
        context = self._browser.new_context(
            **kind, base_url=self._address, color_scheme=scheme, java_script_enabled=scripts, reduced_motion="reduce"
        )
        self._contexts.append(context)
        context.set_default_timeout(15_000)
        if person is not None:
            _sign_in(context, person, self._address)
        page = context.new_page()
        page.on("console", lambda message: self._heard(page, message))
        page.on("pageerror", lambda error: self.errors.append(f"{page.url}: {error}"))
        return page

    def _heard(self, page: Page, message: ConsoleMessage) -> None:
        """Keep an error. A refused form (422), a page that is itself refused and a network that a test cut are none."""
        source = message.location.get("url", "")
        is_answer = "Failed to load resource" in message.text and (
            source == page.url or "422" in message.text or "ERR_INTERNET_DISCONNECTED" in message.text
        )
        if message.type == "error" and not is_answer:
            self.errors.append(f"{source}: {message.text}")

    def close(self) -> None:
        for context in self._contexts:
            context.close()


@pytest.fixture
def windows(browser: Browser, live: str) -> Generator[_Windows]:
    """All pages of a test; closed, and their errors reported, at its end."""
    opened = _Windows(browser, live)
    yield opened
    opened.close()
    assert not opened.errors, "Errors on the page:\n" + "\n".join(opened.errors)


@pytest.fixture
def office(windows: _Windows) -> Opener:
    """Opens a desk page, 1440 x 900."""

    def open_desk(person: Person | None = None, *, scheme: Scheme = "light", scripts: bool = True) -> Page:
        return windows.open(_DESK, person, scheme, scripts)

    return open_desk


@pytest.fixture
def phone(windows: _Windows) -> Opener:
    """Opens a phone page, 390 x 844 with touch."""

    def open_phone(person: Person | None = None, *, scheme: Scheme = "light", scripts: bool = True) -> Page:
        return windows.open(_PHONE, person, scheme, scripts)

    return open_phone


@pytest.fixture
def axe() -> Callable[[Page], None]:
    """Fails when axe finds a broken WCAG 2.2 A or AA rule on the page."""

    def look(page: Page) -> None:
        found = Axe().run(page, options=_AXE_RULES).response["violations"]
        told = [
            f"{one['id']} ({one['impact']}): {one['help']}\n    "
            + "\n    ".join(f"{node['html'][:160]}  {node['failureSummary']}" for node in one["nodes"][:5])
            for one in found
        ]
        assert not told, f"{page.url}\n" + "\n".join(told)

    return look
