// Marks in a photo of a panel: choose a row, tap the centre and drag to the edge. A corner is one tap. What is under the
// finger is shown enlarged in the opposite corner of the picture. The fields hold what is marked, so the form works as it is.

import { enhance } from "./enhance.js";
import { bindKeys } from "./keys.js";

const LENS = 0.3; // of the picture's shorter side
const ENLARGED = 4;

enhance("[data-marks]", (stage, signal) => {
  const form = stage.closest("form");
  const picture = stage.querySelector("svg");
  const { width, height } = picture.viewBox.baseVal;
  const element = (kind) => document.createElementNS(picture.namespaceURI, kind);
  const side = Math.min(width, height);
  const drawn = picture.appendChild(element("g"));
  const lens = picture.appendChild(element("g"));
  let last = null; // the pair of fields that arrow keys move

  const picked = () => form.querySelector("input[name=pick]:checked")?.value ?? "";
  const field = (name) => form.elements[name];
  const pairOf = (name, edge = false) => {
    const at = edge ? [`${name}-edge_x`, `${name}-edge_y`] : [`${name}-x`, `${name}-y`];
    return at.map(field);
  };
  const put = (pair, place) => {
    pair[0].value = ((100 * place.x) / width).toFixed(2);
    pair[1].value = ((100 * place.y) / height).toFixed(2);
    last = pair;
    draw();
  };
  const placeIn = ([x, y]) => (x.value && y.value ? { x: (x.value * width) / 100, y: (y.value * height) / 100 } : null);
  const shape = (kind, attributes, within = drawn) => {
    const made = within.appendChild(element(kind));
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
    return made;
  };

  function draw() {
    drawn.replaceChildren();
    const corners = [0, 1, 2, 3].map((at) => placeIn(pairOf(`corner-${at}`)));
    if (corners.every(Boolean)) {
      const points = corners.map(({ x, y }) => `${x},${y}`).join(" ");
      shape("polygon", { points, class: "panel-outline", "stroke-width": side / 250 });
    }
    corners.forEach((place, at) => place && dot(place, picked() === `corner-${at}`));
    form.querySelectorAll("input[name=pick]").forEach(({ value }) => {
      if (value.startsWith("corner")) return;
      const [centre, edge] = [placeIn(pairOf(value)), placeIn(pairOf(value, true))];
      if (!centre) return;
      const chosen = picked() === value;
      if (edge && field(`${value}-look`).value === "fader") {
        shape("line", { x1: centre.x, y1: centre.y, x2: edge.x, y2: edge.y, class: mark(chosen), "stroke-width": side / 200 });
      } else if (edge) {
        const r = Math.hypot(edge.x - centre.x, edge.y - centre.y);
        shape("circle", { cx: centre.x, cy: centre.y, r, class: mark(chosen), "stroke-width": side / 200 });
      }
      dot(centre, chosen);
    });
  }
  const mark = (chosen) => (chosen ? "panel-mark is-chosen" : "panel-mark");
  const dot = ({ x, y }, chosen) =>
    shape("circle", { cx: x, cy: y, r: side / 120, class: mark(chosen), "stroke-width": side / 300 });

  function enlarge(place) {
    lens.replaceChildren();
    if (!place) return;
    const size = side * LENS;
    const at = { x: place.x < width / 2 ? width - size : 0, y: place.y < height / 2 ? height - size : 0 };
    const inner = shape("svg", { x: at.x, y: at.y, width: size, height: size, class: "panel-lens" }, lens);
    const seen = size / ENLARGED;
    inner.setAttribute("viewBox", `${place.x - seen / 2} ${place.y - seen / 2} ${seen} ${seen}`);
    inner.append(picture.querySelector("image").cloneNode());
    const cross = { class: "panel-mark is-chosen", "stroke-width": seen / 150 };
    shape("line", { x1: place.x - seen / 2, x2: place.x + seen / 2, y1: place.y, y2: place.y, ...cross }, inner);
    shape("line", { x1: place.x, x2: place.x, y1: place.y - seen / 2, y2: place.y + seen / 2, ...cross }, inner);
  }

  const placeOf = (event) => {
    const box = picture.getBoundingClientRect();
    const within = (value, most) => Math.max(0, Math.min(most, value));
    return {
      x: within(((event.clientX - box.left) * width) / box.width, width),
      y: within(((event.clientY - box.top) * height) / box.height, height),
    };
  };
  const isCorner = () => picked().startsWith("corner");

  picture.addEventListener(
    "pointerdown",
    (event) => {
      if (!picked()) return;
      event.preventDefault();
      picture.setPointerCapture(event.pointerId);
      put(pairOf(picked()), placeOf(event));
      enlarge(placeOf(event));
    },
    { signal },
  );
  picture.addEventListener(
    "pointermove",
    (event) => {
      if (!picture.hasPointerCapture(event.pointerId)) return;
      put(pairOf(picked(), !isCorner()), placeOf(event));
      enlarge(placeOf(event));
    },
    { signal },
  );
  picture.addEventListener(
    "pointerup",
    () => {
      enlarge(null);
      if (isCorner()) choose(1);
      else if (placeIn(pairOf(picked(), true))) field(`${picked()}-stands`).focus({ preventScroll: true });
    },
    { signal },
  );
  function choose(by) {
    const all = [...form.querySelectorAll("input[name=pick]")];
    const next = all[all.findIndex((one) => one.checked) + by];
    if (!next) return;
    next.checked = true;
    draw();
  }
  const moveBy = (dx, dy, steps) => () => {
    if (!last) return false;
    const place = placeIn(last);
    put(last, { x: place.x + (dx * steps * side) / 1000, y: place.y + (dy * steps * side) / 1000 });
    enlarge(placeIn(last));
    return true;
  };
  for (const [way, dx, dy] of [["Left", -1, 0], ["Right", 1, 0], ["Up", 0, -1], ["Down", 0, 1]]) {
    const keys = { [`Arrow${way}`]: moveBy(dx, dy, 1), [`Shift+Arrow${way}`]: moveBy(dx, dy, 10) };
    bindKeys(keys, { within: picture, signal });
  }
  picture.setAttribute("tabindex", "0");
  picture.addEventListener("blur", () => enlarge(null), { signal });
  form.addEventListener("input", draw, { signal });
  form.addEventListener("change", draw, { signal });
  draw();
});
