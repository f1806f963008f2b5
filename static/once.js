// A form that is on its way is not sent a second time: a double click must not log two passes.

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post" || form.classList.contains("upload") || event.defaultPrevented) return;
  if (form.dataset.onItsWay) event.preventDefault();
  form.dataset.onItsWay = "yes";
});

// A page that comes back from the history may be sent again.
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("[data-on-its-way]")) delete form.dataset.onItsWay;
});
