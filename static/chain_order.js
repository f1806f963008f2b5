// The order of a chain in the open column: gear is dragged by its grip onto the gear whose place it takes, or goes by
// Alt+Up and Alt+Down from any of its cells.

import { press } from "./desk.js";
import { enhance } from "./enhance.js";
import { bindKeys } from "./keys.js";

const KIND = "application/x-dialback-gear"; // what is dragged is no file and no text

const column = () => document.getElementById("open-column");

enhance("[data-grip]", (grip, signal) => {
  const begin = (event) => {
    event.dataTransfer.setData(KIND, grip.dataset.grip);
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setDragImage(grip.parentElement, 0, 0);
  };
  grip.addEventListener("dragstart", begin, { signal });
});

enhance("#ledger [data-gear]", (rows, signal) => {
  const isOver = (over) => rows.classList.toggle("is-over", over);
  const drag = (event) => {
    if (!event.dataTransfer.types.includes(KIND)) return;
    event.preventDefault();
    isOver(true);
  };
  const drop = (event) => {
    const gear = event.dataTransfer.getData(KIND);
    if (!gear) return;
    event.preventDefault();
    isOver(false);
    if (gear !== rows.dataset.gear) press(column(), `at-${gear}-${rows.dataset.gear}`);
  };
  rows.addEventListener("dragover", drag, { signal });
  rows.addEventListener("dragleave", () => isOver(false), { signal });
  rows.addEventListener("drop", drop, { signal });

  const move = (way) => () => column() && void press(column(), `${way}-${rows.dataset.gear}`);
  bindKeys({ "Alt+ArrowUp": move("up"), "Alt+ArrowDown": move("down") }, { within: rows, signal });
});
