// The jot line of the pass form: Enter takes it over, Escape leaves it, and what an unclear word could mean is taken
// with a press.

import { enhance } from "./enhance.js";
import { bindKeys } from "./keys.js";

enhance("#line", (line, signal) => {
  const takeOver = () => [...line.form.elements].find(({ name, value }) => name === "do" && value === "jot").click();
  bindKeys(
    {
      "Enter": takeOver,
      "Shift+Enter": takeOver,
      "Escape": () => line.blur(),
    },
    { within: line, signal },
  );
});

enhance("[data-meant]", (meant, signal) => {
  const take = () => {
    const line = document.getElementById("line");
    line.value = line.value.replace(meant.dataset.words, meant.dataset.meant);
    line.focus();
    line.dispatchEvent(new Event("input", { bubbles: true }));
  };
  meant.addEventListener("click", take, { signal });
});

// A chain on one line: Enter puts it together; a piece that could be another is that with a press.
enhance("#chain-line", (line, signal) => {
  const together = () => [...line.form.elements].find(({ name, value }) => name === "do" && value === "chain").click();
  bindKeys({ "Enter": together }, { within: line, signal });
});

enhance("[data-instead]", (other, signal) => {
  const take = () => {
    const line = document.getElementById("chain-line");
    line.value = line.value.replace(other.dataset.of, other.dataset.instead);
    line.focus();
    line.dispatchEvent(new Event("input", { bubbles: true }));
  };
  other.addEventListener("click", take, { signal });
});
