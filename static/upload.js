// Sends an upload form with its progress in sight, and takes files that are dropped on it. Without it the form is sent
// as any other.

import { enhance } from "./enhance.js";
import { put } from "./queue.js";
import { overSwap } from "./swaps.js";

function megabytes(bytes) {
  return bytes < 1e6 ? `${Math.max(1, Math.round(bytes / 1e3))}\u00a0kB` : `${(bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0)}\u00a0MB`;
}

function progressOf(form) {
  let box = form.querySelector(".upload-progress");
  if (!box) {
    box = document.createElement("div");
    box.className = "upload-progress";
    box.innerHTML = '<progress max="1" value="0"></progress><p class="small"><span role="status"></span></p>';
    box.querySelector("progress").setAttribute("aria-label", "Upload");
    form.append(box);
  }
  box.hidden = false;
  return { box, bar: box.querySelector("progress"), words: box.querySelector("[role=status]") };
}

// The answer's address comes without the place on the page, so the form says it.
function lookAt(address, place) {
  const there = new URL(address);
  if (place) there.hash = place;
  const isHere = there.pathname === window.location.pathname && there.search === window.location.search;
  window.location.assign(there);
  if (isHere && place) window.location.reload(); // another place on the same page alone would load nothing
}

function send(form, submitter) {
  const data = new FormData(form, submitter);
  const progress = progressOf(form);
  const buttons = [...form.querySelectorAll("button")];
  buttons.forEach((button) => (button.disabled = true));
  form.dataset.sending = "yes";
  const stopSending = (sentence) => {
    delete form.dataset.sending;
    buttons.forEach((button) => (button.disabled = false));
    progress.words.textContent = sentence;
    progress.bar.value = 0;
  };

  const request = new XMLHttpRequest();
  const left = performance.now();
  const target = submitter && submitter.hasAttribute("formaction") ? submitter.formAction : form.action;
  request.open("post", target);
  let tenth = -1;
  request.upload.addEventListener("progress", (event) => {
    if (!event.lengthComputable) return;
    progress.bar.value = event.loaded / event.total;
    const now = Math.floor((event.loaded / event.total) * 10);
    if (now !== tenth) {
      tenth = now; // a screen reader hears every tenth, not every packet
      progress.words.textContent = `${megabytes(event.loaded)} of ${megabytes(event.total)} sent`;
    }
  });
  request.upload.addEventListener("load", () => {
    progress.bar.removeAttribute("value");
    progress.words.textContent = "All sent; the file is being put away.";
  });
  request.addEventListener("load", () => {
    delete form.dataset.sending;
    const isPage = (request.getResponseHeader("Content-Type") || "").startsWith("text/html");
    if (request.status < 300 && request.responseURL !== target) {
      lookAt(request.responseURL, form.dataset.landsAt);
    } else if ((request.status < 300 || request.status === 422) && isPage) {
      swapPage(request.responseText, { left, asked: submitter, sent: form });
    } else {
      stopSending(sentenceOf(request));
    }
  });
  request.addEventListener("error", () => stopSending("The upload was cut off; nothing was kept. Try again."));
  request.addEventListener("abort", () => stopSending("The upload was stopped; nothing was kept."));
  request.send(data);
}

/** Photos go into the page's queue, one by one: they are safe there when the network is away. */
async function queue(form) {
  const files = [...form.querySelectorAll("input[type=file]")].flatMap((input) => [...input.files]);
  if (files.length === 0) {
    send(form);
    return;
  }
  const fields = {};
  for (const [name, value] of new FormData(form)) if (typeof value === "string") fields[name] = value;
  const left = performance.now();
  const progress = progressOf(form);
  progress.bar.removeAttribute("value");
  progress.words.textContent = `${files.length === 1 ? "The photo is" : `${files.length} photos are`} kept here and on the way.`;
  const sent = await Promise.all(files.map((file) => put(form.action, fields, { file })));
  form.reset();
  const answers = await Promise.all(sent.map((one) => one.answered));
  const refused = answers.filter(({ status }) => status >= 400);
  if (refused.length === 0 || !form.isConnected) {
    window.location.reload();
    return;
  }
  if (refused[0].answer.page) {
    swapPage(refused[0].answer.page, { left, asked: form, sent: form });
    return;
  }
  progress.bar.value = 0;
  const said = refused.map(({ answer }) => Object.values(answer.refused ?? {}).join(" ") || answer.gone).filter(Boolean);
  progress.words.textContent = said[0] ?? "A photo was not taken: it is no picture that can be read (JPEG, PNG, WebP or HEIC).";
}

/** What a refused upload's answer says is wrong. */
export function sentenceOf(request) {
  const answer = new DOMParser().parseFromString(request.responseText, "text/html");
  const said = answer.querySelector("[data-sentence]") ?? answer.querySelector("main .field-error, main .error-summary li");
  if (said) return said.textContent.trim();
  return `The upload was not taken (answer ${request.status}); nothing was kept.`;
}

/** The refused form comes back as a whole page: its main part takes the place of this one. */
function swapPage(html, request) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const main = page.querySelector("main");
  if (!main) return;
  document.title = page.title;
  overSwap(() => document.querySelector("main").replaceWith(document.adoptNode(main)), request);
  if (window.htmx) window.htmx.process(main);
  const first = main.querySelector(".error-summary, [aria-invalid=true]");
  (first || main).focus();
}

enhance("form.upload", (form, signal) => {
  const files = form.querySelector("input[type=file]");
  const submit = (event) => {
    event.preventDefault();
    if (form.dataset.sending) return;
    if ("queue" in form.dataset) queue(form);
    else send(form, event.submitter);
  };
  const stay = (event) => {
    if (form.dataset.sending) event.preventDefault();
  };
  form.addEventListener("submit", submit, { signal });
  window.addEventListener("beforeunload", stay, { signal });

  if (!files) return;
  const isOver = (over) => form.classList.toggle("is-over", over); // files may be dropped anywhere on the form
  const drag = (event) => {
    if (![...event.dataTransfer.types].includes("Files")) return;
    event.preventDefault();
    isOver(true);
  };
  const drop = (event) => {
    event.preventDefault();
    isOver(false);
    const taken = new DataTransfer();
    const dropped = [...event.dataTransfer.files];
    (files.multiple ? dropped : dropped.slice(0, 1)).forEach((file) => taken.items.add(file));
    files.files = taken.files;
    files.dispatchEvent(new Event("change", { bubbles: true }));
  };
  if ("atOnce" in form.dataset) {
    files.addEventListener("change", () => files.files.length && form.requestSubmit(), { signal });
  }
  form.addEventListener("dragover", drag, { signal });
  form.addEventListener("dragleave", () => isOver(false), { signal });
  form.addEventListener("drop", drop, { signal });
});
