// Whether something is being pressed. What comes in by itself (a complaint at a field, a line of help) may move what stands
// below it; under a finger that is already down, the press would be missed.

let release = null;
let whenReleased = Promise.resolve();

/** Resolves at once, or when what is being pressed was pressed. */
export const released = () => whenReleased;

document.addEventListener("pointerdown", () => {
  if (!release) whenReleased = new Promise((resolve) => (release = resolve));
}, true);

for (const name of ["pointerup", "pointercancel"]) {
  document.addEventListener(name, () => {
    if (release) setTimeout(release); // its click comes first
    release = null;
  }, true);
}
