// What a person did stays over the answer that takes its place: folds they opened or closed, what they typed, ticked or
// chose since the request left, where they are, how far they scrolled, what they play. An answer knows only what its
// request knew; a look at how things stand (a GET) carries no field at all.
//
// What a draft has stays in that draft: where the answer shows another, its fields begin as they came.
//
// Things are known again by their id, else by their place within the nearest thing that has one.

import { enhance } from "./enhance.js";

const FIELDS = "input:not([type=hidden]), select, textarea";
const AT_ALL = -Infinity; // not by a person: as it came

const folds = new WeakMap(); // details -> {open, at}: as last seen, and when a person changed it
const touched = new WeakMap(); // field -> when
const scrolled = new Set();

/** Swap by `swap`, which is the answer to a request that left at `left`, asked by `asked`, with `sent`: a form, or null. */
export function overSwap(swap, request) {
  const before = remember(request);
  swap();
  queueMicrotask(() => restore(before)); // after enhance.js, which hears of new elements in the same way
}

/** What was typed into a form before then has been answered: from here on the answers know better. */
export function wasAnswered(form, before) {
  for (const field of form.elements) if (touched.get(field) < before) touched.delete(field);
}

function remember({ left, asked, sent }) {
  const isStale = (field) => touched.get(field) < left && sent?.contains(field); // then the answer knows better
  const all = (selector) => [...document.querySelectorAll(selector)];
  all("details").forEach(look);
  for (const element of scrolled) if (!element.isConnected) scrolled.delete(element);
  return {
    folds: all("details")
      .filter((fold) => folds.get(fold).at > (fold.contains(asked) ? left : AT_ALL)) // what was pressed in a fold may close it
      .map((fold) => ({ ...known(fold), ...folds.get(fold) })),
    fields: all(FIELDS)
      .filter((field) => touched.has(field) && !isStale(field))
      .map((field) => ({ ...known(field), at: touched.get(field), draft: draftOf(field), isKept: isKept(field) })),
    playing: all("audio")
      .filter((audio) => audio.currentTime > 0)
      .map((audio) => ({ ...known(audio), seconds: audio.currentTime, isPlaying: !audio.paused })),
    scrolled: [...scrolled].map((element) => ({ ...known(element), ...scrollOf(element) })),
    focus: focusNow(),
    page: { left: window.scrollX, top: window.scrollY },
  };
}

function restore({ folds: kept, fields, playing, scrolled: scrolls, focus, page }) {
  for (const [fold, { open, at }] of renewed(kept)) {
    const isRefused = fold.querySelector("[aria-invalid=true], .field-error") !== null;
    fold.open = open || isRefused;
    folds.set(fold, { open: fold.open, at });
  }
  for (const [field, { element, at, draft, isKept }] of renewed(fields)) {
    if (isKept && draftOf(field) !== draft) continue;
    touched.set(field, at);
    if (giveBack(element, field)) {
      for (const name of ["input", "change"]) field.dispatchEvent(new Event(name, { bubbles: true }));
    }
  }
  for (const [audio, { seconds, isPlaying }] of renewed(playing)) {
    audio.currentTime = seconds;
    if (isPlaying) audio.play().catch(() => {}); // it stands where it was, to be started by hand
  }
  for (const [element, { left, top, isAtEnd }] of renewed(scrolls)) {
    element.scrollTo({ left: isAtEnd ? element.scrollWidth : left, top, behavior: "instant" });
  }
  if (window.scrollY !== page.top) window.scrollTo({ ...page, behavior: "instant" });
  for (const [element, { selection, top }] of renewed(focus)) {
    if (![document.body, element].includes(document.activeElement)) continue; // the answer asks for the focus elsewhere
    element.focus({ preventScroll: true });
    if (selection) element.setSelectionRange(...selection);
    if (top !== null) window.scrollBy({ top: element.getBoundingClientRect().top - top, behavior: "instant" });
  }
}

/** The elements that stand now where others stood before the swap. */
function* renewed(before) {
  for (const each of before) {
    if (each.element.isConnected) continue;
    const scope = each.scope ? document.querySelector(each.scope) : document;
    const element = scope?.querySelectorAll(each.selector)[each.index];
    if (element) yield [element, each];
  }
}

const draftOf = (field) => field.form?.dataset.draft;

/** Whether a draft has what stands in its field: it came with the page, or was sent or fetched since (draft.js). */
const isKept = (field) => draftOf(field) !== undefined && field.value === (field.defaultValue ?? field.value);

/** How an element is known again. */
function known(element) {
  if (element.id) return { element, scope: "", selector: `#${CSS.escape(element.id)}`, index: 0 };
  const around = element.parentElement?.closest("[id], [aria-labelledby]");
  const attribute = (name, from = around) => (from?.hasAttribute(name) ? `[${name}="${CSS.escape(from.getAttribute(name))}"]` : "");
  const scope = around ? attribute("id") || attribute("aria-labelledby") : "";
  const isOneOfSeveral = element.matches("button, [type=radio], [type=checkbox]");
  const names = ["name", "href", "src", ...(isOneOfSeveral ? ["value"] : [])];
  const selector = element.localName + names.map((name) => attribute(name, element)).join("");
  const index = [...(around ?? document).querySelectorAll(selector)].indexOf(element);
  return { element, scope, selector, index };
}

/** True when the new field did not stand as the old one did. */
function giveBack(old, field) {
  if (old.type === "file") {
    field.files = old.files;
    return old.files.length > 0;
  }
  const what = ["checkbox", "radio"].includes(old.type) ? "checked" : "value";
  if (field[what] === old[what]) return false;
  field[what] = old[what];
  return true;
}

function focusNow() {
  const element = document.activeElement;
  if (!element || element === document.body) return [];
  const { top, bottom } = element.getBoundingClientRect();
  const isInSight = bottom > 0 && top < window.innerHeight;
  const hasCaret = typeof element.selectionStart === "number";
  const selection = hasCaret ? [element.selectionStart, element.selectionEnd, element.selectionDirection] : null;
  return [{ ...known(element), selection, top: isInSight ? top : null }];
}

function scrollOf(element) {
  const { scrollLeft, scrollTop, scrollWidth, clientWidth } = element;
  return { left: scrollLeft, top: scrollTop, isAtEnd: scrollLeft > 0 && scrollLeft + clientWidth >= scrollWidth - 1 };
}

function look(fold) {
  const seen = folds.get(fold);
  if (!seen) folds.set(fold, { open: fold.open, at: AT_ALL });
  else if (fold.open !== seen.open) folds.set(fold, { open: fold.open, at: performance.now() });
}

enhance("details", look);
document.addEventListener("toggle", (event) => event.target.matches?.("details") && look(event.target), true);
for (const name of ["input", "change"]) {
  document.addEventListener(name, (event) => touched.set(event.target, performance.now()), true);
}
document.addEventListener("scroll", (event) => event.target !== document && scrolled.add(event.target), true);

const leaving = new WeakMap(); // request -> when it left
const swapping = new WeakMap(); // request -> what was before its swap
document.addEventListener("htmx:beforeSend", ({ detail }) => leaving.set(detail.xhr, performance.now()));
document.addEventListener("htmx:beforeSwap", ({ detail: { shouldSwap, xhr, requestConfig } }) => {
  if (!shouldSwap) return;
  const asked = requestConfig.elt;
  const sent = requestConfig.verb === "get" ? null : asked.closest("form");
  swapping.set(xhr, remember({ left: leaving.get(xhr) ?? 0, asked, sent }));
});
document.addEventListener("htmx:afterSwap", ({ detail: { xhr } }) => {
  const before = swapping.get(xhr);
  swapping.delete(xhr);
  if (before) queueMicrotask(() => restore(before));
});
