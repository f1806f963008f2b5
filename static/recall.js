// A recall at the amp. What is ticked stands at once and goes through the queue, so that it waits here while the network
// is away; when the last thing of a stage is done, the next stage that is open comes. On a phone one thing is shown at a
// time: buttons at the foot, swipes and arrow keys lead on. All stages stand on the page, so none has to be fetched.

import { enhance } from "./enhance.js";
import { bindKeys } from "./keys.js";
import { allArrived, put } from "./queue.js";

const SWIPE_PX = 60;
const KEYS = {
  "o": () => document.querySelector("#next-open")?.click(),
};
const onPhone = window.matchMedia("(max-width: 40rem)");

let sent = 0; // how many things from this page, so that an answer which cannot know the last one is known
let isLooking = false;

const within = (element, selector) => [...element.querySelectorAll(selector)];

enhance("#recall-run", (run, signal) => {
  const form = run.querySelector("#setting-up");
  const links = new Map(within(run, "#stages a[data-stage]").map((link) => [link.dataset.stage, link]));
  const stages = within(form, ".recall-stage");
  const bar = run.querySelector(".recall-bar");
  let at = null; // the thing in hand, on a phone

  const itemsOf = (stage) => within(stage, ".recall-item");
  const isOpen = (item) => !item.classList.contains("is-done") && item.querySelector(".tick-off") !== null;
  const keyOf = (stage) => stage.id.replace("stage-", "");
  const stageNow = () => [...links].find(([, link]) => link.hasAttribute("aria-current"))?.[0] ?? "check";
  const stageOf = (item) => keyOf(item.closest(".recall-stage"));

  function open(key, { focus = false } = {}) {
    for (const section of within(run, ".recall-stage")) {
      section.hidden = section.id === "finish" ? key !== "check" : keyOf(section) !== key;
    }
    for (const [name, link] of links) {
      if (name === key) link.setAttribute("aria-current", "step");
      else link.removeAttribute("aria-current");
    }
    form.elements.stage.value = key;
    history.replaceState(history.state, "", links.get(key).href);
    window.scrollTo({ top: 0, behavior: "instant" });
    listStages(false);
    const stage = run.querySelector(`[id="stage-${key}"]`);
    hold(itemsOf(stage).find(isOpen) ?? itemsOf(stage)[0] ?? null);
    if (focus) stage.querySelector("h2").focus({ preventScroll: true });
  }

  function hold(item) {
    at?.classList.remove("is-at");
    at = item;
    at?.classList.add("is-at");
    if (bar) bar.hidden = stageNow() === "check";
    if (at && onPhone.matches && at.matches(".is-cable")) at.scrollIntoView({ block: "center", behavior: "instant" });
  }

  /** The next thing that is open, from the one in hand on, through all stages and round to the first. */
  function nextOpen(from) {
    const all = within(form, ".recall-item");
    const after = from ? all.indexOf(from) + 1 : 0;
    return [...all.slice(after), ...all.slice(0, after)].find(isOpen) ?? null;
  }

  function goTo(item, { focus = true } = {}) {
    if (!item) return open("check", { focus });
    if (item.closest(".recall-stage").hidden) open(stageOf(item));
    hold(item);
    if (focus) item.querySelector(".tick-off")?.focus({ preventScroll: onPhone.matches });
  }

  function step(by) {
    const all = within(form, ".recall-item");
    const there = all[all.indexOf(at) + by];
    if (there) goTo(there, { focus: false });
    else if (by > 0) open("check");
  }

  function draw(item, isDone) {
    const button = item.querySelector(".tick-off");
    const key = button.id.replace("do-", "");
    item.classList.toggle("is-done", isDone);
    button.setAttribute("aria-pressed", String(isDone));
    button.value = `${isDone ? "undo" : "done"}-${key}`;
  }

  function count() {
    let done = 0;
    let total = 0;
    for (const stage of stages) {
      const items = itemsOf(stage);
      const count = links.get(keyOf(stage)).querySelector("[data-count]");
      if (!count) continue;
      const all = Number(count.textContent.split("/")[1]); // those that were done before the page came may not stand on it
      const mine = all - items.filter(isOpen).length;
      count.textContent = `${mine}/${all}`;
      links.get(keyOf(stage)).parentElement.classList.toggle("is-done", mine === all);
      done += mine;
      total += all;
    }
    const said = run.querySelector("#recall-progress strong");
    if (said.textContent !== String(done)) said.textContent = String(done);
    return { done, total };
  }

  async function send(fields) {
    sent += 1;
    const only = form.elements.only.value;
    const { answered } = await put(form.action, { only, ...fields });
    const { status } = await answered;
    if (status >= 400) look(); // it was finished, or changed, elsewhere
  }

  function tick(item, isDone) {
    const button = item.querySelector(".tick-off");
    send({ do: button.value });
    draw(item, isDone);
    count();
    const stage = item.closest(".recall-stage");
    if (isDone && !itemsOf(stage).some(isOpen)) goTo(nextOpen(item));
    else if (onPhone.matches && isDone) goTo(nextOpen(item), { focus: false });
  }

  function listStages(isListed) {
    run.classList.toggle("is-listing", isListed);
    run.querySelector("#stage-list").setAttribute("aria-expanded", String(isListed));
  }

  run.addEventListener(
    "click",
    (event) => {
      const link = event.target.closest("a[data-stage]");
      const button = event.target.closest("button");
      if (event.ctrlKey || event.metaKey || event.shiftKey) return;
      if (link) {
        event.preventDefault();
        open(link.dataset.stage, { focus: true });
      } else if (event.target.closest("#next-open")) {
        event.preventDefault();
        goTo(nextOpen(stageNow() === "check" ? null : at));
      } else if (button?.id === "stage-list") {
        listStages(!run.classList.contains("is-listing"));
      } else if (button?.matches(".tick-off")) {
        event.preventDefault();
        tick(button.closest(".recall-item"), button.getAttribute("aria-pressed") !== "true");
      } else if (button?.value.startsWith("all-")) {
        event.preventDefault();
        send({ do: button.value });
        const items = itemsOf(button.closest(".recall-stage"));
        for (const item of items.filter(isOpen)) draw(item, true);
        count();
        goTo(nextOpen(items.at(-1)));
      } else if (button?.value === "note") {
        event.preventDefault();
        // Enter in a note presses the form's first button, which stands in no menu.
        (button.closest("details") ?? document.activeElement.closest("details"))?.removeAttribute("open");
      } else if (button?.dataset.do === "set") {
        if (at && isOpen(at)) tick(at, true);
        else goTo(nextOpen(at), { focus: false });
      } else if (button?.dataset.do === "skip") {
        step(1);
      } else if (button?.dataset.do === "differs") {
        const note = (at?.querySelector("details.menu") ?? at?.closest(".recall-stage").querySelector(".stage-foot details.menu"));
        if (!note) return;
        note.open = true;
        note.querySelector("input").focus();
      }
    },
    { signal },
  );

  form.addEventListener(
    "change",
    ({ target }) => {
      if (!target.name.startsWith("deviation-")) return;
      send({ [target.name]: target.value });
      const said = target.closest("details").nextElementSibling;
      said.textContent = target.value;
      said.hidden = target.value.trim() === "";
    },
    { signal },
  );

  let touch = null;
  form.addEventListener("touchstart", ({ touches: [finger] }) => (touch = { x: finger.clientX, y: finger.clientY }), { signal, passive: true });
  form.addEventListener(
    "touchend",
    ({ changedTouches: [finger] }) => {
      const across = finger.clientX - touch.x;
      if (!onPhone.matches || Math.abs(across) < SWIPE_PX || Math.abs(across) < 2 * Math.abs(finger.clientY - touch.y)) return;
      step(across < 0 ? 1 : -1);
    },
    { signal, passive: true },
  );
  const onlyOnPhone = (by) => (event) => (onPhone.matches && !event.target.matches("input, select, textarea") ? step(by) : false);
  bindKeys({ "ArrowRight": onlyOnPhone(1), "ArrowLeft": onlyOnPhone(-1), ...KEYS }, { signal });

  document.addEventListener(
    "dialback:changed",
    ({ detail: { path } }) => path.startsWith(`/recalls/${run.dataset.recall}/`) && !path.endsWith("/tries") && look(),
    { signal },
  );
  keepAwake(signal);
  run.classList.add("is-live");
  hold(itemsOf(run.querySelector(`[id="stage-${stageNow()}"]`)).find(isOpen) ?? within(form, ".recall-stage:not([hidden]) .recall-item")[0] ?? null);
});

/** What was done here on another device, once that knows all that was done on this one. */
async function look() {
  if (isLooking) return;
  isLooking = true;
  try {
    let before;
    do {
      await allArrived();
      before = sent;
      await window.htmx.ajax("GET", location.href, { target: "#recall-run", select: "#recall-run", swap: "outerHTML" });
    } while (sent !== before);
  } finally {
    isLooking = false;
  }
}

/** The screen stays on while one works, where the browser can do that (not on plain http but from this computer). */
function keepAwake(signal) {
  let lock = null;
  const ask = async () => {
    if (document.visibilityState === "visible" && !signal.aborted) lock = await navigator.wakeLock?.request("screen").catch(() => null);
  };
  document.addEventListener("visibilitychange", ask, { signal });
  signal.addEventListener("abort", () => lock?.release());
  ask();
}
