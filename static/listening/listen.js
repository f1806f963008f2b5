// The player of the compare page, the blind page and the A–B–X test: its lanes are radio buttons of the page.

import { enhance } from "../enhance.js";
import { Player } from "./player.js";

class Listen extends Player {
  get lanesUrl() {
    return this.section.dataset.lanes;
  }

  get gainsUrl() {
    return this.section.dataset.gains;
  }

  laneIds() {
    return [...this.section.querySelectorAll('input[name="heard"]')].map((input) => input.value);
  }

  input(id) {
    return this.section.querySelector(`input[name="heard"][value="${CSS.escape(id)}"]`);
  }

  firstHeard() {
    return this.section.querySelector('input[name="heard"]:checked:not(:disabled)')?.value ?? this.lanes[0].id;
  }

  wordsOf(id) {
    return this.input(id)?.dataset.words ?? id;
  }

  /** Say beside a lane what keeps it out, and take its button away. */
  showLane(lane) {
    const input = this.input(lane.id);
    if (!input) return;
    input.disabled = !lane.prints.length;
    const note = input.closest("label")?.querySelector(".lane-note");
    if (note) note.textContent = lane.reason || "";
  }

  /** The drawings over time are in step with what is heard. */
  showLine() {
    super.showLine();
    for (const drawing of document.querySelectorAll("[data-heard]")) {
      const [left, right, seconds] = drawing.dataset.heard.split(" ").map(Number);
      const line = drawing.querySelector(".heard-now");
      const x = left + ((right - left) * this.position) / seconds;
      line.setAttribute("visibility", this.position > 0 && x <= right ? "visible" : "hidden");
      line.setAttribute("transform", `translate(${x - left} 0)`);
    }
  }

  showHeard() {
    const input = this.input(this.heard);
    if (input) input.checked = true;
  }
}

enhance(".player", (section, signal) => (section.player = new Listen(section, signal)));
