// The page's queue: what is jotted or photographed is put into the browser's own store first, then sent to Dialback in
// order, each thing once (the server knows its key again). While the network is away it waits, also over a reload, and
// the page says what is waiting. On plain http there is no service worker: the queue lives while a page is open.

const AGAIN_MS = 3000;
const SMALL_BYTES = 60_000; // what a browser still sends while the page is being left

/** A name for a jotting, by which the server knows it again. (crypto.randomUUID is not there on plain http.) */
export function newKey() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** What this page goes by: it takes no notice of what it did itself. */
export const PAGE = newKey();

const awaited = new Map(); // key of a thing -> who wants to know its answer
const unsafe = new Set(); // what was put in and does not stand in the store yet
let opening = null;
let isSending = false;
let isMore = false; // something was put in while it was being sent
let underWay = null; // {url, request}
let again = null;
let whenEmpty = []; // who waits until everything has arrived

function opened() {
  opening ??= new Promise((resolve, reject) => {
    const request = indexedDB.open("dialback", 1);
    request.onupgradeneeded = () => request.result.createObjectStore("waiting", { keyPath: "id", autoIncrement: true });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return opening;
}

async function inStore(mode, act) {
  const database = await opened();
  return new Promise((resolve, reject) => {
    const transaction = database.transaction("waiting", mode);
    const request = act(transaction.objectStore("waiting"));
    transaction.oncomplete = () => resolve(request.result);
    transaction.onerror = () => reject(transaction.error);
  });
}

const waiting = () => inStore("readonly", (store) => store.getAll());

/**
 * Put something in the queue: fields, perhaps with a file, for an address. Resolves once it is safe in the browser, with
 * `answered`: a promise of {status, answer} for when it has arrived.
 */
export async function put(url, fields, { file = null, isLeaving = false } = {}) {
  const key = newKey();
  const answered = new Promise((resolve) => awaited.set(key, resolve));
  const item = { url, key, fields, file, name: file?.name ?? "" };
  unsafe.add(item);
  document.documentElement.dataset.waiting = String(1 + Number(document.documentElement.dataset.waiting ?? 0));
  if (isLeaving) hurry();
  try {
    await inStore("readwrite", (store) => store.add(item));
  } catch {
    // A private window may have no store: it waits in the page.
    while (unsafe.has(item) && !(await arrived(item))) {
      say([], true);
      await new Promise((resolve) => setTimeout(resolve, AGAIN_MS));
    }
  }
  unsafe.delete(item);
  send();
  return { answered };
}

/** The page may be gone before the store has what was put in last: that goes straight on its way; its key makes twice once. */
function hurry() {
  for (const item of unsafe) arrived(item);
}

/** Take back what has not arrived at an address yet, because it goes there in another way. Returns its fields. */
export async function withdraw(url) {
  const items = (await waiting().catch(() => [...unsafe])).filter((item) => item.url === url);
  for (const item of items) {
    if (item.id) await inStore("readwrite", (store) => store.delete(item.id));
    else unsafe.delete(item);
  }
  if (underWay?.url === url) underWay.request.abort();
  return items.map((item) => item.fields);
}

/** Whether it arrived; then who put it in is told what was answered. */
async function arrived(item) {
  const answer = await deliver(item);
  if (answer) tell(item, answer);
  return answer !== null;
}

function tell(item, answer) {
  awaited.get(item.key)?.(answer);
  awaited.delete(item.key);
}

/** {status, answer} whatever was answered, or null: it did not arrive. */
async function deliver(item) {
  const request = new AbortController();
  underWay = { url: item.url, request };
  let body = new URLSearchParams({ key: item.key, ...item.fields });
  if (item.file) {
    body = new FormData();
    for (const [name, value] of Object.entries({ key: item.key, ...item.fields })) body.set(name, value);
    body.set("photo", item.file, item.name || "photo.jpg");
  }
  let response;
  try {
    response = await fetch(item.url, {
      method: "post",
      body,
      headers: { "X-Page": PAGE, Accept: "application/json" },
      signal: request.signal,
      keepalive: !item.file && body.toString().length < SMALL_BYTES,
    });
  } catch {
    return null;
  }
  if (response.status >= 500 || response.status === 403) return null; // it is there, but cannot just now
  const isJson = (response.headers.get("Content-Type") || "").includes("json");
  return { status: response.status, answer: isJson ? await response.json() : { page: await response.text() } };
}

async function send() {
  isMore = true;
  if (isSending) return;
  isSending = true;
  clearTimeout(again);
  try {
    const leftOver = []; // by this page before it was loaded, or by another
    for (let items = await next(); items.length > 0 || isMore; items = await next()) {
      if (items.length === 0) continue;
      if (!awaited.has(items[0].key)) leftOver.push(items[0].url);
      say(items);
      const answer = await deliver(items[0]);
      if (!answer) {
        again = setTimeout(send, AGAIN_MS);
        say(items, true);
        return;
      }
      await inStore("readwrite", (store) => store.delete(items[0].id));
      tell(items[0], answer); // after it left the store: who asks then what still waits is not told of this
    }
    say([]);
    for (const path of leftOver) document.dispatchEvent(new CustomEvent("dialback:changed", { detail: { path } }));
  } catch {
    say([]); // without a store there is nothing in it that could wait
  } finally {
    isSending = false;
  }
}

function next() {
  isMore = false;
  return waiting();
}

function say(inStore, isAway = false) {
  const items = [...inStore, ...unsafe];
  document.documentElement.dataset.waiting = String(items.length);
  const line = document.querySelector("#waiting");
  const photos = items.filter((item) => item.file).length;
  const jottings = items.length - photos;
  const words = [
    jottings ? `${jottings} ${jottings === 1 ? "jotting" : "jottings"}` : "",
    photos ? `${photos} ${photos === 1 ? "photo" : "photos"}` : "",
  ].filter(Boolean);
  if (line) line.hidden = !(isAway && words.length);
  if (line && isAway) line.textContent = `${words.join(" and ")} ${items.length === 1 ? "waits" : "wait"} here for Dialback to answer.`;
  if (items.length > 0) return;
  for (const resolve of whenEmpty) resolve();
  whenEmpty = [];
}

/** Resolves once everything that was jotted here has arrived. */
export async function allArrived() {
  if (unsafe.size > 0 || (await waiting().catch(() => [])).length > 0) await new Promise((resolve) => whenEmpty.push(resolve));
}

window.addEventListener("pagehide", hurry);
window.addEventListener("online", send);
document.addEventListener("dialback:hello", send);
send();
