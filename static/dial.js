// Turns each .control into something to take hold of: drag, wheel and keys step through the detents that the server
// gives. What stands in the input is the setting; all scale arithmetic stays on the server.

import { enhance } from "./enhance.js";
import { bindKeys } from "./keys.js";
import { released } from "./pressing.js";

const PIXELS_ACROSS = 180; // a drag this long takes a knob through its whole travel
const WHEEL_NOTCH = 60;
const loaded = new Map();

/** The detents of a layout, fetched once a page: {control: [{position, reading, all, angle_deg}]}. */
function detentsOf(layout) {
  if (!loaded.has(layout)) {
    const answer = fetch(`/layouts/${encodeURIComponent(layout)}/detents`).then((response) => {
      if (!response.ok) throw new Error(`detents of layout ${layout}: ${response.status}`);
      return response.json();
    });
    answer.catch(() => loaded.delete(layout));
    loaded.set(layout, answer);
  }
  return loaded.get(layout);
}

/** The detent nearest to a position. */
function nearest(detents, position) {
  let best = 0;
  for (let k = 1; k < detents.length; k += 1) {
    if (Math.abs(detents[k].position - position) < Math.abs(detents[best].position - position)) best = k;
  }
  return best;
}

enhance("[data-control][data-layout]", (control, signal) => {
  const input = control.querySelector("input, select");
  const mark = control.querySelector(".control-mark");
  if (!input || !mark) return;

  const readings = control.querySelector(".control-readings");
  const started = control.dataset.before ?? input.value; // in a ledger, what stands on the pass before
  const isInGrid = control.closest("[role=grid]") !== null; // where the arrows go from cell to cell
  let detents = null;
  let position = initialPosition(control);
  let asked = 0;

  let isAsked = true; // the detents are on their way
  const known = detentsOf(control.dataset.layout).then(
    (all) => {
      isAsked = false;
      const mine = all[control.dataset.control];
      if (!mine || mine.length < 2) return;
      detents = mine;
      if (position === null && input.value.trim() !== "") {
        const same = detents.findIndex((detent) => detent.reading === input.value.trim());
        if (same >= 0) position = detents[same].position;
      }
      control.classList.add("is-live");
    },
    () => (isAsked = false), // without detents the input still takes what one types
  );

  function setMark(at, angle) {
    position = at;
    const pointer = mark.querySelector(".pointer");
    if (!pointer) return;
    if (at === null) {
      pointer.setAttribute("visibility", "hidden");
      return;
    }
    pointer.removeAttribute("visibility");
    mark.querySelectorAll("[stroke-dasharray]").forEach((part) => part.removeAttribute("stroke-dasharray"));
    if (pointer.dataset.slideX) {
      pointer.setAttribute("transform", `translate(${pointer.dataset.slideX * at} 0)`);
    } else if (pointer.dataset.slideY) {
      pointer.setAttribute("transform", `translate(0 ${pointer.dataset.slideY * at})`);
    } else if (angle !== null && angle !== undefined) {
      const centre = (pointer.getAttribute("transform") || "").match(/rotate\(\S+ (\S+) (\S+)\)/);
      pointer.setAttribute("transform", `rotate(${angle} ${centre ? centre[1] : 12} ${centre ? centre[2] : 12})`);
    }
  }

  function say(all) {
    if (readings) readings.textContent = all || "";
  }

  function complain(sentence) {
    let error = control.querySelector(".field-error");
    if (!sentence) {
      input.removeAttribute("aria-invalid");
      if (error) error.remove();
      return;
    }
    if (!error) {
      error = document.createElement("span");
      error.className = "field-error";
      error.id = `${input.id || control.dataset.control}-error`;
      error.setAttribute("role", "alert");
      control.append(error);
      const told = (input.getAttribute("aria-describedby") || "").split(" ").filter(Boolean);
      if (!told.includes(error.id)) input.setAttribute("aria-describedby", [...told, error.id].join(" "));
    }
    error.textContent = sentence;
    input.setAttribute("aria-invalid", "true");
  }

  function markChanged() {
    control.classList.toggle("is-changed", input.value.trim() !== started.trim());
  }

  function takeDetent(index) {
    const detent = detents[Math.min(detents.length - 1, Math.max(0, index))];
    const isNew = input.value !== detent.reading;
    input.value = detent.reading;
    asked += 1; // an answer about older words counts no more
    setMark(detent.position, detent.angle_deg);
    say(detent.all);
    complain("");
    markChanged();
    if (isNew) input.dispatchEvent(new Event("input", { bubbles: true }));
  }

  /** Do it with the detents, as soon as they are here; false where there are none. */
  function withDetents(act) {
    if (detents) act();
    else if (isAsked) known.then(() => detents && act());
    else return false;
    return true;
  }

  /** One step up or down: from between two detents to the next one in that direction. */
  function step(count) {
    if (position === null) {
      takeDetent(count > 0 ? 0 : detents.length - 1);
      return;
    }
    const index = nearest(detents, position);
    const off = detents[index].position - position;
    const isOnTheWay = Math.abs(off) > 1e-6 && Math.sign(off) === Math.sign(count);
    takeDetent(index + count - (isOnTheWay ? Math.sign(count) : 0));
  }

  // Words that were typed: the server reads them.
  async function readWords() {
    const words = input.value.trim();
    asked += 1;
    const mine = asked;
    markChanged();
    if (words === "") {
      setMark(null);
      say("");
      complain("");
      return;
    }
    let response;
    let answer;
    try {
      response = await fetch(
        `/controls/${encodeURIComponent(control.dataset.control)}/read?text=${encodeURIComponent(words)}`,
      );
      answer = await response.json();
    } catch {
      return; // the form's own answer will say it
    }
    await released();
    if (mine !== asked || !response.ok) return;
    complain(answer.sentence);
    setMark(answer.sentence ? null : answer.position, answer.angle_deg); // the old place would contradict the words
    say(answer.sentence ? "" : answer.all);
  }
  input.addEventListener("change", readWords, { signal });
  for (const button of control.querySelectorAll("[data-step]")) {
    button.addEventListener("click", () => withDetents(() => step(Number(button.dataset.step))), { signal });
  }

  if (input.tagName === "INPUT") {
    const by = (count) => () => withDetents(() => step(count));
    const byTenth = (sign) => () => withDetents(() => step(sign * Math.max(1, Math.round(detents.length / 10))));
    const toEnd = (index) => () => isAllOrNothing(input) && withDetents(() => takeDetent(index(detents)));
    const inGrid = { "Shift+ArrowUp": by(1), "Shift+ArrowDown": by(-1) };
    const alone = {
      "ArrowUp": by(1),
      "ArrowDown": by(-1),
      "Shift+ArrowUp": by(5),
      "Shift+ArrowDown": by(-5),
      "PageUp": byTenth(1),
      "PageDown": byTenth(-1),
      "Home": toEnd(() => 0),
      "End": toEnd((all) => all.length - 1),
    };
    bindKeys(isInGrid ? inGrid : alone, { within: input, signal });
  }

  // Dragging up turns up; the further aside from the mark, the finer. A switch slides, and flips on a tap.
  const takeHold = (event) => {
    if (!detents || event.button !== 0 || !event.isPrimary) return;
    event.preventDefault();
    mark.setPointerCapture(event.pointerId);
    control.classList.add("is-turning");
    const box = mark.getBoundingClientRect();
    const middle = box.x + box.width / 2;
    const isSwitch = mark.querySelector(".pointer[data-slide-x]") !== null;
    let at = position === null ? 0 : position;
    let last = { x: event.clientX, y: event.clientY };
    let isMoved = false;

    const move = (moved) => {
      if (moved.pointerId !== event.pointerId) return;
      const along = isSwitch ? moved.clientX - last.x : last.y - moved.clientY;
      if (along === 0) return;
      last = { x: moved.clientX, y: moved.clientY };
      isMoved = true;
      const aside = isSwitch ? 0 : Math.abs(moved.clientX - middle) / 60;
      const fineness = moved.shiftKey ? 8 : Math.max(1, aside);
      at = Math.min(1, Math.max(0, at + along / (isSwitch ? box.width : PIXELS_ACROSS) / fineness));
      const index = nearest(detents, at);
      if (input.value !== detents[index].reading) takeDetent(index);
    };
    const end = (ended) => {
      if (ended.pointerId !== event.pointerId) return;
      control.classList.remove("is-turning");
      if (isSwitch && !isMoved && ended.type === "pointerup") {
        takeDetent(position === null ? 0 : (nearest(detents, position) + 1) % detents.length);
      }
      mark.removeEventListener("pointermove", move);
      mark.removeEventListener("pointerup", end);
      mark.removeEventListener("pointercancel", end);
      if (input.tagName === "INPUT" && event.pointerType === "mouse") input.focus({ preventScroll: true });
    };
    mark.addEventListener("pointermove", move);
    mark.addEventListener("pointerup", end);
    mark.addEventListener("pointercancel", end);
  };
  mark.addEventListener("pointerdown", takeHold, { signal });

  // The wheel turns a control only when it holds the focus and the pointer is over its mark or its input; at an end of
  // travel, and everywhere else, the page scrolls as ever.
  let gathered = 0;
  control.addEventListener(
    "wheel",
    (event) => {
      if (!detents || event.ctrlKey || document.activeElement !== input) return;
      if (!mark.contains(event.target) && event.target !== input) return;
      const isAtEnd = position !== null && (event.deltaY > 0 ? position <= 0 : position >= 1);
      if (isAtEnd || event.deltaY === 0) return;
      event.preventDefault();
      const pixels = event.deltaMode === WheelEvent.DOM_DELTA_PIXEL ? event.deltaY : event.deltaY * WHEEL_NOTCH;
      gathered = Math.sign(gathered) === Math.sign(pixels) ? gathered + pixels : pixels;
      const notches = Math.trunc(gathered / WHEEL_NOTCH);
      if (notches !== 0) {
        gathered -= notches * WHEEL_NOTCH;
        step(-Math.sign(notches) * Math.min(5, Math.abs(notches)));
      }
    },
    { passive: false, signal },
  );
});

/** Home and End move the caret, as in any text; where the whole text is selected they take the control's ends. */
function isAllOrNothing(input) {
  return input.selectionStart === 0 && input.selectionEnd === input.value.length;
}

function initialPosition(control) {
  const given = control.dataset.position;
  return given === undefined || given === "" ? null : Number(given);
}
