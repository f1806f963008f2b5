// The pass form on a phone: gear is folded but for what is being jotted, and a dial that is touched comes up from below,
// large enough for a thumb. At a desk nothing of this happens.

import { enhance } from "./enhance.js";
import { bindKeys } from "./keys.js";

const NARROW = window.matchMedia("(max-width: 40rem)");

enhance(".gear-fold", (fold) => {
  if (NARROW.matches && !fold.querySelector("[aria-invalid]")) fold.open = false;
});

enhance(".gear-fold .control:has(.steps)", (control, signal) => {
  const isUp = () => control.classList.contains("is-sheet");
  const mark = control.querySelector(".control-mark");
  const lower = () => {
    if (!isUp()) return false;
    control.classList.remove("is-sheet");
    mark.focus();
    return true;
  };
  const raise = () => {
    control.classList.add("is-sheet");
    control.querySelector(".sheet-done").focus({ preventScroll: true });
  };
  mark.tabIndex = -1;

  // The first touch brings it up; only then does it turn.
  const first = (event) => {
    if (NARROW.matches && !isUp() && mark.contains(event.target)) event.stopPropagation();
  };
  control.addEventListener("pointerdown", first, { signal, capture: true });
  const touched = (event) => {
    if (NARROW.matches && !isUp() && mark.contains(event.target)) raise();
  };
  control.addEventListener("click", touched, { signal });
  control.querySelector(".sheet-done").addEventListener("click", lower, { signal });
  const beside = (event) => {
    if (isUp() && !control.contains(event.target)) event.preventDefault(), lower();
  };
  document.addEventListener("pointerdown", beside, { signal });
  bindKeys({ "Escape": lower }, { within: control, signal });
});
