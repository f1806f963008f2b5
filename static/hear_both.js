// The original and a try: equally loud, and whichever is begun goes on at the place where the other stands (one_heard.js ends
// that one).

import { enhance } from "./enhance.js";

enhance(".hear-both", (pair, signal) => {
  let last = null;
  for (const audio of pair.querySelectorAll("audio")) {
    const from = Number(audio.dataset.from);
    audio.volume = Number(audio.dataset.volume);
    const begun = () => {
      if (last === audio) return;
      audio.currentTime = from + (last ? last.currentTime - Number(last.dataset.from) : 0);
      last = audio;
    };
    audio.addEventListener("play", begun, { signal });
  }
});
