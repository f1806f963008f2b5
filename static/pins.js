// Tap the picture: the place goes into the fields, and with a control chosen the pin is put.

import { enhance } from "./enhance.js";

enhance(".pin-picture svg", (picture, signal) => {
  const tap = (event) => {
    const form = document.querySelector("#pin-form");
    const box = picture.getBoundingClientRect();
    const place = (at, from, size) => ((100 * (at - from)) / size).toFixed(1);
    if (!form.elements.x) return;
    form.elements.x.value = place(event.clientX, box.left, box.width);
    form.elements.y.value = place(event.clientY, box.top, box.height);
    if (form.elements.control.value) form.requestSubmit();
    else form.elements.control.focus();
  };
  picture.addEventListener("click", tap, { signal });
});
