// Every diagram of the page becomes one with cursors, when it comes near; without this the page has pictures and tables.

/** What is told of rows at scans: by row the intervals, each with the fragments of the page that hold for it. */
class Explanations {
  constructor(section, block) {
    this.section = section;
    this.kind = block.dataset.kind;
    this.heading = block.dataset.heading;
    this.rows = JSON.parse(block.textContent);
  }

  /** Names of the fragments for a row at a scan. */
  at(row, scan) {
    const found = (this.rows[row] ?? []).find(([from, until]) => from <= scan && scan < until);
    return found ? found[2].map((id) => `${this.kind}-${id}`) : [];
  }

  fragment(name) {
    const template = this.section.querySelector(`template[data-fragment="${name}"]`);
    return template ? template.content.cloneNode(true) : "";
  }
}

async function open(section) {
  const block = section.querySelector("script.recording");
  const recording = await recordingOf(block);
  const viewer = new Viewer(recording, section.dataset.label);
  const blocks = [...section.querySelectorAll("script.explanations")];
  const explanations = blocks.map((block) => new Explanations(section, block));
  const cursor = new AtTheCursor(viewer, explanations);
  section.querySelector(".pictures").before(viewer.root, cursor.root);
  new ValuesTable(viewer, section.querySelector("table.values"));
  const changes = section.querySelector("details.changes");
  if (changes) new ChangesTable(viewer, changes);
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
