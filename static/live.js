// What is changed elsewhere is told to this page at once (server-sent events), as an event on the document:
// "dialback:changed" with {path, by}, "dialback:hello" whenever Dialback answers again, and "dialback:finished" when
// something was measured, made or answered (or may have been, at a hello): parts that show what is awaited ask again.
// Only a page that is looked at listens: a browser allows few connections at once, and a page that comes back looks at
// everything anew.

import { PAGE } from "./queue.js";

let events = null;
let finishedAt = 0;

const announce = () => document.dispatchEvent(new CustomEvent("dialback:finished"));

function finished() {
  finishedAt = performance.now();
  announce();
}

function listen() {
  if (events || document.visibilityState === "hidden") return;
  events = new EventSource("/events");
  events.addEventListener("hello", () => {
    document.dispatchEvent(new CustomEvent("dialback:hello"));
    finished(); // what ended while nobody listened
  });
  events.addEventListener("changed", (event) => {
    const change = JSON.parse(event.data);
    if (change.path.startsWith("/finished/")) finished();
    else if (change.by !== PAGE) document.dispatchEvent(new CustomEvent("dialback:changed", { detail: change }));
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
// What was finished while a part was being asked for may be missing in the answer: the part that came asks once more.
document.addEventListener("htmx:beforeSend", ({ detail }) => (detail.xhr.askedAt = performance.now()));
document.addEventListener("htmx:afterSettle", ({ detail }) => {
  if (detail.xhr?.askedAt < finishedAt) announce();
});
// Not before htmx has bound the parts that wait: what is told before that is lost to them.
document.addEventListener("DOMContentLoaded", listen);
