// Every diagram of the page becomes one with cursors, when it comes near; without this the page has pictures and tables.

/** Where a row is explained: intervals of scans, each with the fragments of the page that say why. */
class Explanations {
  constructor(section, rows) {
    this.rows = rows;
    this.section = section;
  }

  at(row, scan) {
    const intervals = this.rows[row] ?? [];
    let found = [];
    for (const [from, until, fragments] of intervals) {
      if (from > scan) break;
      if (scan < until) found = fragments;
    }
    return found;
  }

  fragment(id) {
    const template = this.section.querySelector(`template[data-fragment="${id}"]`);
    return template ? template.content.cloneNode(true) : "";
  }
}

async function open(section) {
  const block = section.querySelector("script.recording");
  const recording = await recordingOf(block);
  const viewer = new Viewer(recording, section.dataset.label);
  const reasons = section.querySelector("script.explanations");
  const explanations = reasons ? new Explanations(section, JSON.parse(reasons.textContent)) : null;
  const cursor = new AtTheCursor(viewer, explanations);
  section.querySelector(".pictures").before(viewer.root, cursor.root);
  new ValuesTable(viewer, section.querySelector("table.values"));
  new ChangesTable(viewer, section.querySelector("details.changes"));
  viewer.draw();
  unpackAtLeisure(recording.rows);
}

/** Unpacks what was not looked at yet, a few rows at a time. */
function unpackAtLeisure(rows) {
  const began = performance.now();
  let next = 0;
  for (; next < rows.length && performance.now() - began < 8; next += 1) rows[next].changed;
  if (next < rows.length) setTimeout(() => unpackAtLeisure(rows.slice(next)), 20);
}

/** On paper everything that is folded is open, and folded again behind it. */
function printUnfolded() {
  let unfolded = [];
  addEventListener("beforeprint", () => {
    unfolded = [...document.querySelectorAll("details:not([open], .keys)")];
    unfolded.forEach((details) => (details.open = true));
  });
  addEventListener("afterprint", () => unfolded.forEach((details) => (details.open = false)));
}

/** Opens a diagram; where that fails the pictures stay. */
function opening(section) {
  open(section).catch((error) => {
    section.classList.remove("opened");
    section.querySelector(".pictures").before(element("p", { role: "alert" }, `The diagram cannot be opened: ${error.message}`));
  });
}

function start() {
  printUnfolded();
  if (typeof DecompressionStream !== "function") return;
  const near = new IntersectionObserver(
    (entries) => {
      for (const { target, isIntersecting } of entries) {
        if (!isIntersecting) continue;
        near.unobserve(target);
        opening(target);
      }
    },
    { rootMargin: "600px" },
  );
  const [first, ...others] = document.querySelectorAll("section.run");
  for (const section of [first, ...others].filter(Boolean)) {
    // What it makes of the pictures takes their place at once, so that nothing is laid out twice.
    section.classList.add("opened");
  }
  if (first) opening(first);
  others.forEach((section) => near.observe(section));
}

start();
