"""The tests' own eyes: a page that does wrong is noticed."""

import time
from collections.abc import Callable

import pytest
from playwright.sync_api import Browser, Page
from running_app import RunningApp
from test_every_page_in_both_lights import AXE_SCRIPT, grave_findings
from watched_browser import DESK_PX, PATIENCE_MS, Watch, overflow_px, watched_context


@pytest.mark.parametrize(
    ("script", "noticed"),
    [
        ("console.error('amiss')", "console: amiss"),
        ("setTimeout(() => { throw new Error('broken'); })", "page error"),
        ("fetch('http://127.0.0.1:9/elsewhere').catch(() => {})", "policy: connect-src"),
        ("document.body.insertAdjacentHTML('beforeend', '<p style=\"color: red\">')", "policy: style-src"),
        ("fetch('/nowhere')", "status of 404"),
    ],
)
def test_what_a_page_must_not_do_is_noticed(
    chromium: Browser, app: RunningApp, script: str, noticed: str
) -> None:
    watch = Watch(app.address)
    context = watched_context(chromium, app, watch, width=DESK_PX)
    page = context.new_page()
    page.goto("/projects")
    assert watch.problems == []
    page.evaluate(f"() => {{ {script}; }}")
    give_up_at = time.monotonic() + PATIENCE_MS / 1000
    while not any(noticed in problem for problem in watch.problems) and time.monotonic() < give_up_at:
        page.wait_for_timeout(10)  # lets what the page says come as far as here
    context.close()
    assert any(noticed in problem for problem in watch.problems), watch.problems


def test_a_request_to_another_address_is_noticed(chromium: Browser, app: RunningApp) -> None:
    watch = Watch("http://127.0.0.1:1")
    context = watched_context(chromium, app, watch, width=DESK_PX)
    context.new_page().goto("/projects")
    context.close()
    assert f"request to {app.address}/projects" in watch.problems


@pytest.mark.parametrize(
    ("spoil", "noticed"),
    [
        (lambda page: _add(page, "<img src='/static/icon.svg'>"), "image-alt"),
        (lambda page: _add(page, "<input>"), "label"),
        (lambda page: page.add_style_tag(url="/static/faint.css"), "color-contrast"),
    ],
)
def test_a_page_that_shuts_somebody_out_is_noticed(
    chromium: Browser, app: RunningApp, spoil: Callable[[Page], None], noticed: str
) -> None:
    page = chromium.new_page(base_url=app.address)
    page.route(
        "**/faint.css", lambda route: route.fulfill(content_type="text/css", body="main * { color: #ddd; }")
    )
    page.goto("/projects")
    page.evaluate(AXE_SCRIPT)
    assert grave_findings(page) == []
    spoil(page)
    found = grave_findings(page)
    page.close()
    assert any(finding.startswith(noticed) for finding in found), found


def test_a_page_that_is_too_wide_is_noticed(chromium: Browser, app: RunningApp) -> None:
    page = chromium.new_page(base_url=app.address, viewport={"width": 375, "height": 800})
    page.goto("/projects")
    assert overflow_px(page) <= 0
    _add(page, "<pre>" + "W" * 200 + "</pre>")
    assert overflow_px(page) > 100
    page.close()


def _add(page: Page, html: str) -> None:
    page.get_by_role("main").evaluate("(main, html) => main.insertAdjacentHTML('beforeend', html)", html)
