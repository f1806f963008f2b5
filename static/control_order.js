// The order of a piece of gear's controls in its form. The server puts the rows in order, as for the form's row buttons.

import { orderByHand } from "./order.js";

const rows = () => [...document.querySelectorAll("#gear-form [data-row]")];

let moving = Promise.resolve(); // one after the other: each finds the rows as the last one left them

/** `wanted(rows, focused)` names the row that moves, where to, and the form's word for it; null moves none. */
function move(wanted) {
  moving = moving.catch(() => {}).then(async () => {
    const all = rows();
    const focused = document.activeElement;
    const { from, to, does } = wanted(all, focused) ?? {};
    if (from === undefined || !all[to]) return;
    const button = all[from].querySelector("button[name=do]"); // it asks for no field that is still empty
    const field = all[from].contains(focused) ? focused.id.replace(/^controls-\d+-/, "") : "name";
    await window.htmx.ajax("POST", button.form.getAttribute("action"), {
      source: button,
      target: "#gear-form",
      select: "#gear-form",
      swap: "outerHTML",
      values: { do: does },
    });
    (document.getElementById(`controls-${to}-${field}`) ?? document.getElementById(`controls-${to}-name`))?.focus();
  });
}

orderByHand({
  kind: "control",
  grips: "[data-row-grip]",
  places: "#gear-form [data-row]",
  nameOf: (row) => row.dataset.row,
  drop: (name, onto) => move(() => ({ from: Number(name), to: Number(onto), does: `at-${name}-${onto}` })),
  step: (way, row, event) => {
    if (event.target.matches("select")) return false; // there it opens the list
    move((all, focused) => {
      const from = all.indexOf(focused.closest("[data-row]"));
      return from < 0 ? null : { from, to: from + (way === "up" ? -1 : 1), does: `${way}-${from}` };
    });
    return true;
  },
});
