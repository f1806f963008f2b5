// A source's page: the next pass is a column of the ledger, jotted, saved and inked where it stands. What is shown comes
// from the server; this module sends what is pressed and asks for the ledger, or some of its cells, anew.

import { enhance } from "./enhance.js";
import { putInto } from "./grid.js";
import { bindKeys } from "./keys.js";
import { put } from "./queue.js";
import { wasAnswered } from "./swaps.js";
import { wasDone } from "./unanswered.js";

const SETTLED_MS = 250; // several changes at once are looked at once
const NARROW = "(max-width: 40rem)"; // there the pass form is the page to jot on

const KEYS = {
  "k": () => openReason(),
};

const column = () => document.getElementById("open-column");
const line = () => document.getElementById("line");

// One after the other: what is asked for later is shown later. Each request has an element of its own as its source, for
// htmx lets those of one source wait for one another, and forgets all that wait but the last.
let looking = Promise.resolve();

function inTurn(look) {
  looking = looking.catch(() => {}).then(look);
  return looking;
}

/** The ledger anew, as it is looked at; `change` sets or, with null, drops a word of its address. */
export function showAnew(change = {}) {
  return inTurn(async () => {
    const part = document.getElementById("ledger");
    if (!part) return;
    const address = new URL(part.dataset.address, window.location);
    for (const [name, value] of Object.entries(change)) {
      if (value === null) address.searchParams.delete(name);
      else address.searchParams.set(name, value);
    }
    await window.htmx.ajax("GET", address.pathname + address.search, { source: part, target: part, swap: "outerHTML" });
  });
}

/** In the column that is open, else at the foot of the page's head. */
export function say(words) {
  const state = document.getElementById("draft-state") ?? document.getElementById("desk-state");
  if (state) state.textContent = words;
}

/** Sends something of the column behind all that was typed into it. Resolves with {status, answer}. */
async function send(form, verb, fields) {
  const typed = [];
  form.dispatchEvent(new CustomEvent("dialback:send", { detail: { waitFor: (promise) => typed.push(promise) } }));
  await Promise.all(typed);
  const { answered } = await put(`/drafts/${form.dataset.draft}/${verb}`, fields);
  return answered;
}

/** It becomes ink where it stands. Resolves with the pass, or with null where something is still wrong. */
async function save(form, isWaiting) {
  const chain = document.getElementById("chain-line")?.value ?? "";
  const fields = { chain, line: line()?.value ?? "", wait: isWaiting ? "yes" : "" };
  const { status, answer } = await send(form, "save", fields);
  if (status === 200 || status === 410) {
    await showAnew({ column: null, like: null });
    document.querySelector(`th[data-pass="${answer.pass_id}"] .pass-number`)?.focus({ preventScroll: true });
    say(answer.said ?? "");
    return answer.pass_id;
  }
  const [[field, sentence] = ["", "It could not be saved; what was typed is kept."]] = Object.entries(answer.refused ?? {});
  await showAnew();
  say(sentence);
  document.getElementById(field)?.focus();
  return null;
}

/** The open column as a logged pass. */
export const openPass = () => save(column(), false);

/** Any other button of the column: gear, undo, the jot line. */
export async function press(form, does) {
  const fields = { do: does };
  if (does === "add") fields.add_gear = document.querySelector("[form=open-column][name=add_gear]").value;
  if (does === "jot" || does === "words") fields.line = line().value;
  if (does === "chain") fields.chain = document.getElementById("chain-line").value;
  if (does === "take") fields.chain_of = document.getElementById("chain-of").value;
  const pressed = performance.now();
  const { status, answer } = await send(form, "changes", fields);
  if (status === 200) wasAnswered(form, pressed);
  await showAnew(does === "discard" ? { column: null, like: null } : {});
  if (status !== 200) say(Object.values(answer.refused ?? {})[0] ?? answer.gone ?? "It could not be done.");
  if (does === "chain" && status === 200) line()?.focus();
  if (!("line" in fields) || !line()) return;
  line().value = answer.line ?? "";
  if (document.activeElement === document.body) line().focus(); // not where one went on meanwhile
  if (answer.puzzling?.length) explain(form.dataset.draft, answer.line);
}

/** What is puzzling in the line, and what it could mean. The line's own asking is not bound yet where the ledger came in just now. */
function explain(draft, words) {
  const said = document.getElementById("jot-said");
  window.htmx.ajax("GET", `/drafts/${draft}/line?${new URLSearchParams({ line: words })}`, { source: said, target: said, swap: "innerHTML" });
}

enhance("form#open-column", (form, signal) => {
  const pressed = (event) => {
    const button = event.target.closest("button[name=do]");
    if (button?.form !== form) return;
    event.preventDefault();
    if (button.value === "save" || button.value === "save-waiting") save(form, button.value === "save-waiting");
    else press(form, button.value);
  };
  document.addEventListener("click", pressed, { signal });
  form.addEventListener("submit", (event) => event.preventDefault(), { signal });

  // A cell that was kept comes back as the server reads it.
  const wanted = new Set();
  const kept = ({ detail: { names } }) => {
    for (const name of names) if (name.includes("-")) wanted.add(name);
    if (wanted.size === 0) return;
    inTurn(async () => {
      const count = document.getElementById("turned");
      if (!form.isConnected || wanted.size === 0 || !count) return;
      const asked = new URLSearchParams([...wanted].map((name) => ["field", name]));
      wanted.clear();
      const address = `/drafts/${form.dataset.draft}/cells?${asked}`;
      await window.htmx.ajax("GET", address, { source: count, target: count, swap: "none" });
    });
  };
  form.addEventListener("dialback:jotted", kept, { signal });
  const rewired = (event) => {
    event.preventDefault();
    showAnew();
  };
  form.addEventListener("dialback:rewired", rewired, { signal });
  const isInside = ({ target }) => !target.form || target.form === form; // another form has a chord of its own
  bindKeys(
    {
      "Ctrl+Enter": (event) => isInside(event) && void save(form, false),
      "Ctrl+Shift+Enter": (event) => isInside(event) && void save(form, true),
    },
    { signal },
  );
});

enhance("[data-put-back]", (button, signal) => {
  const back = () => putInto(document.getElementById(button.dataset.putBack), button.dataset.value);
  button.addEventListener("click", back, { signal });
});

// The next pass opens as a column, a copy of the last or of the one it goes on from.
enhance(".desk-head [data-next], #ledger [data-next-from]", (next, signal) => {
  const open = async (event) => {
    if (window.matchMedia(NARROW).matches) return;
    event.preventDefault();
    next.closest(".menu")?.removeAttribute("open");
    await showAnew({ column: "open", like: next.dataset.nextFrom ?? null });
    (document.getElementById("chain-line") ?? line())?.focus();
  };
  next.addEventListener("click", open, { signal });
});

// What is ticked stays ticked when the ledger comes back anew; two of them are told apart below it.
const ticked = new Set();
enhance("#ledger input[name=pass][type=checkbox]", (box, signal) => {
  box.checked = ticked.has(box.value);
  const changed = () => {
    if (box.checked) ticked.add(box.value);
    else ticked.delete(box.value);
    for (const twin of document.querySelectorAll(`#ledger input[name=pass][value="${box.value}"]`)) twin.checked = box.checked;
    document.querySelector("[data-ticked]").textContent = ticked.size ? ` ${ticked.size}` : "";
    const pair = document.getElementById("pair");
    if (ticked.size !== 2) pair.replaceChildren();
    else window.htmx.ajax("GET", `/compare/pair?${[...ticked].map((id) => `pass=${id}`).join("&")}`, { source: pair, target: pair, swap: "innerHTML" });
  };
  box.addEventListener("change", changed, { signal });
});

// What changed elsewhere is shown; swaps.js keeps what one has under one's hands.
enhance("#ledger", (part, signal) => {
  let settling = null;
  const look = () => {
    clearTimeout(settling);
    settling = setTimeout(() => showAnew(), SETTLED_MS);
  };
  const isShown = (path) => !/^\/(drafts|preferences)\b/.test(path) || /^\/drafts\/\d+\/photos$/.test(path);
  const heard = ({ detail: { path } }) => isShown(path) && look();
  document.addEventListener("dialback:changed", heard, { signal });
  if ("coming" in part.dataset) document.addEventListener("dialback:finished", look, { signal });
  signal.addEventListener("abort", () => clearTimeout(settling));
});

// A ledger that is opened wider than the window shows its newest end.
if (window.scrollX === 0 && document.querySelector("#ledger .is-desk")?.scrollWidth > window.innerWidth) {
  window.scrollTo({ left: document.documentElement.scrollWidth, top: window.scrollY });
}

// Further back, further passes: at the left edge of a ledger that was opened that way already, the next come in.
const AT_EDGE_PX = 24;
enhance("#ledger .rail a[data-goes-on]", (link, signal) => {
  let before = window.scrollX;
  const moved = () => {
    if (window.scrollX <= AT_EDGE_PX && before > AT_EDGE_PX) link.click();
    before = window.scrollX;
  };
  window.addEventListener("scroll", moved, { passive: true, signal });
});

// Judging a pass in its menu: what was judged is shown where the pass stands.
enhance("[data-then=ledger]", (form, signal) => {
  const judged = (event) => {
    if (!wasDone(event)) return;
    form.closest(".menu")?.removeAttribute("open");
    showAnew();
  };
  form.addEventListener("htmx:afterRequest", judged, { signal });
});

/** The reason to keep the pass whose column has the focus, else of the one that is heard. */
function openReason() {
  const column = document.activeElement.closest("#ledger [data-pass]") ?? document.querySelector("#ledger th.is-heard");
  const menu = document.querySelector(`#ledger th[data-pass="${column?.dataset.pass}"] .menu`);
  if (!menu) return false;
  const write = () => menu.querySelector("[name=reason]")?.focus();
  menu.addEventListener("htmx:afterSettle", write, { once: true });
  menu.open = true;
  write();
  return true;
}

bindKeys(KEYS);

enhance(".menu", (menu, signal) => {
  const close = () => {
    if (!menu.open) return false;
    menu.open = false;
    menu.querySelector("summary").focus();
    return true;
  };
  bindKeys({ "Escape": close }, { within: menu, signal });
  const elsewhere = ({ target }) => menu.contains(target) || menu.removeAttribute("open");
  document.addEventListener("pointerdown", elsewhere, { signal });
});
