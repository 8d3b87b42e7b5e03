"""The parts in a real browser: both themes, both sizes, keyboard, toasts. Bounds: WCAG 2.2, 1.4.10, 2.5.8."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

import pytest
from playwright.sync_api import Page, Route, expect

from shop.staff.models import Person

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PAGES = ["/specimen", "/specimen/phone", "/specimen/paper", "/people", "/nowhere-at-all"]
TARGETS = """least => [...document.querySelectorAll("a, button, summary, select, input:not([type=hidden])")]
  .filter((element) => element.checkVisibility() && !element.closest("p, td, .skip, [hidden], dialog:not([open])"))
  .map((element) => (element.closest("label") || element))
  .map((element) => ({ rect: element.getBoundingClientRect(), html: element.outerHTML.slice(0, 120) }))
  .filter(({ rect }) => rect.width && (rect.height < least || rect.width < least))
  .map(({ rect, html }) => `${Math.round(rect.width)} x ${Math.round(rect.height)} ${html}`)"""


@pytest.fixture
def owner(transactional_db: None) -> Person:
    return Person.objects.create(email="vera@shop.example", name="Vera", is_owner=True, is_office=True)


def overflow(page: Page) -> Any:
    return page.evaluate("document.documentElement.scrollWidth - innerWidth")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", PAGES)
def test_page_is_accessible_and_fits(
    path: str,
    scheme: str,
    owner: Person,
    office: Callable[..., Page],
    phone: Callable[..., Page],
    axe: Callable[[Page], None],
) -> None:
    for opened in (office(owner, scheme=scheme), phone(owner, scheme=scheme)):
        opened.goto(path)
        assert overflow(opened) <= 0 or path == "/specimen/paper"
        axe(opened)


@pytest.mark.parametrize(("path", "least"), [("/specimen", 24), ("/people", 24), ("/nowhere-at-all", 24)])
def test_desk_targets_are_big_enough(path: str, least: int, owner: Person, office: Callable[..., Page]) -> None:
    page = office(owner)
    page.goto(path)
    assert page.evaluate(TARGETS, least) == []


def test_phone_targets_are_big_enough_and_the_next_step_is_the_largest(
    owner: Person, phone: Callable[..., Page]
) -> None:
    page = phone(owner)
    page.goto("/specimen/phone")
    assert page.evaluate(TARGETS, 48) == []
    heights = page.eval_on_selector_all(".button", "all => all.map((one) => one.getBoundingClientRect().height)")
    step = page.locator(".next-step").bounding_box()
    assert step is not None
    assert step["height"] >= 56
    assert step["height"] == max(heights)
    assert step["y"] + step["height"] <= 844


def test_theme_chosen_is_kept(owner: Person, office: Callable[..., Page]) -> None:
    page = office(owner, scheme="light")
    page.goto("/specimen")
    paper = "getComputedStyle(document.documentElement).backgroundColor"
    assert page.evaluate(paper) == "rgb(255, 255, 255)"
    page.get_by_role("button", name="Change to dark").click()
    dark = page.evaluate(paper)
    assert dark != "rgb(255, 255, 255)"
    page.reload()
    assert page.evaluate(paper) == dark
    page.get_by_role("button", name="Change to light").click()
    assert page.evaluate(paper) == "rgb(255, 255, 255)"


def test_keys_go_where_they_say_and_leave_typing_alone(owner: Person, office: Callable[..., Page]) -> None:
    page = office(owner)
    page.goto("/specimen")
    page.locator("main").focus()
    page.keyboard.press("/")
    find = page.get_by_label("Find")
    expect(find).to_be_focused()
    page.keyboard.type("a/b")
    expect(find).to_have_value("a/b")
    page.get_by_label("Number", exact=True).last.focus()
    page.keyboard.press("ArrowDown")
    expect(page.locator("#found a").first).to_be_focused()
    page.keyboard.press("ArrowDown")
    expect(page.locator("#found a").nth(1)).to_be_focused()
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    expect(page.locator("#find")).to_be_focused()


def test_dialog_opens_takes_the_focus_and_closes(owner: Person, office: Callable[..., Page]) -> None:
    page = office(owner)
    page.goto("/specimen")
    page.locator("[data-opens=issue]").click()
    dialog = page.get_by_role("dialog", name="Issue this invoice")
    expect(dialog).to_be_visible()
    expect(dialog.get_by_role("button", name="Not yet")).to_be_focused()
    page.keyboard.press("Escape")
    expect(dialog).to_be_hidden()
    expect(page.locator("[data-opens=issue]")).to_be_focused()


def test_toast_from_a_script_carries_its_undo(owner: Person, office: Callable[..., Page]) -> None:
    page = office(owner)
    page.goto("/specimen")
    page.evaluate(
        """document.dispatchEvent(new CustomEvent("toasts",
           { detail: { toasts: [{ words: "<b>Moved.</b>", undo: "/visits/7/back" }] } }))"""
    )
    toast = page.locator("#toasts .toast")
    expect(toast.locator("p")).to_have_text("<b>Moved.</b>")
    form = toast.locator("form")
    assert form.get_attribute("action") == "/visits/7/back"
    for name in ("csrfmiddlewaretoken", "form_key"):
        assert len(form.locator(f"[name={name}]").input_value()) > 30
    toast.get_by_role("button", name="Close").click()
    expect(toast).to_have_count(0)


def test_impatient_clicks_send_one_form(owner: Person, office: Callable[..., Page]) -> None:
    page = office(owner)
    page.goto("/people")
    sent: list[str] = []
    page.route("**/sign-out", lambda route: sent.append(route.request.method))
    page.evaluate(
        """() => { const button = document.querySelector("form[action='/sign-out'] button");
           for (let i = 0; i < 5; i++) button.click(); }"""
    )
    page.wait_for_timeout(300)
    assert sent == ["POST"]


SLOW_FORM = """() => {
  document.querySelector("main").insertAdjacentHTML("afterbegin", `<form id="slow" hx-post="/slow" hx-swap="none">
    <input type="hidden" name="form_key" value="the-first-key"><button>Add one</button></form>`);
  htmx.process(document.getElementById("slow"));
}"""


def test_impatient_clicks_send_one_form_by_htmx_and_the_next_has_a_new_key(
    owner: Person, office: Callable[..., Page]
) -> None:
    page = office(owner)
    page.goto("/people")
    sent: list[str] = []

    def answer(route: Route) -> None:
        sent.append(route.request.post_data or "")
        page.wait_for_timeout(200)
        route.fulfill(status=204)

    page.route("**/slow", answer)
    page.evaluate(SLOW_FORM)
    button = page.get_by_role("button", name="Add one")
    page.evaluate("for (let i = 0; i < 4; i++) document.querySelector('#slow button').click()")
    expect(button).not_to_have_attribute("aria-disabled", "true")
    page.wait_for_timeout(300)
    assert sent == ["form_key=the-first-key"]
    button.click()
    expect(button).not_to_have_attribute("aria-disabled", "true")
    assert len(sent) == 2
    assert UUID(sent[1].removeprefix("form_key=")).version == 4


def test_a_request_that_fails_says_so(owner: Person, office: Callable[..., Page], windows: Any) -> None:
    page = office(owner)
    page.goto("/people")
    page.route("**/slow", lambda route: route.abort())
    page.evaluate(SLOW_FORM)
    page.get_by_role("button", name="Add one").click()
    expect(page.locator("#toasts")).to_contain_text("Nothing was lost")
    expect(page.locator("#toasts .toast-refused")).to_be_visible()
    assert all("sendError" in error or "afterRequest" in error or "/slow" in error for error in windows.errors)
    windows.errors.clear()


def test_works_without_scripts(owner: Person, office: Callable[..., Page]) -> None:
    page = office(owner, scripts=False)
    page.goto("/people")
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
