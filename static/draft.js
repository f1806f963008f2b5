// Keeps the pass form as one types: each change goes to the draft on the server, in order, once each. What could not be
// sent yet is said, and sent again. Saving sends the whole form, so it loses nothing even where this never ran.

const PAUSE_MS = 400; // of typing, or of turning, before it is kept
const AGAIN_MS = 2000;
const FIELDS = /^(title|notes|hook_up|levels|(control|placement|branch)-.+)$/;

/** A name for a jotting, by which the server knows it again. (crypto.randomUUID is not there on plain http.) */
export function newKey() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

function enhance(form) {
  if (form.dataset.enhanced) return;
  form.dataset.enhanced = "yes";
  const state = form.querySelector("#draft-state");
  const kept = new Map(); // what the server has, by field
  const changed = new Set(); // fields to look at when the pause is over
  let sending = null; // {key, fields}, until it has arrived; only then comes the next
  let underWay = null; // the request
  let pause = null;
  let isGone = false;

  for (const input of form.elements) if (FIELDS.test(input.name)) kept.set(input.name, input.value);

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

  async function send(isLeaving = false) {
    clearTimeout(pause);
    if (isGone || underWay) return;
    if (!sending) {
      const fields = collect();
      if (Object.keys(fields).length === 0) return;
      sending = { key: newKey(), fields };
    }
    const mine = sending;
    const request = new AbortController();
    underWay = request;
    let response;
    try {
      response = await fetch(`/drafts/${form.dataset.draft}/changes`, {
        method: "post",
        body: new URLSearchParams({ key: mine.key, ...mine.fields }),
        keepalive: isLeaving,
        signal: request.signal,
      });
    } catch {
      response = null;
    }
    if (underWay === request) underWay = null;
    if (sending !== mine || request.signal.aborted || !form.isConnected) return;
    if (response && (response.ok || response.status === 410 || response.status === 422)) {
      sending = null;
      for (const [name, value] of Object.entries(mine.fields)) kept.set(name, value);
      take(response.status, await response.json());
      if (changed.size > 0) send();
      return;
    }
    say("Dialback does not answer: the last changes are not kept yet. They stand here and are sent again.");
    pause = setTimeout(() => send(), AGAIN_MS);
  }

  function take(status, answer) {
    if (status === 410) {
      isGone = true;
      say("This pass was saved or begun anew elsewhere. What you change from here on is kept only when you save.");
      return;
    }
    if (answer.kept) {
      say(`Kept as you type, ${answer.kept}; not saved yet.`);
      form.querySelector("[name=do][value=discard]").hidden = false;
      form.querySelector("[name=do][value=undo]").disabled = !answer.undo;
      form.querySelector("[name=do][value=redo]").disabled = !answer.redo;
    }
    for (const input of form.querySelectorAll(".field > :is(input, textarea)")) {
      complain(input, (answer.refused || {})[input.name]);
    }
  }

  function noteChange(event) {
    const name = event.target.name;
    if (!name || !FIELDS.test(name)) return;
    changed.add(name);
    clearTimeout(pause);
    pause = setTimeout(() => send(), PAUSE_MS);
  }
  form.addEventListener("input", noteChange);
  form.addEventListener("change", noteChange);
  // The page may be gone in a moment: all that is on its way or waiting goes as one, and the browser sees it off.
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState !== "hidden" || !form.isConnected) return;
    const waiting = sending ? sending.fields : {};
    if (underWay) underWay.abort();
    underWay = null;
    sending = { key: newKey(), fields: { ...waiting, ...collect() } };
    if (Object.keys(sending.fields).length === 0) sending = null;
    else send(true);
  });

  /** The form's buttons send the whole form, with all that is still on its way. */
  const leaveItToTheForm = () => {
    clearTimeout(pause);
    if (underWay) underWay.abort();
  };
  form.addEventListener("htmx:beforeRequest", (event) => {
    if (event.target.tagName === "BUTTON") leaveItToTheForm();
  });
  form.addEventListener("submit", leaveItToTheForm);
  form.addEventListener("htmx:afterRequest", (event) => {
    if (!event.detail.successful && form.isConnected) send();
  });
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

function enhanceAll(root) {
  if (root.matches && root.matches("form[data-draft]")) enhance(root);
  root.querySelectorAll("form[data-draft]").forEach(enhance);
}

enhanceAll(document);
document.addEventListener("htmx:load", (event) => enhanceAll(event.target));

// Undo and redo of settings, where the keys would not undo typing.
document.addEventListener("keydown", (event) => {
  if (event.key.toLowerCase() !== "z" || !(event.ctrlKey || event.metaKey) || event.altKey) return;
  if (event.target.closest("textarea, select, input:not([type=checkbox], [type=radio])")) return;
  const button = document.querySelector(`form[data-draft] [name=do][value=${event.shiftKey ? "redo" : "undo"}]`);
  if (!button || button.disabled) return;
  event.preventDefault();
  button.click();
});
