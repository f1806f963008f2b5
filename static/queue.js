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
let opening = null;
let isSending = false;
let isMore = false; // something was put in while it was being sent
let underWay = null; // {url, request}
let again = null;

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
  if (isLeaving) deliver(item); // the page may be gone before the store has it; its key makes twice once
  try {
    await inStore("readwrite", (store) => store.add(item));
  } catch {
    await deliver(item); // a private window may have no store: then straight on its way
  }
  send();
  return { answered };
}

/** Take back what has not arrived at an address yet, because it goes there in another way. Returns its fields. */
export async function withdraw(url) {
  const items = (await waiting().catch(() => [])).filter((item) => item.url === url);
  for (const item of items) await inStore("readwrite", (store) => store.delete(item.id));
  if (underWay?.url === url) underWay.request.abort();
  return items.map((item) => item.fields);
}

/** Whether it arrived, whatever was answered. */
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
    return false;
  }
  if (response.status >= 500 || response.status === 403) return false; // it is there, but cannot just now
  const isJson = (response.headers.get("Content-Type") || "").includes("json");
  awaited.get(item.key)?.({ status: response.status, answer: isJson ? await response.json() : { page: await response.text() } });
  awaited.delete(item.key);
  return true;
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
      if (!(await deliver(items[0]))) {
        again = setTimeout(send, AGAIN_MS);
        say(items, true);
        return;
      }
      await inStore("readwrite", (store) => store.delete(items[0].id));
    }
    say([]);
    for (const path of leftOver) document.dispatchEvent(new CustomEvent("dialback:changed", { detail: { path } }));
  } catch {
    // Without a store there is nothing that could wait.
  } finally {
    isSending = false;
  }
}

function next() {
  isMore = false;
  return waiting();
}

function say(items, isAway = false) {
  const line = document.querySelector("#waiting");
  if (!line) return;
  const photos = items.filter((item) => item.file).length;
  const jottings = items.length - photos;
  const words = [
    jottings ? `${jottings} ${jottings === 1 ? "jotting" : "jottings"}` : "",
    photos ? `${photos} ${photos === 1 ? "photo" : "photos"}` : "",
  ].filter(Boolean);
  line.hidden = !(isAway && words.length);
  if (isAway) line.textContent = `${words.join(" and ")} ${items.length === 1 ? "waits" : "wait"} here for Dialback to answer.`;
  document.documentElement.dataset.waiting = String(items.length);
}

/** Whether everything that was jotted here has arrived. */
export async function isEmpty() {
  return (await waiting().catch(() => [])).length === 0;
}

window.addEventListener("online", send);
document.addEventListener("dialback:hello", send);
send();
