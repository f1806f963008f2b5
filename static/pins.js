// Tap the picture: the place goes into the fields, and with a control chosen the pin is put.

const form = document.querySelector("#pin-form");
const picture = document.querySelector(".pin-picture svg");
picture?.addEventListener("click", (event) => {
  const box = picture.getBoundingClientRect();
  const place = (at, from, size) => ((100 * (at - from)) / size).toFixed(1);
  if (!form.elements.x) return;
  form.elements.x.value = place(event.clientX, box.left, box.width);
  form.elements.y.value = place(event.clientY, box.top, box.height);
  if (form.elements.control.value) form.requestSubmit();
  else form.elements.control.focus();
});
