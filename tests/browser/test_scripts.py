"""The scripts one by one, each in a page with no more than what it works on."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Route, expect

import shopflow
from tests.optional import present

SCRIPTS = Path(shopflow.__file__).parent / "web" / "static" / "js"
HOME = "http://scripts.test/"
Opened = Callable[..., Page]


@pytest.fixture
def opened(chromium: Browser) -> Iterator[Opened]:
    """Open a page of this markup with these scripts, as modules; a page error fails the test."""
    context = chromium.new_context()
    complaints: list[str] = []

    def answer(route: Route) -> None:
        name = route.request.url.removeprefix(HOME)
        route.fulfill(path=SCRIPTS / name, content_type="text/javascript")

    context.route(f"{HOME}*.js", answer)

    def open_page(markup: str, *scripts: str) -> Page:
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        tags = "".join(f'<script type="module" src="{HOME}{name}"></script>' for name in scripts)
        html = f"<!doctype html><title>Scripts</title><main id=main>{markup}</main>{tags}"
        page.route(HOME, lambda route: route.fulfill(body=html, content_type="text/html"))
        page.goto(HOME)
        return page

    yield open_page
    context.close()
    assert complaints == []


def focused(page: Page) -> str:
    """The name of the field that has the focus."""
    return str(page.evaluate("document.activeElement.name || document.activeElement.id"))


def test_texts_are_those_of_the_page_where_it_names_any(opened: Opened) -> None:
    page = opened("<p>Nothing else</p>")
    spoken = page.evaluate(
        """async (address) => {
            document.documentElement.dataset.texts = '{"Saved {what}": "Gesichert: {what}"}';
            const { counted, gettext } = await import(address);
            return [
                gettext("Saved {what}", { what: "a test" }),
                gettext("Not named: {what}, {why}", { what: "this" }),
                counted("{count} value", "{count} values", 1),
                counted("{count} value", "{count} values", 3),
            ];
        }""",
        f"{HOME}texts.js",
    )
    assert spoken == ["Gesichert: a test", "Not named: this, {why}", "1 value", "3 values"]


GRID = """<table class=readings><tbody>
<tr><td><input name=a0 value=1><td><input name=b0></tr>
<tr><td><input name=a1 value=2><td><input name=b1></tr>
<tr><td><input name=a2><td><input name=b2></tr></tbody></table>"""


@pytest.mark.parametrize(
    ("start", "end"),
    [
        pytest.param("a0", "a1", id="down"),
        pytest.param("a1", "a2", id="down into an empty row of the first column"),
        pytest.param("a2", "b0", id="from the last row to the top of the next column"),
        pytest.param("b0", "b1", id="down a later column"),
        pytest.param("b1", "b0", id="a later column ends with the rows that are filled"),
        pytest.param("b2", "b0", id="the last column has none after it"),
    ],
)
def test_enter_goes_down_a_column_and_on_to_the_next(opened: Opened, start: str, end: str) -> None:
    page = opened(GRID, "columns.js")
    page.locator(f"[name={start}]").press("Enter")
    assert focused(page) == end


def test_enter_selects_what_stands_there(opened: Opened) -> None:
    page = opened(GRID, "columns.js")
    page.locator("[name=a0]").press("Enter")
    page.keyboard.type("7")
    assert page.locator("[name=a1]").input_value() == "7"


SEARCH = """<input id=search aria-keyshortcuts="/" value=old><input name=other>
<details class=bar-person open><summary>Person</summary><a href="#">Log out</a></details>
<p id=elsewhere>Text</p>"""


def test_a_slash_goes_to_the_search_box_but_not_from_a_field(opened: Opened) -> None:
    page = opened(SEARCH, "keys.js")
    page.locator("[name=other]").press("/")
    assert page.locator("[name=other]").input_value() == "/"
    page.locator("#elsewhere").click()
    page.keyboard.press("Control+/")
    assert focused(page) != "search"
    page.keyboard.press("/")
    assert focused(page) == "search"
    page.keyboard.type("new")
    assert page.locator("#search").input_value() == "new"


def test_a_slash_is_left_alone_by_those_who_turned_it_off(opened: Opened) -> None:
    page = opened(SEARCH.replace(' aria-keyshortcuts="/"', ""), "keys.js")
    page.locator("#elsewhere").click()
    page.keyboard.press("/")
    assert focused(page) != "search"


def test_the_menu_closes_on_escape_and_on_a_click_elsewhere(opened: Opened) -> None:
    page = opened(SEARCH, "keys.js")
    page.locator(".bar-person a").press("Escape")
    assert page.locator(".bar-person").get_attribute("open") is None
    assert page.evaluate("document.activeElement.tagName") == "SUMMARY"
    page.locator("summary").click()
    assert page.locator(".bar-person").get_attribute("open") is not None
    page.locator("#elsewhere").click()
    assert page.locator(".bar-person").get_attribute("open") is None


FORM = """<form><div class=field><input id=one name=one></div>
<details><summary>More</summary><table><tr><td><input id=two name=two></table></details></form>"""
SHOW = """async (faults) => {
  const { showFaults } = await import("/faults.js");
  showFaults(document.querySelector("form"), "Not saved.", faults);
}"""
CLEAR = """async () => {
  const { clearFaults } = await import("/faults.js");
  clearFaults(document.querySelector("form"));
}"""


def test_faults_stand_at_their_fields_and_the_first_is_gone_to(opened: Opened) -> None:
    page = opened(FORM)
    page.evaluate(SHOW, {"two": "Enter a lift above 0", "": "Someone else saved it", "gone": "?"})
    two = page.locator("#two")
    assert two.get_attribute("aria-invalid") == "true"
    note = page.locator(f"#{two.get_attribute('aria-describedby')}")
    assert note.text_content() == "Enter a lift above 0"
    assert "cell-faulty" in present(page.locator("td").get_attribute("class"))
    assert page.locator("details").get_attribute("open") is not None
    assert focused(page) == "two"
    summary = page.get_by_role("alert")
    assert summary.locator("p").all_text_contents() == ["Not saved.", "Someone else saved it", "?"]
    assert page.locator("#one").get_attribute("aria-invalid") is None


def test_faults_shown_again_replace_those_before_and_can_be_cleared(opened: Opened) -> None:
    page = opened(FORM)
    page.evaluate(SHOW, {"one": "Enter a stage"})
    page.evaluate(SHOW, {"two": "Enter a lift"})
    assert page.locator(".fault").all_text_contents() == ["Enter a lift"]
    assert page.locator("[aria-invalid]").count() == 1
    page.evaluate(CLEAR)
    assert page.locator(".fault, .faults, [aria-invalid], .cell-faulty, .field-faulty").count() == 0


SENT = """<form method=post action="/sent" target=away><button name=save value=1>Save</button>
<button name=other value=2 disabled>Other</button></form><iframe name=away></iframe>"""


def test_buttons_of_a_form_on_its_way_are_disabled_and_given_back(opened: Opened) -> None:
    page = opened(SENT, "submit.js")
    page.clock.install()
    bodies: list[str | None] = []

    def abort(route: Route) -> None:
        bodies.append(route.request.post_data)
        route.abort()

    page.route("**/sent", abort)
    # On a busy machine the form is on its way later than the click.
    with page.expect_event("requestfailed"):
        page.get_by_text("Save").click()
        page.clock.run_for(1)
    expect(page.get_by_text("Save")).to_be_disabled()
    expect(page.locator("form")).to_have_attribute("aria-busy", "true")
    page.clock.run_for(10_000)
    expect(page.get_by_text("Save")).to_be_enabled()
    # One that was disabled before stays so.
    assert page.get_by_text("Other").is_disabled()
    assert bodies == ["save=1"]


def test_a_form_that_a_script_sends_keeps_its_buttons(opened: Opened) -> None:
    page = opened(SENT, "submit.js")
    page.evaluate("document.forms[0].addEventListener('submit', (event) => event.preventDefault())")
    page.get_by_text("Save").click()
    page.wait_for_timeout(20)
    assert page.get_by_text("Save").is_enabled()


CHART = (
    "<div class=chart-box><svg class=chart width=300 height=100><title>Flow</title>{}</svg></div>"
).format(
    "".join(
        f'<g class=point data-curve={curve} data-x={x}><title>{curve} at {x}</title>'
        f'<circle cx={20 + 60 * x} cy={cy} r=3></circle></g>'
        for curve, cy in (("before", 80), ("after", 20))
        for x in (1, 2, 4)
    )
)  # fmt: skip


def test_a_chart_is_read_by_keys_along_a_curve_and_to_another(opened: Opened) -> None:
    page = opened(CHART, "chart.js")
    page.get_by_role("application", name="Flow").focus()
    readout = page.locator(".readout")
    for key, words in (
        ("ArrowRight", "before at 1"),
        ("ArrowRight", "before at 2"),
        ("ArrowUp", "after at 2"),
        ("End", "after at 4"),
        ("ArrowRight", "after at 4"),
        ("ArrowDown", "before at 4"),
        ("Home", "before at 1"),
        ("ArrowLeft", "before at 1"),
    ):
        page.keyboard.press(key)
        assert readout.text_content() == words, key


def test_a_chart_is_read_by_a_click_near_a_point(opened: Opened) -> None:
    page = opened(CHART, "chart.js")
    page.locator("circle").nth(4).click()
    assert page.locator(".readout").text_content() == "after at 2"
    assert page.locator(".point.read").count() == 1
