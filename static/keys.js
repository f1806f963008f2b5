// The one place that listens for keys. A key is named as it is read: "n", "?", "g p" (one, then the other), "Space",
// "Enter", "Shift+ArrowUp", "Ctrl+z" (on a Mac the command key is as good).
//
// Single keys – characters without Ctrl – do nothing while one types, nor where the person switched them off
// (WCAG 2.2, 2.1.4). All others work wherever they are bound.

const WITHIN_MS = 1200; // the second of two keys
const TYPING = "textarea, select, dialog, audio, [contenteditable], input:not([type=checkbox], [type=radio], [type=range])";
const PRESSED_BY_SPACE = "button, a, summary, input";

const bindings = []; // {keys, within}
let first = { name: "", at: 0 };

/**
 * Bind keys until `signal` ends: {name: act}, while the focus is on or in `within`. The innermost binding takes the key;
 * an act that returns false leaves it to the next one and to the browser.
 */
export function bindKeys(keys, { within = document, signal } = {}) {
  if (signal?.aborted) return;
  const binding = { keys, within };
  bindings.push(binding);
  signal?.addEventListener("abort", () => bindings.splice(bindings.indexOf(binding), 1));
}

function nameOf(event) {
  const isCtrl = event.ctrlKey || event.metaKey;
  const key = event.key === " " ? "Space" : event.key;
  const isSaid = event.shiftKey && (isCtrl || key.length > 1); // "?" has its Shift in it
  const name = isCtrl && key.length === 1 ? key.toLowerCase() : key;
  return `${isCtrl ? "Ctrl+" : ""}${event.altKey ? "Alt+" : ""}${isSaid ? "Shift+" : ""}${name}`;
}

const isSingle = (name) => name === "Space" || name.length === 1;

function isFree(name, target) {
  if (document.body.dataset.keys === "off" || target.closest(TYPING)) return false;
  return name !== "Space" || !target.closest(PRESSED_BY_SPACE);
}

function take(name, event) {
  const around = bindings.filter(({ keys, within }) => keys[name] && within.contains(event.target));
  around.sort((one, other) => (one.within === other.within ? 0 : one.within.contains(other.within) ? 1 : -1));
  for (const { keys } of around) {
    if (keys[name](event) === false) continue;
    event.preventDefault();
    return true;
  }
  return false;
}

document.addEventListener("keydown", (event) => {
  if (event.isComposing || event.defaultPrevented || event.key === "Shift") return;
  const name = nameOf(event);
  if (name === "Space" && event.target.matches("a[role=button]")) {
    event.preventDefault(); // of itself a browser presses a link by Enter alone
    event.target.click();
    return;
  }
  if (!isSingle(name)) {
    take(name, event);
    return;
  }
  if (!isFree(name, event.target)) return;
  const { name: before, at } = first;
  first = { name: "", at: 0 };
  if (event.timeStamp - at < WITHIN_MS && take(`${before} ${name}`, event)) return;
  if (!take(name, event)) first = { name, at: event.timeStamp };
});
