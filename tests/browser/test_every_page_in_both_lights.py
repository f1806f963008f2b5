"""Every page at a desk and on a phone, on paper and in a dim room: no serious or critical finding of axe-core, and
never wider than the window, whatever the words on it; and as short as it is meant to be.
"""

import json
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from already_logged import InventedApp
from axe_playwright_python.sync_playwright import Axe  # type: ignore[import-untyped]
from bounds_of_pages import A_CONTROL_EACH, beyond_bounds
from fastapi.routing import APIRoute
from person import box_of, press
from playwright.sync_api import Page, expect
from watched_browser import DESK_PX, HEIGHT_PX, PHONE_PX, Visit, Window, Windows, overflow_px

from app.web.app import ROUTERS

GRAVE = ("serious", "critical")
OF_COLOURS = {
    "color-contrast": "[data-new-kind]",
    "link-in-text-block": "a[href][data-new-kind], [data-new-kind] a[href]",
}
"""axe's dearest rules by far, so words of one kind are held to them once: MARK_NEW_KINDS_OF_WORDS."""
AXE_SCRIPT: str = (
    Axe().axe_script
    + f"""
const ofColours = {json.dumps(OF_COLOURS)};
for (const rule of axe._audit.rules) {{
  if (!{list(GRAVE)}.includes(rule.impact)) rule.enabled = false;
  if (rule.id in ofColours) rule.selector = ofColours[rule.id];
}}
"""
)
"""axe without the rules whose findings are never grave."""
EVERY_RULE: dict[str, Any] = {}
HANG_ON_LIGHT_OR_WIDTH = {
    "runOnly": {
        "type": "rule",
        "values": [
            *OF_COLOURS,
            "target-size",
            "scrollable-region-focusable",
            "button-name",
            "link-name",
            "label",
            "select-name",
        ],
    }
}
"""axe's rules about colours, sizes, and names of what a page may show on a phone alone."""
MARK_NEW_KINDS_OF_WORDS = """
() => {
  const known = new Set(JSON.parse(sessionStorage.getItem("kinds-of-words") ?? "[]"));
  const theme = document.documentElement.dataset.theme;
  const isClear = (colour) => /^rgba\\(.*, 0\\)$|^transparent$/.test(colour);
  const named = (element) => `${element.localName}.${element.getAttribute("class") ?? ""}`;
  const kindOf = (element) => {
    const own = getComputedStyle(element);
    const grounds = [];
    for (let at = element; at; at = at.parentElement) {
      const { backgroundColor, backgroundImage, opacity } = getComputedStyle(at);
      if (opacity !== "1") grounds.push(opacity);
      if (backgroundImage !== "none") grounds.push(backgroundImage);
      if (isClear(backgroundColor)) continue;
      grounds.push(backgroundColor);
      if (backgroundColor.startsWith("rgb(")) break;
    }
    const { parentElement } = element;
    return [theme, named(element), named(parentElement), own.color, own.fontSize, own.fontWeight, ...grounds].join("|");
  };
  const hasWords = (element) =>
    element.matches("input, select, textarea") ||
    [...element.childNodes].some((node) => node.nodeType === Node.TEXT_NODE && node.data.trim());
  for (const element of document.querySelectorAll("[data-new-kind]")) element.removeAttribute("data-new-kind");
  for (const element of document.body.querySelectorAll("*")) {
    if (!hasWords(element) || !element.checkVisibility()) continue;
    const kind = kindOf(element);
    if (known.has(kind)) continue;
    known.add(kind);
    element.setAttribute("data-new-kind", "");
  }
  sessionStorage.setItem("kinds-of-words", JSON.stringify([...known]));
}
"""
"""Marks the first words on each kind of ground in each kind of element, of all pages in this window."""

PAGES = (
    "/projects",
    "/projects/new",
    "/projects/1",
    "/projects/1/edit",
    "/projects/1/delete",
    "/projects/1/ears",
    "/projects/1/printing",
    "/projects/1/inbox",
    "/projects/1/inbox/left",
    "/folders/1/delete",
    "/arrivals/2",
    "/projects/1/log",
    "/projects/1/timeline",
    "/keys",
    "/projects/1/hand-on",
    "/bring-in",
    "/devices",
    "/backups",
    "/projects/1/sources/new",
    "/sources/1",
    "/sources/1?column=open",
    "/sources/1?rows=all&passes=20",
    "/sources/1/edit",
    "/sources/1/delete",
    "/sources/1/passes/new",
    "/passes/5",
    "/passes/3",
    "/passes/5/edit",
    "/passes/5/delete",
    "/passes/5/hook-up",
    "/passes/5/levels",
    "/passes/5/microphones",
    "/passes/5/blend",
    "/passes/5/recall",
    "/passes/5/recalls",
    "/passes/5/knobs",
    "/passes/5/reference",
    "/recalls/1/reference",
    "/projects/1/reference",
    "/references/1/delete",
    "/reference-prints/1/delete",
    "/recalls/1",
    "/recalls/1?only=all",
    "/recalls/1?stage=hook-up",
    "/recalls/1?stage=levels",
    "/recalls/1?stage=check",
    "/recalls/1/camera",
    "/recalls/1/delete",
    "/tries/1/delete",
    "/copies?pass=5",
    "/blind/1",
    "/blind/2",
    "/tests/1",
    "/compare?pass=3&pass=4&pass=5",
    "/compare?pass=3&pass=4&pass=5&rows=all",
    "/compare?pass=1&pass=2&pass=3&pass=4&pass=5",
    "/compare?pass=3&pass=5&base=5&prints=every&rows=all",
    "/gear",
    "/gear/new",
    "/gear/new?start=delay",
    "/gear/2",
    "/gear/2/edit",
    "/gear/3/delete",
    "/gear/1/calibrate",
    "/gear/5/ports",
    "/prints/1/delete",
    "/prints/1/move",
    "/photos/1/delete",
    "/photos/1/pins",
    "/photos/2/panel",
    "/find",
    "/find?q=fuzz",
    "/find?q=fuzz+above+noon",
    "/find?like=1&since=2020-01-01",
    "/find?q=nothingiscalledthis",
    "/nowhere",
)
HOSTILE = (
    "{project}",
    "{project}/edit",
    "{project}/delete",
    "{project}/ears",
    "{project}/log",
    "{project}/timeline",
    "{project}/hand-on",
    "{source}",
    "{source}/edit",
    "{source}/passes/new",
    "{source}/delete",
    "{gear}",
    "{gear}/edit",
    "{gear}/ports",
    "{pass_one}",
    "{pass_one}/edit",
    "{pass_one}/hook-up",
    "{pass_one}/levels",
    "{pass_one}/microphones",
    "{pass_one}/recall",
    "{pass_one}/recalls",
    "/compare?pass={one}&pass={two}",
    "/projects",
    "/gear",
    "/find?q=WWW",
    "/find?q=" + "W" * 200,
)
BEYOND_BOUNDS = (
    "/sources/1?column=open",
    "/sources/1?rows=all&passes=20",
    "/arrivals/2",
    "/prints/1/move",
)
"""Each pass of a ledger has its own menu, each pass a file may be of its own button, each thing to set its own drawing."""
NOT_PAGES = re.compile(
    r"/(list|audio|picture\.jpg|thumbnail\.jpg|detents|read|prints|tries|found|measures|ledger|lanes|gains|judge|cells|turned|control)$|\.(pdf|csv|wav|flac|zip)$|^/bring-in/\{key\}$|^/drafts/\{draft_id\}(/line)?$|^/next$|^/chain$|^/compare/pair$|^/pair|^/events$"
    r"|^/drafts/\{draft_id\}/readings$|^/panel-readings/|^/crops/"
)
"""Files, answers to a page's script, and parts of pages; a draft's readings are looked at by `test_reading_a_panel.py`."""


def test_the_list_of_pages_is_whole() -> None:
    routes = {
        route.path
        for module in ROUTERS
        for route in module.router.routes
        if isinstance(route, APIRoute) and "GET" in (route.methods or ()) and not NOT_PAGES.search(route.path)
    } - {"/"}
    listed = {re.sub(r"/\d+", "/{id}", page.partition("?")[0]) for page in PAGES}
    assert {re.sub(r"\{\w+\}", "{id}", path) for path in routes} <= listed
    assert {*BEYOND_BOUNDS, *A_CONTROL_EACH} <= {*PAGES}


@pytest.fixture(scope="module")
def window(windows: Windows, invented: InventedApp) -> Iterator[Window]:
    """One for all pages, which knows what kinds of words it has seen."""
    taken = windows.take(invented.app, width=DESK_PX, javascript=True, touch=False)
    yield taken
    windows.give_back(taken)


@pytest.fixture
def page(window: Window) -> Iterator[Page]:
    page, watch = window.page, window.watch
    watch.expected = {404, 422}
    watch.problems.clear()
    page.set_viewport_size({"width": DESK_PX, "height": HEIGHT_PX})
    yield page
    assert not watch.problems, "\n".join(watch.problems)


@pytest.mark.parametrize("address", PAGES)
def test_a_page_of_the_invented_session(page: Page, address: str) -> None:
    answer = page.goto(address)
    assert answer is not None
    assert answer.status == (404 if address == "/nowhere" else 200)
    wrong = [] if address in BEYOND_BOUNDS else beyond_bounds(page, address)
    wrong += look_at(page)
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("pattern", HOSTILE)
def test_a_page_with_already_logged(page: Page, invented: InventedApp, pattern: str) -> None:
    hostile = invented.hostile
    one, two = hostile.pass_one.rpartition("/")[2], hostile.pass_two.rpartition("/")[2]
    page.goto(pattern.format(**vars(hostile), one=one, two=two))
    unfold(page)
    for width in (DESK_PX, PHONE_PX):
        assert overflow_at(page, width) <= 0


def refused_project(page: Page) -> None:
    page.goto("/projects/new")
    page.get_by_label("Title").fill(" ")
    press(page, "Save")


def refused_pass(page: Page) -> None:
    page.goto("/sources/1/passes/new")
    page.get_by_role("region", name="15-watt").get_by_label("Gain").fill("quite loud")
    page.get_by_role("region", name="ribbon").get_by_text("Placement").click()
    page.get_by_role("region", name="ribbon").get_by_label("Distance from the grille").fill("near")
    press(page, "Save the pass")


def refused_gear(page: Page) -> None:
    page.goto("/gear/new?start=delay")
    page.get_by_label("Name", exact=True).first.fill(" ")
    press(page, "Save")


def refused_print(page: Page) -> None:
    page.goto("/passes/5")
    page.get_by_text("Attach a print").click()
    press(page, "Attach")


@pytest.mark.parametrize("refused", [refused_project, refused_pass, refused_gear, refused_print])
def test_a_form_that_was_refused(page: Page, refused: Callable[[Page], None]) -> None:
    refused(page)
    expect(page.get_by_role("main").locator("[aria-invalid=true]").first).to_be_visible()
    assert look_at(page) == []


def look_at(page: Page) -> list[str]:
    """What is wrong with the open page, at a desk on paper and, by the rules that can say something else there, on a phone in a
    dim room. The other two say no more: between the themes only colours differ, and no colour hangs on the width, to
    which the style sheets are held."""
    unfold(page)
    page.evaluate(AXE_SCRIPT)
    wrong = []
    for width, theme, rules in ((DESK_PX, "paper", EVERY_RULE), (PHONE_PX, "dim", HANG_ON_LIGHT_OR_WIDTH)):
        page.locator("html").evaluate("(html, theme) => html.setAttribute('data-theme', theme)", theme)
        too_wide = overflow_at(page, width)
        if too_wide > 0:
            wrong.append(f"{too_wide} px wider than {width} px")
        wrong += [f"{theme} at {width} px: {found}" for found in grave_findings(page, rules)]
    return wrong


def overflow_at(page: Page, width: int) -> int:
    page.set_viewport_size({"width": width, "height": HEIGHT_PX})
    return overflow_px(page)


def unfold(page: Page) -> None:
    page.evaluate("for (const details of document.querySelectorAll('details')) details.open = true")


def grave_findings(page: Page, rules: dict[str, Any] = EVERY_RULE) -> list[str]:
    """By these rules; by those of colours for kinds of words that no page of this window had before."""
    page.evaluate(MARK_NEW_KINDS_OF_WORDS)
    found = page.evaluate("options => axe.run(document, options)", {"resultTypes": ["violations"], **rules})
    return [
        f"{violation['id']} ({violation['impact']}): {node['html'][:200]} – {node.get('failureSummary', '')}"
        for violation in found["violations"]
        if violation["impact"] in GRAVE
        for node in violation["nodes"]
    ]


@pytest.mark.parametrize("width", [DESK_PX, PHONE_PX])
def test_already_logged_leave_the_ledger_its_shape(visit: Visit, invented: InventedApp, width: int) -> None:
    page = visit(invented.app, width=width, touch=width == PHONE_PX)
    page.goto(invented.hostile.source)
    heads = page.locator("th.ledger-pass[data-pass]" if width == DESK_PX else ".pass-card h2")
    expect(heads).to_have_count(2)
    for head in heads.all():
        box = box_of(head)
        assert box["width"] < 640
        assert box["height"] < 200
