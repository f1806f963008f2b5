// The transport at the foot of a source's page. Its lanes are the source and the passes that the ledger shows; a column's
// head switches to it, and the column that is heard is marked. Nothing is fetched before something is to be heard.

import { enhance } from "../enhance.js";
import { Player } from "./player.js";

const SOURCE = "source";
const MOST = 9; // lanes by key, the source among them
const BESIDE = 2; // older passes that were clicked are kept beside those

const KEYS = {
  "b": (dock) => dock.flip(),
  "x": (dock) => dock.chooseBlind(),
};

class Dock extends Player {
  constructor(section, signal) {
    super(section, signal, { isLazy: true });
    this.lane = section.querySelector(".dock-lane");
    this.beside = []; // passes without a key that were asked for, the last first
    this.known = "";
    for (const range of Object.values(this.ranges)) range.max = this.length;
    this.ledgerCame();
    this.showLine();
    this.tell();
  }

  bindKeys() {
    super.bindKeys(KEYS);
  }

  /** The heads of the passes that have a print. */
  heads() {
    return [...document.querySelectorAll("#ledger th [data-hear][data-prints]")];
  }

  get hasLanes() {
    return !this.section.hidden;
  }

  laneIds() {
    const sources = "source" in this.section.dataset ? [SOURCE] : [];
    const passes = this.heads().map((head) => head.dataset.hear);
    return [...sources, ...passes.slice(sources.length - MOST)];
  }

  /** The newest pass that has a print. */
  firstHeard() {
    return this.laneIds().at(-1);
  }

  get query() {
    const there = new Set(this.heads().map((head) => head.dataset.hear));
    const ids = [...this.laneIds(), ...this.beside.filter((id) => there.has(id))].filter((id) => id !== SOURCE);
    if (!ids.length) ids.push(document.querySelector("#ledger th [data-hear]").dataset.hear); // the source by itself
    return [...new Set(ids)].map((id) => id.replace("-", "=")).join("&");
  }

  get lanesUrl() {
    return `/compare/lanes?${this.query}`;
  }

  get gainsUrl() {
    return `/compare/gains?${this.query}`;
  }

  hear(id) {
    if (!this.laneIds().includes(id) && !this.beside.includes(id)) {
      this.beside = [id, ...this.beside].slice(0, BESIDE);
      this.isStale = true;
    }
    super.hear(id);
    if (this.awaited === id ? !this.isWanted : this.heard === id && !this.isPlaying) this.start();
  }

  flip() {
    if (this.before) this.hear(this.before);
  }

  chooseBlind() {
    const ticked = new Set(new FormData(document.getElementById("ticks")).getAll("pass"));
    if (ticked.size < 2 || ticked.size > 8) this.say("Tick two to eight passes for a blind choice.");
    else this.section.querySelector("[data-blind]").click();
  }

  /** The ledger came anew: what it brought is asked for when something is wanted next. */
  ledgerCame() {
    this.section.hidden = !this.laneIds().length || !document.querySelector("#ledger th [data-hear]");
    const known = this.heads().map(({ dataset }) => `${dataset.hear}: ${dataset.prints}`).join("; ");
    if (known !== this.known) this.isStale = true;
    this.known = known;
    const ids = this.laneIds();
    for (const head of this.heads()) {
      const key = ids.indexOf(head.dataset.hear) + 1;
      if (key && !head.querySelector("kbd")) head.append(keyMark(key));
    }
    this.showHeard();
  }

  showLane() {}

  showHeard() {
    const pass = this.heard?.replace("pass-", "");
    for (const cell of document.querySelectorAll("#ledger [data-pass]")) cell.classList.toggle("is-heard", cell.dataset.pass === pass);
    for (const head of this.heads()) head.setAttribute("aria-pressed", head.dataset.hear === this.heard);
    for (const button of document.querySelectorAll("#ledger [data-hears]")) button.setAttribute("aria-pressed", button.dataset.hears === this.heard);
    this.lane.textContent = this.wordsOf(this.heard ?? this.firstHeard());
  }

  wordsOf(id) {
    if (id === SOURCE) return "The source";
    const head = this.heads().find(({ dataset }) => dataset.hear === id);
    return head ? head.firstChild.textContent : this.lane.textContent;
  }
}

function keyMark(key) {
  const mark = document.createElement("kbd");
  mark.className = "single-keys";
  mark.ariaHidden = "true";
  mark.textContent = key;
  return mark;
}

const dock = () => document.querySelector(".dock")?.player;

enhance(".dock", (section, signal) => (section.player = new Dock(section, signal)));

enhance("#ledger", () => dock()?.ledgerCame());

// Without this module a column's head leads to the page of its pass, which stands in the menu beside it, too.
enhance("#ledger [data-hear][data-prints]", (head, signal) => {
  head.setAttribute("role", "button");
  const heard = (event) => {
    if (event.ctrlKey || event.metaKey || event.shiftKey || !dock()) return;
    event.preventDefault();
    dock().hear(head.dataset.hear);
  };
  head.addEventListener("click", heard, { signal });
});

// On a phone a pass is a card.
enhance("#ledger [data-hears]", (button, signal) => {
  button.addEventListener("click", () => dock()?.hear(button.dataset.hears), { signal });
});
