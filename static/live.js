// What is changed elsewhere is told to this page at once (server-sent events), as an event on the document:
// "dialback:changed" with {path, by}, and "dialback:hello" whenever Dialback answers again. Only a page that is looked at
// listens: a browser allows few connections at once, and a page that comes back looks at everything anew.

import { PAGE } from "./queue.js";

let events = null;

function listen() {
  if (events || document.visibilityState === "hidden") return;
  events = new EventSource("/events");
  events.addEventListener("hello", () => document.dispatchEvent(new CustomEvent("dialback:hello")));
  events.addEventListener("changed", (event) => {
    const change = JSON.parse(event.data);
    if (change.by !== PAGE) document.dispatchEvent(new CustomEvent("dialback:changed", { detail: change }));
  });
}

function stop() {
  events?.close();
  events = null;
}

document.addEventListener("visibilitychange", () => (document.visibilityState === "hidden" ? stop() : listen()));
window.addEventListener("pagehide", stop);
window.addEventListener("pageshow", listen);
document.addEventListener("htmx:configRequest", (event) => (event.detail.headers["X-Page"] = PAGE));
listen();
