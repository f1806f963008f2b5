// What stands in an order goes to another place by hand: by its grip onto the one whose place it takes, or by Alt+Up and
// Alt+Down from any field of it.

import { enhance } from "./enhance.js";
import { bindKeys } from "./keys.js";

/**
 * `grips` and `places` are selectors; `nameOf` says which of them an element of a place is. `drop(name, onto, place)` is
 * called where one was let go on another, `step(way, place, event)` with "up" or "down"; false leaves the key to others.
 */
export function orderByHand({ kind, grips, places, nameOf, drop, step }) {
  const type = `application/x-dialback-${kind}`; // what is dragged is no file and no text

  enhance(grips, (grip, signal) => {
    const begin = (event) => {
      event.dataTransfer.setData(type, nameOf(grip.closest(places)));
      event.dataTransfer.effectAllowed = "move";
      event.dataTransfer.setDragImage(grip.parentElement, 0, 0);
    };
    grip.addEventListener("dragstart", begin, { signal });
  });

  enhance(places, (place, signal) => {
    const isOver = (over) => place.classList.toggle("is-over", over);
    const drag = (event) => {
      if (!event.dataTransfer.types.includes(type)) return;
      event.preventDefault();
      isOver(true);
    };
    const letGo = (event) => {
      const name = event.dataTransfer.getData(type);
      if (!name) return;
      event.preventDefault();
      isOver(false);
      if (name !== nameOf(place)) drop(name, nameOf(place), place);
    };
    place.addEventListener("dragover", drag, { signal });
    place.addEventListener("dragleave", () => isOver(false), { signal });
    place.addEventListener("drop", letGo, { signal });

    const move = (way) => (event) => step(way, place, event);
    bindKeys({ "Alt+ArrowUp": move("up"), "Alt+ArrowDown": move("down") }, { within: place, signal });
  });
}
