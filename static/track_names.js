// Copies a proposed name with one press. Where the browser keeps the clipboard to itself (plain http on the network) the
// name is selected, ready for the keys.

import { enhance } from "./enhance.js";

async function copy(button) {
  const name = button.closest(".track-name").querySelector("input");
  const said = button.closest(".track-names").querySelector("[data-copied]");
  name.select();
  try {
    await navigator.clipboard.writeText(name.value);
    said.textContent = `Copied: ${name.value}`;
  } catch {
    name.focus();
    said.textContent = "Selected: copy it with Ctrl+C (⌘C).";
  }
}

enhance("[data-copies]", (button, signal) => {
  button.hidden = false;
  button.addEventListener("click", () => copy(button), { signal });
});
