// The player of the compare page, the blind page and the A–B–X test. The page holds its buttons and words; this module
// makes them sound.

import { enhance } from "../enhance.js";
import { bindKeys } from "../keys.js";
import { Segments } from "./segments.js";
import { Transport } from "./transport.js";

const TICK_MS = 200;
const MATCH_MS = 200; // after the last move of a bound
const SAID = {
  aligned: "not aligned: each print as late as it was recorded",
  matched: "not matched: louder sounds better",
  upright: "polarity as printed",
};

const KEYS = {
  "Space": (player) => player.toggle(),
  "l": (player) => player.setRegion(player.region.from, player.region.to, !player.region.loops),
  "[": (player) => player.nudge(-0.25),
  "]": (player) => player.nudge(0.25),
};

const clock = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

/** A slider at so many seconds; a screen reader hears minutes and seconds. */
function put(range, seconds) {
  range.value = seconds;
  const said = clock(seconds);
  if (range.getAttribute("aria-valuetext") !== said) range.setAttribute("aria-valuetext", said);
}

export class Player {
  constructor(section, signal) {
    this.section = section;
    this.signal = signal;
    this.state = section.querySelector(".player-state");
    this.time = section.querySelector(".player-time");
    this.line = section.querySelector(".player-line");
    this.transport = null;
    this.region = { from: 0, to: 0, loops: false };
    this.ranges = Object.fromEntries(["at", "from", "to"].map((name) => [name, section.querySelector(`input[name="${name}"]`)]));
    section.addEventListener("click", (event) => this.clicked(event), { signal });
    section.addEventListener("change", (event) => this.changed(event), { signal });
    section.addEventListener("input", (event) => this.slid(event), { signal });
    document.addEventListener("dialback:finished", () => this.lookAgain(), { signal });
    signal.addEventListener("abort", () => this.end());
    this.bindKeys();
    this.watchLine();
    this.load();
  }

  /** Something was made ready; while an answer is on its way it may be missing there. */
  lookAgain() {
    if (this.asking) this.isStale = true;
    else if (this.isComing) this.load();
  }

  async load() {
    this.asking = true;
    this.isStale = false;
    await this.ask();
    this.asking = false;
    if (this.isStale && this.isComing && !this.signal.aborted) this.load();
  }

  async ask() {
    let document_;
    try {
      const response = await fetch(this.section.dataset.lanes);
      if (!response.ok) throw new Error(String(response.status));
      document_ = await response.json();
    } catch {
      this.say("The lanes could not be read. Reload the page.");
      return;
    }
    this.document = document_;
    const usable = document_.lanes.filter((lane) => lane.prints.length);
    const coming = document_.lanes.filter((lane) => lane.is_coming).length;
    this.isComing = coming > 0;
    for (const lane of document_.lanes) this.mark(lane);
    this.section.querySelector('[data-do="again"]').hidden = !document_.lanes.some((lane) => lane.has_failed);
    if (!usable.length || coming) {
      this.say(coming ? `Preparing: ${coming} of ${document_.lanes.length} to go.` : document_.reason || "There is nothing to hear yet.");
      return;
    }
    this.region.to = this.region.to || document_.length_s;
    this.lanes = usable.map((lane) => ({
      ...lane,
      prints: lane.prints.map((print) => ({
        ...print,
        segmentUrl: (n) => `${print.segments}/${String(n).padStart(3, "0")}.flac`,
      })),
    }));
    this.section.dataset.ready = "yes";
    for (const part of this.section.querySelectorAll("[data-do], .player-ranges input")) part.disabled = false;
    for (const range of Object.values(this.ranges)) range.max = document_.length_s;
    this.tell();
    this.showBounds();
    this.showLine();
  }

  /** Have what could not be made ready tried once more. */
  async tryAgain() {
    const answer = await fetch(this.section.dataset.lanes, { method: "POST" }).catch(() => null);
    if (answer?.ok) await this.load();
    else this.say("It could not be tried again. Reload the page.");
  }

  /** Say beside a lane what keeps it out, and take its button away. */
  mark(lane) {
    const input = this.section.querySelector(`input[name="heard"][value="${CSS.escape(lane.id)}"]`);
    if (!input) return;
    input.disabled = !lane.prints.length;
    const note = input.closest("label")?.querySelector(".lane-note");
    if (note) note.textContent = lane.reason || "";
  }

  async start() {
    if (!this.transport) {
      this.context = new AudioContext({ sampleRate: this.document.rate, latencyHint: "interactive" });
      const { segment_s: segmentSeconds, length_s: lengthSeconds } = this.document;
      this.transport = new Transport(this.context, new Segments(this.context), this.lanes, { segmentSeconds, lengthSeconds });
      this.transport.region = { ...this.region };
      this.transport.options = this.options();
      this.transport.hear(this.heard());
      await this.match();
    }
    await this.context.resume();
    if (!(await this.transport.play())) return;
    this.ticking = setInterval(() => this.tick(), TICK_MS);
    this.drawing = requestAnimationFrame(() => this.draw());
    this.button("play", "Stop");
  }

  stop() {
    clearInterval(this.ticking);
    cancelAnimationFrame(this.drawing);
    this.transport?.stop();
    this.button("play", "Play");
    this.showLine();
  }

  tick() {
    this.transport.fill();
    if (!this.transport.isOn) this.stop();
  }

  draw() {
    if (!this.transport.isOn) return;
    this.showLine();
    this.drawing = requestAnimationFrame(() => this.draw());
  }

  get isPlaying() {
    return Boolean(this.transport?.isOn);
  }

  get position() {
    return this.transport ? this.transport.position : (this.waitingAt ?? 0);
  }

  async seek(position) {
    this.waitingAt = position;
    if (!this.transport) {
      this.showLine();
      return;
    }
    if (this.isPlaying) await this.transport.play(position);
    else this.transport.stoppedAt = position;
    this.showLine();
  }

  hear(id) {
    const input = this.section.querySelector(`input[name="heard"][value="${CSS.escape(id)}"]`);
    if (!input || input.disabled) return;
    input.checked = true;
    this.transport?.hear(id);
    this.tell();
  }

  heard() {
    return this.section.querySelector('input[name="heard"]:checked:not(:disabled)')?.value ?? this.lanes[0].id;
  }

  options() {
    const is = (name) => this.section.querySelector(`input[name="${name}"]`)?.checked ?? true;
    return { aligned: is("aligned"), matched: is("matched"), upright: is("upright") };
  }

  /** Ask for the gains that make the part in view equally loud in all lanes. */
  async match() {
    const { from, to } = this.region.loops ? this.region : { from: 0, to: this.document.length_s };
    const joined = this.section.dataset.gains.includes("?") ? "&" : "?";
    try {
      const response = await fetch(`${this.section.dataset.gains}${joined}from_s=${from}&to_s=${to}`);
      if (response.ok) this.transport?.setMatching(await response.json());
    } catch {
      this.say("The loudness of this part could not be asked for; the levels stay as they were.");
    }
  }

  setRegion(from, to, loops = true) {
    const length = this.document.length_s;
    const start = Math.max(0, Math.min(from, to));
    this.region = { from: start, to: Math.min(length, Math.max(from, to, start + 0.05)), loops };
    const box = this.section.querySelector('input[name="loops"]');
    if (box) box.checked = loops;
    this.transport?.setRegion(this.region);
    clearTimeout(this.matching);
    this.matching = setTimeout(() => this.match(), MATCH_MS);
    this.showBounds();
    this.showLine();
  }

  nudge(by) {
    const length = this.region.to - this.region.from;
    this.setRegion(this.region.from + by * length, this.region.to + by * length, this.region.loops);
  }

  clicked(event) {
    const button = event.target.closest("[data-do]");
    if (!button) return;
    if (button.dataset.do === "again") {
      this.tryAgain();
      return;
    }
    if (!this.lanes) return;
    const acts = {
      play: () => this.toggle(),
      start: () => this.seek(this.region.loops ? this.region.from : 0),
      earlier: () => this.nudge(-0.25),
      later: () => this.nudge(0.25),
    };
    acts[button.dataset.do]?.();
  }

  changed(event) {
    const { name, value, checked } = event.target;
    if (name === "heard") this.hear(value);
    else if (name === "from" || name === "to") this.setRegion(...this.boundedBy(event.target));
    else if (["aligned", "matched", "upright"].includes(name)) {
      this.transport?.setOptions(this.options());
      this.tell();
    } else if (name === "loops") this.setRegion(this.region.from, this.region.to, checked);
    else if (event.target.dataset.balance) this.keepBalance(event.target);
  }

  /** The loop once a slider's bound is moved; it pushes the other along. */
  boundedBy({ name, value }) {
    const second = Number(value);
    const { from, to } = this.region;
    return name === "from" ? [second, Math.max(second, to)] : [Math.min(second, from), second];
  }

  slid(event) {
    const { name } = event.target;
    if (name === "at") this.seek(Number(event.target.value));
    else if (name === "from" || name === "to") this.showRegion(...this.boundedBy(event.target));
    const [lane, index] = (event.target.dataset.balance ?? "").split("|");
    if (lane && this.transport) this.transport.setBalance(lane, Number(index), 10 ** (Number(event.target.value) / 20));
  }

  /** A balance is kept with its print; then the parts are matched anew. */
  async keepBalance(slider) {
    const body = new URLSearchParams({ balance_db: slider.value });
    await fetch(slider.dataset.keep, { method: "POST", body });
    await this.match();
  }

  bindKeys() {
    const keys = { ...KEYS };
    for (let n = 1; n <= 10; n += 1) keys[n % 10] = (player) => player.hearNth(n);
    const once = ([name, act]) => [name, () => Boolean(this.lanes) && act(this)]; // there is something to hear
    bindKeys(Object.fromEntries(Object.entries(keys).map(once)), { signal: this.signal });
  }

  hearNth(n) {
    const input = this.section.querySelectorAll('input[name="heard"]')[n - 1];
    if (input) this.hear(input.value);
  }

  toggle() {
    if (this.isPlaying) this.stop();
    else this.start();
  }

  /** Dragging on the line marks a loop; a click goes there. The sliders do the same by keyboard. */
  watchLine() {
    let begun = null;
    const { signal } = this;
    const second = (event) => {
      const box = this.line.getBoundingClientRect();
      return Math.max(0, Math.min(1, (event.clientX - box.left) / box.width)) * this.document.length_s;
    };
    this.line.addEventListener("pointerdown", (event) => {
      if (!this.document?.length_s) return;
      begun = { x: event.clientX, second: second(event) };
      this.line.setPointerCapture(event.pointerId);
    }, { signal });
    this.line.addEventListener("pointermove", (event) => {
      if (!begun || Math.abs(event.clientX - begun.x) < 4) return;
      this.showRegion(begun.second, second(event));
    }, { signal });
    this.line.addEventListener("pointerup", (event) => {
      if (!begun) return;
      if (Math.abs(event.clientX - begun.x) < 4) this.seek(begun.second);
      else this.setRegion(begun.second, second(event));
      begun = null;
    }, { signal });
  }

  showRegion(from, to) {
    const mark = this.line.querySelector(".player-region");
    const percent = (second) => (100 * second) / this.document.length_s;
    mark.style.insetInlineStart = `${percent(Math.min(from, to))}%`;
    mark.style.inlineSize = `${percent(Math.abs(to - from))}%`;
    mark.hidden = false;
  }

  showLine() {
    if (this.time) this.time.textContent = `${clock(this.position)} of ${clock(this.document.length_s)}`;
    put(this.ranges.at, this.position);
    const head = this.line.querySelector(".player-head");
    head.style.insetInlineStart = `${(100 * this.position) / this.document.length_s}%`;
    if (this.region.loops) this.showRegion(this.region.from, this.region.to);
    else this.line.querySelector(".player-region").hidden = true;
  }

  showBounds() {
    put(this.ranges.from, this.region.from);
    put(this.ranges.to, this.region.to);
  }

  /** The page goes on without it. */
  end() {
    clearTimeout(this.matching);
    if (this.lanes) this.stop();
    this.context?.close();
  }

  /** Whatever is switched off is said. */
  tell() {
    const options = this.options();
    const off = Object.keys(SAID).filter((name) => !options[name]);
    this.say(off.length ? off.map((name) => SAID[name]).join("; ") : "Aligned, equally loud, same polarity.");
  }

  say(words) {
    if (this.state) this.state.textContent = words;
  }

  button(action, words) {
    const button = this.section.querySelector(`[data-do="${action}"]`);
    if (button) button.textContent = words;
  }
}

enhance(".player", (section, signal) => (section.player = new Player(section, signal)));
