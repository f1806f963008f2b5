// Plays all lanes at once from one clock and lets one of them be heard. Works on an AudioContext and, for tests, on an
// OfflineAudioContext.
//
// A lane is { id, prints: [{ segmentUrl(n), delay_s, inverted, gain }] }. Its audition files are aligned: sample 0 is
// the source's time zero. Playing unaligned means playing them later by the print's delay.

const AHEAD_S = 1.5; // how far ahead pieces are handed to the audio clock
const CROSSFADE_S = 0.008;
const EDGE_S = 0.004; // where a loop wraps, or play starts and stops
const START_S = 0.05;

const RISING = Float32Array.from({ length: 33 }, (_, k) => Math.sin((Math.PI / 2) * (k / 32)));
const FALLING = Float32Array.from(RISING).reverse(); // equal power: the squares of the two add up to one

/** What tells whether a lane sounds as it did. */
function soundOf({ prints }) {
  return JSON.stringify(prints.map(({ segments, delay_s, nudge_s, inverted, scale }) => [segments, delay_s, nudge_s, inverted, scale]));
}

export class Transport {
  constructor(context, segments, lanes, { segmentSeconds, lengthSeconds }) {
    this.context = context;
    this.segments = segments;
    this.segmentSeconds = segmentSeconds;
    this.lengthSeconds = lengthSeconds;
    this.region = { from: 0, to: lengthSeconds, loops: false };
    this.options = { aligned: true, matched: true, upright: true };
    this.gains = {}; // what matches the lanes in level, in dB by lane
    this.volume = new GainNode(context);
    this.volume.connect(context.destination);
    this.heard = lanes[0]?.id;
    this.lanes = new Map(lanes.map((lane) => [lane.id, this.wired(lane, lane.id === this.heard)]));
    this.runs = []; // stretches of unbroken play: { time, position, length, wraps }
    this.pieces = []; // what waits for its buffer
    this.sounding = new Set();
    this.playing = false;
    this.starting = null; // what is waited for before it plays
    this.stoppedAt = 0;
    this.applyLevels(0);
  }

  /** A lane with its part of the graph: each print, then all of them together, then whether they are heard. */
  wired(lane, isHeard) {
    const fade = new GainNode(this.context, { gain: isHeard ? 1 : 0 });
    const level = new GainNode(this.context);
    level.connect(fade).connect(this.volume);
    const prints = lane.prints.map((print) => {
      const node = new GainNode(this.context);
      node.connect(level);
      return { ...print, node };
    });
    return { ...lane, prints, fade, level, fadingUntil: 0 };
  }

  /** Whether it plays, or will as soon as what sounds first is there. */
  get isOn() {
    return this.playing || this.starting !== null;
  }

  /** Seconds on the source's time line that are heard now. */
  get position() {
    if (!this.playing) return this.stoppedAt;
    const now = this.context.currentTime;
    const run = this.runs.findLast((each) => each.time <= now) ?? this.runs[0];
    return run ? Math.min(run.position + Math.max(0, now - run.time), run.position + run.length) : this.stoppedAt;
  }

  /** Resolves once everything that sounds first is decoded. */
  async ready(position, prints = this.everyPrint()) {
    const wanted = [];
    for (const print of prints) {
      const at = position - this.lateness(print);
      for (const second of [at, at + 1]) {
        const n = Math.floor(second / this.segmentSeconds);
        if (second >= 0 && second < this.lengthSeconds) wanted.push(this.segments.take(print.segmentUrl(n)).promise);
      }
    }
    await Promise.all(wanted);
  }

  /** True once it plays; false when it was stopped, or sent elsewhere, before it could. */
  async play(position = this.stoppedAt) {
    this.stop();
    const { from, to, loops } = this.region;
    let start = position >= this.lengthSeconds - 0.01 ? 0 : Math.max(0, position);
    if (loops && (start < from || start >= to)) start = from;
    this.stoppedAt = start;
    const starting = this.ready(start);
    this.starting = starting;
    await starting;
    if (this.starting !== starting) return false;
    this.starting = null;
    this.playing = true;
    this.runs = [];
    this.next = { time: this.context.currentTime + START_S, position: start };
    this.fill();
    return true;
  }

  stop() {
    this.stoppedAt = this.position;
    this.playing = false;
    this.starting = null;
    this.pieces = [];
    const now = this.context.currentTime;
    for (const { source, edge } of this.sounding) {
      edge.gain.cancelScheduledValues(now);
      edge.gain.setTargetAtTime(0, now, EDGE_S / 3);
      source.stop(now + 3 * EDGE_S);
    }
    this.sounding.clear();
  }

  /** Hand what comes next to the audio clock. Called several times a second while playing. */
  fill(until = this.context.currentTime + AHEAD_S) {
    if (!this.playing) return;
    while (this.next && this.next.time < until) {
      const { loops, from, to } = this.region;
      const end = loops && this.next.position < to ? to : this.lengthSeconds;
      const length = Math.min(end - this.next.position, this.segmentSeconds);
      if (length <= 0.001) {
        this.next = loops ? { time: this.next.time, position: from } : null;
        if (loops && to - from < 0.02) this.next = null;
        continue;
      }
      const run = { ...this.next, length, wraps: loops && this.next.position + length >= to - 1e-6 };
      this.runs.push(run);
      if (this.runs.length > 40) this.runs.shift();
      for (const print of this.everyPrint()) this.cut(print, run, run.position === from || this.runs.length === 1);
      this.next = { time: run.time + length, position: run.wraps ? from : run.position + length };
    }
    this.pieces = this.pieces.filter((piece) => !this.sound(piece));
    if (!this.next && this.context.currentTime > this.runs.at(-1).time + this.runs.at(-1).length) this.stop();
  }

  /** Choose the lane that is heard: an equal-power crossfade, at once. */
  hear(id) {
    if (!this.lanes.has(id) || id === this.heard) return;
    const before = this.lanes.get(this.heard);
    this.heard = id;
    this.crossfade(before, this.lanes.get(id));
  }

  crossfade(before, after) {
    const start = Math.max(this.context.currentTime, before.fadingUntil, after.fadingUntil);
    before.fade.gain.setValueCurveAtTime(FALLING, start, CROSSFADE_S);
    after.fade.gain.setValueCurveAtTime(RISING, start, CROSSFADE_S);
    before.fadingUntil = after.fadingUntil = start + CROSSFADE_S + 0.001;
  }

  /** The lanes as they are now, while it plays on: what came or sounds otherwise joins once it is decoded, what left goes
   * unless it is heard. */
  async take(lanes) {
    const fresh = lanes.filter((lane) => !this.lanes.has(lane.id) || soundOf(lane) !== soundOf(this.lanes.get(lane.id)));
    const wired = fresh.map((lane) => this.wired(lane, false));
    if (this.isOn) await this.ready(this.position, wired.flatMap(({ prints }) => prints));
    this.applyLevels(0, wired);
    for (const lane of wired) this.join(lane);
    for (const [id, lane] of this.lanes) {
      if (id === this.heard || lanes.some((each) => each.id === id)) continue;
      this.lanes.delete(id);
      this.leave(lane);
    }
    this.fill();
  }

  join(lane) {
    const before = this.lanes.get(lane.id);
    this.lanes.set(lane.id, lane);
    const now = this.context.currentTime;
    const ahead = this.playing ? this.runs.filter((run) => run.time + run.length > now) : [];
    for (const run of ahead) for (const print of lane.prints) this.cut(print, run, false);
    if (lane.id === this.heard) this.crossfade(before, lane);
    if (before) this.leave(before);
  }

  /** It sounds until its fade is over. */
  leave({ prints, fadingUntil }) {
    const nodes = new Set(prints.map(({ node }) => node));
    this.pieces = this.pieces.filter(({ node }) => !nodes.has(node));
    for (const { source, node } of this.sounding) if (nodes.has(node)) source.stop(Math.max(fadingUntil, this.context.currentTime));
  }

  setRegion(region) {
    this.region = { ...this.region, ...region };
    if (this.isOn) this.play(this.position);
  }

  setOptions(options) {
    const realign = "aligned" in options && options.aligned !== this.options.aligned;
    this.options = { ...this.options, ...options };
    this.applyLevels(0.01);
    if (realign && this.isOn) this.play(this.position);
  }

  /** Matching gains in dB by lane. */
  setMatching(gains) {
    this.gains = gains;
    this.applyLevels(0.01);
  }

  /** How loud it all is, as a factor. */
  setVolume(gain) {
    this.volume.gain.setTargetAtTime(gain, this.context.currentTime, 0.01);
  }

  setBalance(laneId, index, gain) {
    this.lanes.get(laneId).prints[index].gain = gain;
    this.applyLevels(0.01);
  }

  applyLevels(smoothing, lanes = this.lanes.values()) {
    const now = this.context.currentTime;
    const go = (param, value) => (smoothing ? param.setTargetAtTime(value, now, smoothing) : param.setValueAtTime(value, now));
    for (const lane of lanes) {
      go(lane.level.gain, this.options.matched ? 10 ** ((this.gains[lane.id] ?? 0) / 20) : 1);
      for (const print of lane.prints) go(print.node.gain, print.gain * print.scale * (this.options.upright && print.inverted ? -1 : 1));
    }
  }

  lateness(print) {
    return (this.options.aligned ? 0 : print.delay_s) + (print.nudge_s ?? 0);
  }

  *everyPrint() {
    for (const lane of this.lanes.values()) yield* lane.prints;
  }

  /** The pieces of a print's segments that sound during a run. */
  cut(print, run, fadesIn) {
    const size = this.segmentSeconds;
    const late = this.lateness(print);
    const from = Math.max(0, run.position - late);
    const to = Math.min(this.lengthSeconds, run.position + run.length - late);
    for (let n = Math.floor(from / size); n * size < to; n += 1) {
      const start = Math.max(from, n * size);
      const end = Math.min(to, (n + 1) * size);
      if (end - start < 1e-6) continue;
      this.pieces.push({
        entry: this.segments.take(print.segmentUrl(n)),
        node: print.node,
        time: run.time + (start + late - run.position),
        offset: start - n * size,
        length: end - start,
        fadesIn: fadesIn && start === from,
        fadesOut: run.wraps && end === to,
      });
    }
    const ahead = Math.floor(to / size);
    if (ahead * size < this.lengthSeconds) this.segments.take(print.segmentUrl(ahead));
  }

  /** Start a piece whose buffer is there. True when nothing more is to be done for it. */
  sound(piece) {
    const { entry } = piece;
    if (entry.failed) return true;
    if (!entry.buffer) return false;
    const missed = Math.max(0, this.context.currentTime + 0.005 - piece.time); // its buffer came late
    const length = Math.min(piece.length, entry.buffer.duration - piece.offset) - missed;
    if (length <= 0) return true;
    const time = piece.time + missed;
    const edge = new GainNode(this.context, { gain: piece.fadesIn || missed ? 0 : 1 });
    if (piece.fadesIn || missed) {
      edge.gain.setValueAtTime(0, time);
      edge.gain.linearRampToValueAtTime(1, time + EDGE_S);
    }
    if (piece.fadesOut) {
      edge.gain.setValueAtTime(1, Math.max(time + EDGE_S, time + length - EDGE_S));
      edge.gain.linearRampToValueAtTime(0, time + length);
    }
    const source = new AudioBufferSourceNode(this.context, { buffer: entry.buffer });
    source.connect(edge).connect(piece.node);
    source.start(time, piece.offset + missed, length);
    const playing = { source, edge, node: piece.node };
    this.sounding.add(playing);
    source.onended = () => this.sounding.delete(playing);
    return true;
  }
}
