"""A page shows the one thing to do next: how high the invented session's pages are, in windows, how many commands stand in
the first window beside the navigation, and that no figure is cut in two on any of them."""

import pytest
from already_logged import InventedApp
from watched_browser import DESK_PX, PHONE_PX, Visit

PAGES = (
    "/projects",
    "/projects/1",
    "/projects/1/log",
    "/projects/1/timeline",
    "/sources/1",
    "/passes/5",
    "/passes/3",
    "/passes/5/hook-up",
    "/passes/5/levels",
    "/passes/5/microphones",
    "/passes/5/blend",
    "/passes/5/edit",
    "/sources/1/passes/new",
    "/passes/5/recall",
    "/passes/5/recalls",
    "/recalls/1",
    "/recalls/1?only=all",
    "/recalls/1?stage=hook-up",
    "/recalls/1?stage=levels",
    "/recalls/1?stage=check",
    "/compare?pass=3&pass=4&pass=5",
    "/compare?pass=3&pass=4&pass=5&rows=all",
    "/compare?pass=1&pass=2&pass=3&pass=4&pass=5",
    "/gear",
    "/gear/2",
    "/gear/2/edit",
    "/gear/5/ports",
    "/find",
    "/keys",
)
MOST_COMMANDS = 6
HEIGHTS = {DESK_PX: (900, 3), PHONE_PX: (812, 6)}

_LOOK = """
() => {
  const isCommand = (element) => {
    if (element.closest("nav, header.masthead, footer, .visually-hidden")) return false;
    const { top, bottom, width } = element.getBoundingClientRect();
    return width > 1 && bottom > 0 && top < innerHeight && element.checkVisibility({ visibilityProperty: true });
  };
  const cut = [];
  const words = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
  while (words.nextNode()) {
    const node = words.currentNode;
    for (const figure of node.textContent.matchAll(/[\\d.,−+]+\\u00a0[^\\s,;)]+/g)) {
      const range = document.createRange();
      range.setStart(node, figure.index);
      range.setEnd(node, figure.index + figure[0].length);
      if (new Set([...range.getClientRects()].map(({ top }) => Math.round(top))).size > 1) cut.push(figure[0]);
    }
  }
  const commands = [...document.querySelectorAll("main :is(button, a.button), main details.menu > summary")];
  return {
    height: document.documentElement.scrollHeight,
    cut,
    commands: commands.filter(isCommand).map((element) => element.textContent.trim().replace(/\\s+/g, " ")),
  };
}
"""

A_CONTROL_EACH = {"/recalls/1?only=all", "/recalls/1?stage=hook-up", "/recalls/1", "/sources/1"}
"""There each thing to set has its own tick and its own menu, each pass its own menu."""


@pytest.mark.parametrize("width", [DESK_PX, PHONE_PX])
def test_pages_are_short_show_few_commands_and_cut_no_figure(
    visit: Visit, invented: InventedApp, width: int
) -> None:
    page = visit(invented.app, width=width)
    window, most = HEIGHTS[width]
    page.set_viewport_size({"width": width, "height": window})
    beyond = {}
    for address in PAGES:
        page.goto(address)
        seen = page.evaluate(_LOOK)
        if seen["height"] > most * window:
            beyond[address] = f"{seen['height']} px"
        if seen["cut"]:
            beyond[f"{address}, cut in two"] = ", ".join(seen["cut"])
        if address not in A_CONTROL_EACH and len(seen["commands"]) > MOST_COMMANDS:
            beyond[f"{address}, commands"] = ", ".join(seen["commands"])
    assert beyond == {}
