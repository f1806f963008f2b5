// The player of a page that was handed on: plain audio elements that run together, all but one of them muted. A page
// opened from a folder may not read audio any other way.

const IN_STEP_S = 0.03; // what is further apart is brought back together
const LOOK_MS = 400;

function begin(section) {
  const lanes = [...section.querySelectorAll("audio")].map((audio) => ({
    audio,
    late: Number(audio.dataset.late),
    volume: Number(audio.dataset.volume),
  }));
  const button = section.querySelector("[data-do=play]");
  const line = section.querySelector("[type=range]");
  const fair = section.querySelector("[name=matched]");
  let at = 0; // on the source's time line
  let looking = 0;

  const heard = () => lanes[Number(section.querySelector("[type=radio]:checked").value)];
  const length = () => Math.max(1, ...lanes.map((lane) => (lane.audio.duration || 0) - lane.late));

  function hear() {
    for (const lane of lanes) {
      lane.audio.muted = lane !== heard();
      lane.audio.volume = fair.checked ? lane.volume : 1;
    }
  }

  function place(lane) {
    lane.audio.currentTime = Math.max(0, at + lane.late);
  }

  function look() {
    const lead = heard();
    at = lead.audio.currentTime - lead.late;
    line.max = length();
    line.value = at;
    for (const lane of lanes) {
      if (lane !== lead && Math.abs(lane.audio.currentTime - lane.late - at) > IN_STEP_S) place(lane);
    }
    if (lead.audio.ended) stop();
  }

  function stop() {
    clearInterval(looking);
    looking = 0;
    for (const lane of lanes) lane.audio.pause();
    button.textContent = "Play";
  }

  async function play() {
    if (at >= length() - 0.1) at = 0;
    hear();
    lanes.forEach(place);
    await Promise.all(lanes.map((lane) => lane.audio.play().catch(() => null)));
    looking = setInterval(look, LOOK_MS);
    button.textContent = "Stop";
  }

  button.addEventListener("click", () => (looking ? stop() : play()));
  line.addEventListener("input", () => {
    at = Number(line.value);
    lanes.forEach(place);
  });
  section.addEventListener("change", hear);
  section.dataset.ready = "yes";
  button.disabled = false;
}

document.querySelectorAll("[data-player]").forEach(begin);
