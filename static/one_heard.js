// One thing is heard at a time: what begins to play ends what played.

document.addEventListener(
  "play",
  ({ target }) => {
    for (const audio of document.querySelectorAll("audio")) if (audio !== target) audio.pause();
  },
  true,
);
