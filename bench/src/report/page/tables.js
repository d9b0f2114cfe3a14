// The same in figures: the values of all rows at the cursors, what is known of the chosen row, and the changes.

/** Changes listed at once. */
const LISTED = 100;

/** Fills the table of rows with columns for the cursors. */
class ValuesTable {
  constructor(viewer, table) {
    this.viewer = viewer;
    const head = table.tHead.rows[0];
    const last = head.cells[head.cells.length - 1];
    for (const title of ["at A", "since", "at B"]) head.insertBefore(element("th", { scope: "col", class: "at" }, title), last);
    this.cells = [...table.tBodies[0].rows].map((line) => {
      const end = line.cells[line.cells.length - 1];
      return [0, 1, 2].map(() => line.insertBefore(element("td", { class: "at" }), end));
    });
    const fill = onceAFrame(() => this.seen && this.fill());
    const later = afterRest(250, () => this.seen || this.fill());
    viewer.looking.onChange(fill);
    viewer.looking.onChange(later);
    later();
    new IntersectionObserver(([{ isIntersecting }]) => {
      this.seen = isIntersecting;
      fill();
    }).observe(table);
  }

  fill() {
    const { looking, recording } = this.viewer;
    recording.rows.forEach((row, index) => {
      const cells = this.cells[index];
      if (!cells || !row.there) return;
      const at = row.at(looking.a);
      setText(cells[0], row.text(at));
      setText(cells[1], at < 0 ? "" : timeText(looking.timeOf(row.changed[at])));
      setText(cells[2], looking.b === null ? "–" : row.text(row.at(looking.b)));
    });
  }
}

/** What is known of the chosen row where the cursor is. */
class AtTheCursor {
  constructor(viewer, explanations) {
    this.viewer = viewer;
    this.explanations = explanations;
    this.list = element("dl", {});
    this.told = explanations.map(({ heading }) => {
      const fragments = element("div", {});
      return { fragments, root: element("div", { class: "told" }, element("h4", {}, heading), fragments) };
    });
    this.root = element(
      "section",
      { class: "at-cursor" },
      element("h3", {}, "At the cursor"),
      this.list,
      ...this.told.map(({ root }) => root),
    );
    viewer.looking.onChange(onceAFrame(() => this.fill()));
    this.fill();
  }

  fill() {
    const { looking } = this.viewer;
    const row = looking.selected();
    if (!row) return;
    const index = row.at(looking.a);
    const since = index < 0 ? 0 : row.changed[index];
    const next = row.changed[index + 1];
    const ago = looking.timeOf(looking.a) - looking.timeOf(since);
    const facts = [
      ["Row", row.full && row.full !== row.name ? `${row.name} (${row.full})` : row.name],
      ["Time", `${timeText(looking.timeOf(looking.a))}, scan ${looking.a + 1}`],
      ["Value", row.there ? row.text(index) : "not in this page"],
    ];
    if (row.there) {
      const before = ago > 0 ? `${timeText(looking.timeOf(since))}, ${timeText(ago)} before` : "this scan";
      facts.push(["Since", index > 0 ? before : "the start"]);
      facts.push([
        "Next change",
        next === undefined ? "none" : `${timeText(looking.timeOf(next))}: ${row.text(index + 1)}`,
      ]);
    }
    const shown = facts.map((fact) => fact.join("\n")).join("\n");
    if (shown !== this.shown) {
      this.shown = shown;
      this.list.replaceChildren(
        ...facts.flatMap(([term, text]) => [element("dt", {}, term), element("dd", {}, text)]),
      );
    }
    this.explanations.forEach((explanations, index) => {
      const told = this.told[index];
      const found = explanations.at(row.index, looking.a);
      if (String(found) === told.shown) return;
      told.shown = String(found);
      told.root.hidden = found.length === 0;
      told.fragments.replaceChildren(...found.map((name) => explanations.fragment(name)));
    });
  }
}

/** Changes from the cursor on, a hundred at a time. */
class ChangesTable {
  constructor(viewer, details) {
    this.viewer = viewer;
    this.details = details;
    this.body = details.querySelector("tbody");
    this.note = details.querySelector(".note");
    this.from = 0;
    this.behind = 0;
    this.only = element("input", { type: "checkbox", onchange: () => this.list(this.from) });
    const button = (text, onclick) => element("button", { type: "button", onclick }, text);
    const tools = element(
      "div",
      { class: "tools", role: "group", "aria-label": "Changes listed" },
      button("From the start", () => this.list(0)),
      button("From cursor A", () => this.list(viewer.looking.a)),
      button("Next hundred", () => this.list(this.behind)),
      element("label", { class: "choice" }, this.only, " of the chosen row only"),
    );
    this.note.before(tools);
    details.addEventListener("toggle", () => details.open && this.list(this.from));
    viewer.looking.onChange(afterRest(100, () => this.follow()));
  }

  /** The next changes in the order of scans. */
  *changes(scan) {
    const { looking, recording } = this.viewer;
    const rows = recording.rows.filter((row) => row.there && (!this.only.checked || row.index === looking.row));
    // The first value of a row is no change.
    const places = rows.map((row) => Math.max(row.at(scan - 1) + 1, 1));
    // Nor is a value listed that moves in every scan, but for where it begins to move and where it stops.
    const movesOn = ({ first, changed }, index) =>
      first === undefined && changed[index - 1] + 1 === changed[index] && changed[index + 1] === changed[index] + 1;
    for (;;) {
      let best = -1;
      rows.forEach((row, index) => {
        const at = row.changed[places[index]];
        if (at !== undefined && (best < 0 || at < rows[best].changed[places[best]])) best = index;
      });
      if (best < 0) return;
      if (!movesOn(rows[best], places[best])) yield [rows[best], places[best]];
      places[best] += 1;
    }
  }

  list(scan) {
    const { looking } = this.viewer;
    const lines = [];
    this.from = scan;
    this.row = looking.row;
    let complete = true;
    for (const [row, index] of this.changes(scan)) {
      const at = row.changed[index];
      // Those of one scan stay together.
      if (lines.length >= LISTED && at !== this.behind - 1) {
        complete = false;
        break;
      }
      this.behind = at + 1;
      const go = element(
        "button",
        { type: "button", class: "plain", onclick: () => looking.put("a", at) },
        timeText(looking.timeOf(at)),
      );
      lines.push(
        element(
          "tr",
          { "data-scan": at },
          element("td", {}, go),
          element("td", {}, String(at + 1)),
          element("th", { scope: "row" }, row.name),
          element("td", {}, row.text(index - 1)),
          element("td", {}, row.text(index)),
        ),
      );
    }
    const which = this.only.checked ? ` of ${looking.selected().name}` : "";
    const more = complete ? "to the end of the run" : "there are more behind them";
    const from = timeText(looking.timeOf(scan));
    setText(
      this.note,
      lines.length > 0 ? `${counted(lines.length, "change")}${which} from ${from} on; ${more}.` : `No change${which} from ${from} on.`,
    );
    this.body.replaceChildren(...lines);
    this.point();
  }

  /** Shows where the cursor is; lists again when another row is chosen. */
  follow() {
    if (!this.details.open) return;
    if (this.only.checked && this.row !== this.viewer.looking.row) this.list(this.from);
    else this.point();
  }

  point() {
    for (const line of this.body.rows) {
      if (Number(line.dataset.scan) === this.viewer.looking.a) line.setAttribute("aria-current", "true");
      else line.removeAttribute("aria-current");
    }
  }
}
