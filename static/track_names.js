// Copies a proposed name with one press. Where the browser keeps the clipboard to itself (plain http on the network) the
// name is selected, ready for the keys.

function show(root) {
  root.querySelectorAll("[data-copies][hidden]").forEach((button) => (button.hidden = false));
}

document.addEventListener("click", async (event) => {
  const button = event.target.closest("[data-copies]");
  if (!button) return;
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
});

show(document);
document.addEventListener("htmx:load", (event) => show(event.target));
