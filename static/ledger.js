// Shows the newest pass of each settings ledger, and moves along it by keyboard.

function columnStep(region) {
  const column = region.querySelector("tbody td, thead .ledger-pass");
  return column ? column.getBoundingClientRect().width : 120;
}

function enhance(region) {
  if (region.dataset.enhanced) return;
  region.dataset.enhanced = "yes";
  region.scrollLeft = region.scrollWidth;
  region.addEventListener("keydown", (event) => {
    if (event.target !== region || event.altKey || event.ctrlKey || event.metaKey) return;
    const moves = {
      ArrowLeft: () => region.scrollBy({ left: -columnStep(region) }),
      ArrowRight: () => region.scrollBy({ left: columnStep(region) }),
      Home: () => region.scrollTo({ left: 0 }),
      End: () => region.scrollTo({ left: region.scrollWidth }),
    };
    if (!moves[event.key]) return;
    event.preventDefault();
    moves[event.key]();
  });
}

function enhanceAll(root) {
  if (root.matches && root.matches(".ledger-scroll")) enhance(root);
  root.querySelectorAll(".ledger-scroll").forEach(enhance);
}

enhanceAll(document);
document.addEventListener("htmx:load", (event) => enhanceAll(event.target));
