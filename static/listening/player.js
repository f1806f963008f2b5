// Plays the lanes of a page and lets one of them be heard. The page holds its buttons and words; this module makes them
// sound. A page that knows its lanes asks for them at once; a lazy one asks for nothing before something is to be heard.

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

/** A lane with the addresses of its sound. */
function playable(lane) {
  const segmentUrl = ({ segments }) => (n) => `${segments}/${String(n).padStart(3, "0")}.flac`;
  return { ...lane, prints: lane.prints.map((print) => ({ ...print, segmentUrl: segmentUrl(print) })) };
}

/**
 * What a page brings of its own: `lanesUrl` and `gainsUrl`, `laneIds()` in the order of the keys, `firstHeard()`,
 * `wordsOf(id)` to call a lane by, and `showLane(lane)` and `showHeard()` for when what is known of a lane, or what is
 * heard, has changed.
 */
export class Player {
  constructor(section, signal, { isLazy = false } = {}) {
    this.section = section;
    this.signal = signal;
    this.isLazy = isLazy;
    this.state = section.querySelector(".player-state");
    this.time = section.querySelector(".player-time");
    this.line = section.querySelector(".player-line");
    this.ranges = Object.fromEntries(["at", "from", "to"].map((name) => [name, section.querySelector(`input[name="${name}"]`)]));
    this.document = null; // what is known of the lanes
    this.lanes = []; // those that can be heard
    this.heard = null;
    this.before = null; // heard before it
    this.awaited = null; // to be heard once it is there
    this.isWanted = false; // it plays, or is to
    this.transport = null;
    this.region = { from: 0, to: this.length, loops: false };
    section.addEventListener("click", (event) => this.clicked(event), { signal });
    section.addEventListener("change", (event) => this.changed(event), { signal });
    section.addEventListener("input", (event) => this.slid(event), { signal });
    document.addEventListener("dialback:finished", () => this.lookAgain(), { signal });
    signal.addEventListener("abort", () => this.end());
    this.bindKeys();
    this.watchLine();
    if (!isLazy) this.load();
  }

  /** Seconds of the source's time line; a lazy page says them beforehand. */
  get length() {
    return this.document?.length_s ?? (Number(this.section.dataset.length) || 0);
  }

  /** Something was made ready. */
  lookAgain() {
    if (this.asking || this.isComing) this.load();
  }

  /** Ask for the lanes; what changes while an answer is on its way may be missing there, so it is asked for once more. */
  async load() {
    this.isStale = true;
    this.isKnown = false;
    if (this.asking) return;
    this.asking = true;
    while (this.isStale && !this.signal.aborted) {
      this.isStale = false;
      if (await this.ask()) continue;
      this.isStale = true; // to be asked for when something is wanted next
      break;
    }
    this.asking = false;
  }

  /** False when there was no answer. */
  async ask() {
    let found;
    try {
      const response = await fetch(this.lanesUrl);
      if (!response.ok) throw new Error(String(response.status));
      found = await response.json();
    } catch {
      if (!this.isPlaying) this.stop();
      this.say("The lanes could not be read. Reload the page.");
      return false;
    }
    this.document = found;
    this.isKnown = !this.isStale;
    const usable = found.lanes.filter((lane) => lane.prints.length);
    const coming = found.lanes.filter((lane) => lane.is_coming).length;
    this.isComing = coming > 0;
    found.lanes.forEach((lane) => this.showLane(lane));
    this.section.querySelector('[data-do="again"]').hidden = !found.lanes.some((lane) => lane.has_failed);
    if (!usable.length || (coming && !this.isLazy)) {
      if (!coming) this.stop();
      this.say(coming ? `Preparing: ${coming} of ${found.lanes.length} to go.` : "There is nothing to hear yet.");
      return true;
    }
    await this.take(usable.map(playable));
    return true;
  }

  /** The lanes that can be heard now; what waited for one of them goes on. */
  async take(lanes) {
    this.lanes = lanes;
    if (this.awaited === null) this.heard ??= this.firstHeard();
    if (!this.section.dataset.ready) {
      this.section.dataset.ready = "yes";
      this.region.to = this.region.to || this.length;
      for (const part of this.section.querySelectorAll("[data-do], .player-ranges input")) part.disabled = false;
      for (const range of Object.values(this.ranges)) range.max = this.length;
      this.showBounds();
      this.showLine();
    }
    if (this.transport) {
      await this.match();
      await this.transport.take(this.lanes);
    }
    if (this.awaited !== null) this.hear(this.awaited);
    else this.tell();
    if (this.isWanted && !this.isPlaying && this.awaited === null) await this.start();
  }

  /** Have what could not be made ready tried once more. */
  async tryAgain() {
    const answer = await fetch(this.lanesUrl, { method: "POST" }).catch(() => null);
    if (answer?.ok) await this.load();
    else this.say("It could not be tried again. Reload the page.");
  }

  start() {
    this.isWanted = true;
    this.button("play", "Stop");
    this.keepUp();
    if (this.awaited === null && !this.canHear(this.heard)) this.wait(this.heard ?? this.firstHeard());
    if (this.awaited !== null || !this.canHear(this.heard)) return null; // it begins when that is there
    this.beginning ??= this.begin().finally(() => (this.beginning = null));
    return this.beginning;
  }

  async begin() {
    if (!this.transport) {
      this.context = new AudioContext({ sampleRate: this.document.rate, latencyHint: "interactive" });
      const { segment_s: segmentSeconds, length_s: lengthSeconds } = this.document;
      this.transport = new Transport(this.context, new Segments(this.context), this.lanes, { segmentSeconds, lengthSeconds });
      this.transport.region = { ...this.region };
      this.transport.options = this.options();
      this.transport.stoppedAt = this.waitingAt ?? 0;
      this.transport.setVolume(this.volume());
      await this.match();
    }
    this.transport.hear(this.heard);
    await this.context.resume();
    if (!this.isWanted || !(await this.transport.play())) return;
    clearInterval(this.ticking);
    this.ticking = setInterval(() => this.tick(), TICK_MS);
    cancelAnimationFrame(this.drawing);
    this.drawing = requestAnimationFrame(() => this.draw());
  }

  stop() {
    this.isWanted = false;
    this.awaited = null;
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

  canHear(id) {
    return this.lanes.some((lane) => lane.id === id);
  }

  /** Something is wanted: a lazy page asks for its lanes now, or anew where they changed. */
  keepUp() {
    if (this.isLazy && !this.asking && (!this.document || this.isStale)) this.load();
  }

  /** Hear a lane: at once where it is there, else as soon as it is; what plays goes on meanwhile. */
  hear(id) {
    this.keepUp();
    if (!this.canHear(id)) {
      this.wait(id);
      return;
    }
    this.awaited = null;
    if (id !== this.heard) this.before = this.heard;
    this.heard = id;
    this.transport?.hear(id);
    this.tell();
    this.showHeard();
  }

  wait(id) {
    const lane = this.document?.lanes.find((each) => each.id === id);
    const isHopeless = this.isKnown && !lane?.is_coming;
    this.awaited = isHopeless ? null : id;
    if (isHopeless && !this.isPlaying) this.stop();
    this.sayOf(id, lane?.reason || (isHopeless ? "there is nothing to hear of it yet." : "being made ready."));
  }

  options() {
    const is = (name) => this.section.querySelector(`input[name="${name}"]`)?.checked ?? true;
    return { aligned: is("aligned"), matched: is("matched"), upright: is("upright") };
  }

  /** As a factor; the ear hears evenly when it falls as a square. */
  volume() {
    const slider = this.section.querySelector('input[name="volume"]');
    return slider ? (Number(slider.value) / Number(slider.max)) ** 2 : 1;
  }

  /** Ask for the gains that make the part in view equally loud in all lanes. */
  async match() {
    if (!this.transport) return;
    const { from, to } = this.region.loops ? this.region : { from: 0, to: this.length };
    const joined = this.gainsUrl.includes("?") ? "&" : "?";
    try {
      const response = await fetch(`${this.gainsUrl}${joined}from_s=${from}&to_s=${to}`);
      if (response.ok) this.transport.setMatching(await response.json());
    } catch {
      this.say("The loudness of this part could not be asked for; the levels stay as they were.");
    }
  }

  setRegion(from, to, loops = true) {
    const start = Math.max(0, Math.min(from, to));
    this.region = { from: start, to: Math.min(this.length, Math.max(from, to, start + 0.05)), loops };
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
    const acts = {
      again: () => this.tryAgain(),
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
    else if (name === "volume") this.transport?.setVolume(this.volume());
    const [lane, index] = (event.target.dataset.balance ?? "").split("|");
    if (lane && this.transport) this.transport.setBalance(lane, Number(index), 10 ** (Number(event.target.value) / 20));
  }

  /** A balance is kept with its print; then the parts are matched anew. */
  async keepBalance(slider) {
    const body = new URLSearchParams({ balance_db: slider.value });
    await fetch(slider.dataset.keep, { method: "POST", body });
    await this.match();
  }

  /** Whether there is, or may be, something to hear. */
  get hasLanes() {
    return this.lanes.length > 0;
  }

  bindKeys(more = {}) {
    const keys = { ...KEYS, ...more };
    for (let n = 1; n <= 10; n += 1) keys[n % 10] = (player) => player.hearNth(n);
    const once = ([name, act]) => [name, () => this.hasLanes && act(this)];
    bindKeys(Object.fromEntries(Object.entries(keys).map(once)), { signal: this.signal });
  }

  hearNth(n) {
    const id = this.laneIds()[n - 1];
    if (id !== undefined) this.hear(id);
  }

  toggle() {
    if (this.isWanted) this.stop();
    else this.start();
  }

  /** Dragging on the line marks a loop; a click goes there. The sliders do the same by keyboard. */
  watchLine() {
    let begun = null;
    const { signal } = this;
    const second = (event) => {
      const box = this.line.getBoundingClientRect();
      return Math.max(0, Math.min(1, (event.clientX - box.left) / box.width)) * this.length;
    };
    this.line.addEventListener("pointerdown", (event) => {
      if (!this.length) return;
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
    const percent = (second) => (100 * second) / this.length;
    mark.style.insetInlineStart = `${percent(Math.min(from, to))}%`;
    mark.style.inlineSize = `${percent(Math.abs(to - from))}%`;
    mark.hidden = false;
  }

  showLine() {
    if (this.time) this.time.textContent = `${clock(this.position)} of ${clock(this.length)}`;
    put(this.ranges.at, this.position);
    const head = this.line.querySelector(".player-head");
    head.style.insetInlineStart = `${this.length ? (100 * this.position) / this.length : 0}%`;
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
    this.stop();
    this.context?.close();
  }

  /** Whatever is switched off is said, and what cannot be had of the lane that is heard. */
  tell() {
    const options = this.options();
    const off = Object.keys(SAID).filter((name) => !options[name]);
    const { unaligned } = this.lanes.find((lane) => lane.id === this.heard) ?? {};
    if (unaligned && options.aligned) this.say(`${unaligned}.`);
    else this.say(off.length ? off.map((name) => SAID[name]).join("; ") : "Matched for listening: aligned, equally loud, polarity righted.");
  }

  say(words) {
    if (this.state && this.state.textContent !== words) this.state.textContent = words;
  }

  /** Say something of one lane. */
  sayOf(id, words) {
    this.say(`${this.wordsOf(id)}: ${words}`);
  }

  button(action, words) {
    const button = this.section.querySelector(`[data-do="${action}"]`);
    if (button) button.textContent = words;
  }
}
