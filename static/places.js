// Keys that go somewhere. What each does is told on /keys, which `?` shows in a dialog.

import { bindKeys } from "./keys.js";

const KEYS = {
  "n": () => openColumn() || window.location.assign("/next?at=desk"),
  "j": () => goToLine() || openColumn() || window.location.assign("/next?at=desk"),
  "/": () => focusOn("masthead-find"),
  "g p": () => window.location.assign("/projects"),
  "g g": () => window.location.assign("/gear"),
  "?": () => void showMap(),
};

const goToLine = () => focusOn("line");

/** On a source's page the next pass opens where it stands (desk.js). */
function openColumn() {
  const next = document.querySelector(".desk-head [data-next]");
  next?.click();
  return Boolean(next);
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

bindKeys(KEYS);
if (window.location.hash === "#line") goToLine();
