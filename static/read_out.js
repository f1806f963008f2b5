// Reads out the figures of a drawing: under the pointer, and with the arrow keys when the drawing has the focus.

import { enhance } from "./enhance.js";
import { bindKeys } from "./keys.js";

enhance("svg[data-columns]", (drawing, signal) => {
  const names = JSON.parse(drawing.dataset.names);
  const columns = JSON.parse(drawing.dataset.columns);
  if (!columns.length) return;
  const height = drawing.viewBox.baseVal.height;
  const line = document.createElementNS(drawing.namespaceURI, "line");
  for (const [name, value] of [["y1", 0], ["y2", height], ["stroke", "currentColor"], ["stroke-width", 1], ["opacity", 0]]) {
    line.setAttribute(name, value);
  }
  drawing.append(line);
  const said = document.createElement("p");
  said.className = "read-out small";
  said.setAttribute("aria-live", "polite");
  said.textContent = "Point at the drawing, or use the arrow keys on it, to read its figures.";
  drawing.after(said);
  drawing.setAttribute("tabindex", "0");

  let at = -1;
  function read(index) {
    at = Math.max(0, Math.min(columns.length - 1, index));
    const [x, label, values] = columns[at];
    line.setAttribute("x1", x);
    line.setAttribute("x2", x);
    line.setAttribute("opacity", 0.6);
    said.textContent = `${label}: ${names.map((name, k) => `${name} ${values[k]}`).join("; ")}`;
  }

  const point = (event) => {
    const box = drawing.getBoundingClientRect();
    const x = ((event.clientX - box.left) / box.width) * drawing.viewBox.baseVal.width;
    let nearest = 0;
    for (let k = 1; k < columns.length; k += 1) {
      if (Math.abs(columns[k][0] - x) < Math.abs(columns[nearest][0] - x)) nearest = k;
    }
    read(nearest);
  };
  drawing.addEventListener("pointermove", point, { signal });
  bindKeys(
    {
      "ArrowRight": () => read(at + 1),
      "ArrowLeft": () => read(at - 1),
      "Home": () => read(0),
      "End": () => read(columns.length - 1),
    },
    { within: drawing, signal },
  );
});
