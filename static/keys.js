// Keys that go somewhere. What each does is told on /keys, which `?` shows in a dialog. They do nothing while one types,
// with a modifier, or where the person switched them off.

const WITHIN_MS = 1200; // the second of two keys

const KEYS = {
  "n": () => go("/next"),
  "j": () => focusOn("line") || go("/next#line"),
  "/": () => focusOn("masthead-find"),
  "g p": () => go("/projects"),
  "g g": () => go("/gear"),
  "?": showMap,
};

function go(address) {
  window.location.assign(address);
  return true;
}

function focusOn(id) {
  const field = document.getElementById(id);
  if (!field) return false;
  field.focus();
  field.select();
  return true;
}

async function showMap() {
  let dialog = document.getElementById("keys-dialog");
  if (!dialog) {
    const response = await fetch("/keys");
    if (!response.ok) return;
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    dialog = document.createElement("dialog");
    dialog.id = "keys-dialog";
    dialog.setAttribute("aria-label", "Keys");
    const close = document.createElement("button");
    close.textContent = "Close";
    close.autofocus = true;
    close.addEventListener("click", () => dialog.close());
    dialog.append(document.adoptNode(page.getElementById("keys")), close);
    const back = dialog.querySelector("[name=back]");
    if (back) back.value = window.location.pathname + window.location.search;
    document.body.append(dialog);
  }
  if (!dialog.open) dialog.showModal();
}

function isTyping(target) {
  return target.closest("textarea, select, dialog, audio, [contenteditable], input:not([type=checkbox], [type=radio])");
}

let first = "";
let firstAt = 0;

if (document.body.dataset.keys !== "off") {
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing || event.defaultPrevented) return;
    if (event.key === "Shift" || isTyping(event.target)) return;
    const both = `${first} ${event.key}`;
    const pressed = first && event.timeStamp - firstAt < WITHIN_MS && KEYS[both] ? both : event.key;
    first = event.key;
    firstAt = event.timeStamp;
    if (!KEYS[pressed]) return;
    event.preventDefault();
    first = "";
    KEYS[pressed]();
  });
}

if (window.location.hash === "#line") focusOn("line");

// The pass form: Enter in the jot line takes it over, Control and Enter anywhere saves, Escape leaves the line.
document.addEventListener("keydown", (event) => {
  const form = event.target.closest ? event.target.closest("form[data-draft]") : null;
  if (!form || event.isComposing) return;
  if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
    event.preventDefault();
    form.requestSubmit(form.querySelector("[name=do][value=save]"));
  } else if (event.key === "Enter" && event.target.id === "line") {
    event.preventDefault();
    form.querySelector("[name=do][value=jot]").click();
  } else if (event.key === "Escape" && event.target.id === "line") {
    event.target.blur();
  }
});

// What an unclear word could mean is taken with a press.
document.addEventListener("click", (event) => {
  const meant = event.target.closest ? event.target.closest("[data-meant]") : null;
  const line = document.getElementById("line");
  if (!meant || !line) return;
  event.preventDefault();
  line.value = line.value.replace(meant.dataset.words, meant.dataset.meant);
  line.focus();
  line.dispatchEvent(new Event("input", { bubbles: true }));
});
