"""A page shows the one thing to do next: how high a page is, in windows, how many commands stand in the first window beside
the navigation, and that no figure is cut in two on it."""

from playwright.sync_api import Page
from watched_browser import DESK_PX, PHONE_PX

MOST_COMMANDS = 6
HEIGHTS = {PHONE_PX: (812, 6), DESK_PX: (900, 3)}
"""A window's, and how many of them a page may take."""
A_CONTROL_EACH = ("/recalls/1?only=all", "/recalls/1?stage=hook-up", "/recalls/1", "/sources/1")
"""There each thing to set has its own tick and its own menu, each pass its own menu."""

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
    for (const figure of node.textContent.matchAll(/[\\d.,−+]+\\u00a0[^\\s,;)–]+/g)) {
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


def beyond_bounds(page: Page, address: str) -> list[str]:
    """In what the open page goes beyond them, on a phone and at a desk."""
    beyond = []
    for width, (window, most) in HEIGHTS.items():
        page.set_viewport_size({"width": width, "height": window})
        seen = page.evaluate(_LOOK)
        if seen["height"] > most * window:
            beyond.append(f"{seen['height']} px high at {width} px, more than {most} windows")
        if seen["cut"]:
            beyond.append(f"cut in two at {width} px: {', '.join(seen['cut'])}")
        if address not in A_CONTROL_EACH and len(seen["commands"]) > MOST_COMMANDS:
            beyond.append(f"more than {MOST_COMMANDS} commands at {width} px: {', '.join(seen['commands'])}")
    return beyond
