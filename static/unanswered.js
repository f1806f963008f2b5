// Says so when the server did not do what a button asked: htmx alone would leave the page as if nothing had been pressed.

const SILENT = "Dialback does not answer. Is it still running? What you typed still stands here.";

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
  if (event.detail.successful) document.getElementById("unanswered")?.remove();
});
