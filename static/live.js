// What is changed elsewhere is told to this page at once (server-sent events), as an event on the document:
// "dialback:changed" with {path, by}, and "dialback:hello" whenever Dialback answers again.

import { PAGE } from "./queue.js";

const events = new EventSource("/events");
events.addEventListener("hello", () => document.dispatchEvent(new CustomEvent("dialback:hello")));
events.addEventListener("changed", (event) => {
  const change = JSON.parse(event.data);
  if (change.by !== PAGE) document.dispatchEvent(new CustomEvent("dialback:changed", { detail: change }));
});
window.addEventListener("pagehide", () => events.close());
window.addEventListener("pageshow", (event) => {
  if (event.persisted) window.location.reload(); // the stream ended when the page was put aside
});
document.addEventListener("htmx:configRequest", (event) => (event.detail.headers["X-Page"] = PAGE));
