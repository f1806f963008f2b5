// Files that are dropped on a source's page, or pasted: pictures are photos and sound is a print of the pass whose column
// they fall on. Dropped beside the columns, sound goes to the newest pass where that has no print yet; else the page asks
// for the one thing that it cannot tell, which pass it is of.

import { openPass, say, showAnew } from "./desk.js";
import { enhance } from "./enhance.js";
import { put } from "./queue.js";
import { sentenceOf } from "./upload.js";

const isPicture = ({ type, name }) => type.startsWith("image/") || /\.(heic|heif)$/i.test(name);
const draft = () => document.getElementById("open-column")?.dataset.draft;

/** "7", "open" or, beside all columns, "". */
function columnAt(target) {
  if (target.closest?.(".open-cell, .open-head")) return "open";
  return target.closest?.("#ledger [data-pass]")?.dataset.pass ?? "";
}

function cellsOf(column) {
  return document.querySelectorAll(column === "open" ? "#ledger :is(.open-cell, .open-head)" : `#ledger [data-pass="${column}"]`);
}

function mark(column) {
  for (const cell of document.querySelectorAll("#ledger .is-over")) cell.classList.remove("is-over");
  if (column) for (const cell of cellsOf(column)) cell.classList.add("is-over");
}

async function addPhotos(address, files) {
  say(files.length === 1 ? "The photo is kept here and on its way." : `${files.length} photos are kept here and on their way.`);
  const sent = await Promise.all(files.map((file) => put(address, {}, { file })));
  const answers = await Promise.all(sent.map(({ answered }) => answered));
  await showAnew();
  await showPhotos();
  document.getElementById("photo-readings")?.scrollIntoView(); // what is read of it comes in there
  const refused = answers.find(({ status }) => status >= 400);
  if (!refused) say(files.length === 1 ? "The photo is added." : `${files.length} photos are added.`);
  else say(Object.values(refused.answer.refused ?? {})[0] ?? refused.answer.gone ?? "A photo was not taken: it is no picture that can be read (JPEG, PNG, WebP or HEIC).");
}

async function showPhotos() {
  const shown = { source: "#draft-photos", target: "#draft-photos", select: "#draft-photos", swap: "outerHTML" };
  if (document.getElementById("draft-photos")) await window.htmx.ajax("GET", window.location.href, shown);
}

// A photo that was taken with another device, or came from a watched folder.
enhance("#draft-photos", (part, signal) => {
  const heard = ({ detail: { path } }) => path === `/drafts/${part.dataset.draft}/photos` && showPhotos();
  document.addEventListener("dialback:changed", heard, { signal });
});

/** Uploads one file after the other, with its progress at the head of the column. */
async function addPrints(pass, files) {
  const bar = document.createElement("progress");
  bar.setAttribute("aria-label", "Upload");
  bar.max = 1;
  document.querySelector(`#ledger th[data-pass="${pass}"]`)?.append(bar);
  const refused = [];
  for (const file of files) {
    say(`${file.name} is on its way.`);
    const sentence = await upload(`/passes/${pass}/prints`, file, (share) => (bar.value = share));
    if (sentence) refused.push(`${file.name}: ${sentence}`);
  }
  bar.remove();
  await showAnew();
  say(refused.join(" ") || (files.length === 1 ? `${files[0].name} is in and being measured.` : `${files.length} files are in and being measured.`));
}

/** Resolves with what the server says against it, or with nothing. */
function upload(address, file, progress) {
  const data = new FormData();
  data.set("file", file);
  const request = new XMLHttpRequest();
  request.open("post", address);
  request.upload.addEventListener("progress", ({ loaded, total }) => progress(loaded / total));
  return new Promise((resolve) => {
    request.addEventListener("load", () => resolve(request.status < 300 ? "" : sentenceOf(request)));
    request.addEventListener("error", () => resolve("The upload was cut off; nothing was kept. Drop it again."));
    request.send(data);
  });
}

async function take(column, files) {
  const pictures = files.filter(isPicture);
  const sounds = files.filter((file) => !isPicture(file));
  if (pictures.length) {
    if (column === "open" || (column === "" && draft())) await addPhotos(`/drafts/${draft()}/photos`, pictures);
    else if (column) await addPhotos(`/passes/${column}/photos`, pictures);
    else say("Drop a photo on the column of its pass.");
  }
  if (!sounds.length) return;
  if (column === "open") {
    const saved = await openPass();
    if (saved) await addPrints(saved, sounds);
  } else if (column) {
    await addPrints(column, sounds);
  } else {
    ask(sounds);
  }
}

/** Which pass is it of? The newest, where that has no print yet. */
function ask(sounds) {
  const heads = [...document.querySelectorAll("#ledger th[data-pass] [data-hear]")].reverse();
  const passOf = (head) => head.closest("th").dataset.pass;
  if (heads.length === 0) {
    say("Save the first pass; then drop its print on its column.");
  } else if (!heads[0].dataset.prints) {
    addPrints(passOf(heads[0]), sounds);
  } else {
    const dialog = document.createElement("dialog");
    dialog.className = "sheet";
    const words = document.createElement("p");
    words.textContent = `Which pass is ${sounds.map(({ name }) => name).join(", ")} of?`;
    const choice = document.createElement("p");
    choice.className = "actions";
    for (const head of heads) {
      const button = document.createElement("button");
      button.textContent = head.firstChild.textContent;
      button.addEventListener("click", () => (dialog.close(), addPrints(passOf(head), sounds)));
      choice.append(button);
    }
    const none = document.createElement("button");
    none.className = "is-quiet";
    none.textContent = "Cancel";
    none.addEventListener("click", () => dialog.close());
    choice.append(none);
    dialog.append(words, choice);
    dialog.addEventListener("close", () => dialog.remove());
    document.body.append(dialog);
    dialog.showModal();
  }
}

enhance("main:has(#ledger)", (main, signal) => {
  const holdsFiles = (event) => event.dataTransfer?.types.includes("Files") && !event.target.closest?.("form.upload");
  const over = (event) => {
    if (!holdsFiles(event)) return;
    event.preventDefault();
    mark(columnAt(event.target));
  };
  const drop = (event) => {
    if (!holdsFiles(event)) return;
    event.preventDefault();
    mark("");
    take(columnAt(event.target), [...event.dataTransfer.files]);
  };
  const paste = (event) => {
    const files = [...(event.clipboardData?.files ?? [])];
    if (!files.length || !document.getElementById("ledger")) return;
    event.preventDefault();
    take(columnAt(event.target), files);
  };
  document.addEventListener("dragover", over, { signal });
  document.addEventListener("dragleave", (event) => event.relatedTarget ?? mark(""), { signal });
  document.addEventListener("drop", drop, { signal });
  document.addEventListener("paste", paste, { signal });
});

enhance("[data-prints-of]", (input, signal) => {
  const chosen = () => input.files.length && take(input.dataset.printsOf, [...input.files]);
  input.addEventListener("change", chosen, { signal });
});

enhance("[data-photos-of]", (input, signal) => {
  const chosen = () => input.files.length && addPhotos(input.dataset.photosOf, [...input.files]);
  input.addEventListener("change", chosen, { signal });
});
