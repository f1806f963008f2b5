// Keeps the pass form as one types: each change goes through the page's queue to the draft on the server, in order, once
// each; and what is changed in the draft elsewhere comes in. Saving sends the whole form, so it loses nothing even where
// this never ran.

import { enhance } from "./enhance.js";
import { bindKeys } from "./keys.js";
import { released } from "./pressing.js";
import { allArrived, put, withdraw } from "./queue.js";

const PAUSE_MS = 400; // of typing, or of turning, before it is kept
const WORDS = "textarea, select, input:not([type=checkbox], [type=radio])"; // there the keys undo typing

enhance("form[data-draft]", (form, signal) => {
  const fields = new RegExp(`^(?:${form.dataset.fields})$`); // the grammar of a field's name is the desk's
  const state = document.getElementById("draft-state");
  const address = `/drafts/${form.dataset.draft}`;
  const kept = new Map(); // what the server has or is on its way to it, by field
  const changed = new Set(); // fields to look at when the pause is over
  let pause = null;
  let isGone = false;

  for (const input of form.elements) if (fields.test(input.name)) kept.set(input.name, input.value);

  /** Its buttons and fields may stand outside of the form, in the cells of a ledger. */
  const buttons = (value) => [...form.elements].filter((each) => each.name === "do" && each.value === value);
  const button = (value) => buttons(value)[0];

  function say(words) {
    if (state.textContent !== words) state.textContent = words;
  }

  function collect() {
    const fields = {};
    for (const name of changed) {
      const input = form.elements.namedItem(name);
      if (input && input.value !== kept.get(name)) fields[name] = input.value;
    }
    changed.clear();
    return fields;
  }

  /** Put what was changed into the page's queue, which sees to it that it arrives. */
  async function send(isLeaving = false) {
    clearTimeout(pause);
    const fields = isGone ? {} : collect();
    if (Object.keys(fields).length === 0) return;
    for (const [name, value] of Object.entries(fields)) kept.set(name, value);
    const { answered } = await put(`${address}/changes`, fields, { isLeaving });
    const { status, answer } = await answered;
    if (status === 200) for (const [name, value] of Object.entries(fields)) has(form.elements.namedItem(name), value);
    await released();
    if (!form.isConnected) return;
    take(status, answer);
    tell(Object.keys(fields));
  }

  /** What shows these fields as the server reads them is told that it knows them now. */
  function tell(names) {
    form.dispatchEvent(new CustomEvent("dialback:jotted", { bubbles: true, detail: { names } }));
  }

  function take(status, answer) {
    if (status === 410) {
      isGone = true;
      say("This pass was saved or begun anew elsewhere. What you change from here on is kept only when you save.");
      return;
    }
    if (answer.kept) {
      say(`Kept as you type, ${answer.kept}; not saved yet.`);
      for (const each of buttons("discard")) each.hidden = false;
      for (const each of buttons("undo")) each.disabled = !answer.undo;
      for (const each of buttons("redo")) each.disabled = !answer.redo;
    }
    for (const input of form.querySelectorAll(".field > :is(input, textarea)")) {
      complain(input, (answer.refused || {})[input.name]);
    }
  }

  function noteChange(event) {
    const name = event.target.name;
    if (event.target.form !== form || !fields.test(name)) return;
    changed.add(name);
    clearTimeout(pause);
    pause = setTimeout(() => send(), PAUSE_MS);
  }
  signal.addEventListener("abort", () => clearTimeout(pause)); // what came in its place was given what stood here
  document.addEventListener("input", noteChange, { signal });
  document.addEventListener("change", noteChange, { signal });
  form.addEventListener("dialback:send", ({ detail }) => detail.waitFor(send()), { signal });
  const leave = () => document.visibilityState === "hidden" && send(true);
  document.addEventListener("visibilitychange", leave, { signal });

  /** The form's buttons send the whole form, with all that is still on its way. */
  let withForm = [];
  const leaveItToTheForm = async () => {
    clearTimeout(pause);
    withForm = await withdraw(`${address}/changes`);
  };
  const isAsking = (event) => {
    if (event.target.tagName === "BUTTON") leaveItToTheForm();
  };
  form.addEventListener("htmx:beforeRequest", isAsking, { signal });
  form.addEventListener("submit", leaveItToTheForm, { signal });
  const isAnswered = (event) => {
    if (event.detail.successful || !form.isConnected) return;
    for (const fields of withForm) for (const name of Object.keys(fields)) changed.add(name), kept.delete(name);
    withForm = [];
    send();
  };
  form.addEventListener("htmx:afterRequest", isAnswered, { signal });

  /** What was changed on the other device is taken over, but for what stands under the hands here. */
  async function lookAgain() {
    await allArrived();
    if (isGone || !form.isConnected) return;
    const asked = new Map(kept);
    const response = await fetch(address).catch(() => null);
    if (!response?.ok || !form.isConnected) return;
    const whole = await response.json();
    if (whole.gone) {
      take(410, whole);
      return;
    }
    const chain = [...form.querySelectorAll("[name^=steps-][name$=-layout]")].map((input) => Number(input.value));
    if (String(chain) !== String(whole.chain.map(([, layout]) => layout))) {
      form.dispatchEvent(new CustomEvent("dialback:rewired", { bubbles: true, cancelable: true })) && window.location.reload();
      return;
    }
    const isNew = [];
    for (const input of form.elements) {
      if (!fields.test(input.name) || input === document.activeElement || changed.has(input.name)) continue;
      if (kept.get(input.name) !== asked.get(input.name)) continue; // typed since: the answer cannot know it
      const value = whole.values[input.name] ?? "";
      if (input.value === value) continue;
      kept.set(input.name, value);
      input.value = value;
      has(input, value);
      input.dispatchEvent(new Event("change", { bubbles: true }));
      isNew.push(input.name);
    }
    if (isNew.length === 0) return;
    take(200, whole);
    tell(isNew);
  }
  const isMine = ({ path }) => path.startsWith(`${address}/`) || path === form.getAttribute("action");
  const heard = (event) => {
    if (isMine(event.detail)) lookAgain();
  };
  document.addEventListener("dialback:changed", heard, { signal });
  document.addEventListener("dialback:hello", lookAgain, { signal });

  bindKeys({ "Ctrl+Enter": () => form.requestSubmit(button("save")) }, { within: form, signal });
  const unlessTyping = (value) => (event) => {
    if (event.target.closest(WORDS) || button(value).disabled) return false;
    button(value).click();
    return true;
  };
  bindKeys({ "Ctrl+z": unlessTyping("undo"), "Ctrl+Shift+z": unlessTyping("redo") }, { signal });
});

/** The draft has this value of a field: it need not outlive the draft (swaps.js). */
function has(input, value) {
  if (input && input.type !== "hidden" && "defaultValue" in input) input.defaultValue = value;
}

/** The sentence at a field of words; a control says its own (dial.js). */
function complain(input, sentence) {
  const field = input.closest(".field");
  let error = field.querySelector(".field-error");
  if (!sentence) {
    if (error && error.dataset.while) {
      error.remove();
      input.removeAttribute("aria-invalid");
    }
    return;
  }
  if (!error) {
    error = document.createElement("span");
    error.className = "field-error";
    error.id = `${input.id}-error`;
    error.setAttribute("role", "alert");
    input.setAttribute("aria-describedby", `${input.getAttribute("aria-describedby") || ""} ${error.id}`.trim());
    field.append(error);
  }
  error.dataset.while = "typing";
  error.textContent = sentence;
  input.setAttribute("aria-invalid", "true");
}
