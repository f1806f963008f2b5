// Says so when the server did not do what a button asked: htmx alone would leave the page as if nothing had been pressed.

const SILENT = "Dialback does not answer. Is it still running? What you typed still stands here.";

/** To htmx a refusal is a success, for its page is shown. */
export const wasDone = ({ detail }) => detail.successful && detail.xhr.status !== 422;

function say(asking, sentence) {
  let note = document.getElementById("unanswered");
  if (!note) {
    note = document.createElement("p");
    note.id = "unanswered";
    note.className = "notice fault";
    note.setAttribute("role", "alert");
  }
  const place = asking.closest(".actions") || asking;
  if (place.nextElementSibling !== note) place.after(note);
  if (note.textContent !== sentence) note.textContent = sentence;
}

document.addEventListener("htmx:sendError", (event) => say(event.detail.requestConfig.elt, SILENT));
document.addEventListener("htmx:responseError", (event) => {
  say(event.detail.requestConfig.elt, `This was not done (answer ${event.detail.xhr.status}). What you typed still stands here; try again.`);
});
document.addEventListener("htmx:afterRequest", (event) => {
  if (wasDone(event)) document.getElementById("unanswered")?.remove();
});

// A form that shows nothing of its answer has no field for a refusal: its sentences stand behind the form.
document.addEventListener("htmx:beforeSwap", ({ detail }) => {
  const form = detail.requestConfig.elt;
  if (detail.xhr.status !== 422 || form.getAttribute("hx-swap") !== "none") return;
  const page = new DOMParser().parseFromString(detail.xhr.responseText, "text/html");
  const sentences = [...page.querySelectorAll(".field-error, [data-sentence]")].map((said) => said.textContent.trim());
  say(form, sentences.join(" "));
});
