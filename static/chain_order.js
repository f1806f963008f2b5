// The order of a chain in the open column of the ledger.

import { press } from "./desk.js";
import { orderByHand } from "./order.js";

const column = () => document.getElementById("open-column");

orderByHand({
  kind: "gear",
  grips: "[data-grip]",
  places: "#ledger [data-gear]",
  nameOf: (rows) => rows.dataset.gear,
  drop: (gear, onto) => void press(column(), `at-${gear}-${onto}`),
  step: (way, rows) => column() && void press(column(), `${way}-${rows.dataset.gear}`),
});
