// Shows the newest pass of each settings ledger, and moves along it by keyboard.

import { enhance } from "./enhance.js";
import { bindKeys } from "./keys.js";

function columnStep(region) {
  const column = region.querySelector("tbody td, thead .ledger-pass");
  return column ? column.getBoundingClientRect().width : 120;
}

enhance(".ledger-scroll", (region, signal) => {
  region.scrollLeft = region.scrollWidth;
  const onItself = (move) => (event) => (event.target === region ? move() : false);
  bindKeys(
    {
      "ArrowLeft": onItself(() => region.scrollBy({ left: -columnStep(region) })),
      "ArrowRight": onItself(() => region.scrollBy({ left: columnStep(region) })),
      "Home": onItself(() => region.scrollTo({ left: 0 })),
      "End": onItself(() => region.scrollTo({ left: region.scrollWidth })),
    },
    { within: region, signal },
  );
});
