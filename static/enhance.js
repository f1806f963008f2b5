// What a module does with an element of the page. A module names a selector and what to do; it is done to what stands
// there now and to whatever comes in later, and it ends with the element: what is given its `signal` (listeners, fetches)
// goes when the element leaves the page.

const kinds = []; // {selector, begin}
const served = new Map(); // element -> {ends, by: the kinds that began with it}

/** Have `begin(element, signal)` called once for every element that matches, whenever it comes. */
export function enhance(selector, begin) {
  const kind = { selector, begin };
  kinds.push(kind);
  beginWithin(document.documentElement, kind);
}

function beginWithin(root, kind) {
  if (root.matches(kind.selector)) beginWith(root, kind);
  root.querySelectorAll(kind.selector).forEach((element) => beginWith(element, kind));
}

function beginWith(element, kind) {
  if (!served.has(element)) served.set(element, { ends: new AbortController(), by: new Set() });
  const { ends, by } = served.get(element);
  if (by.has(kind)) return;
  by.add(kind);
  kind.begin(element, ends.signal);
}

const elementsOf = (nodes) => [...nodes].filter((node) => node.nodeType === Node.ELEMENT_NODE);

new MutationObserver((changes) => {
  if (changes.some(({ removedNodes }) => elementsOf(removedNodes).length)) {
    for (const [element, { ends }] of served) {
      if (element.isConnected) continue; // it was only moved
      served.delete(element);
      ends.abort();
    }
  }
  for (const { addedNodes } of changes) {
    for (const element of elementsOf(addedNodes)) {
      if (element.isConnected) kinds.forEach((kind) => beginWithin(element, kind));
    }
  }
}).observe(document.documentElement, { childList: true, subtree: true });
