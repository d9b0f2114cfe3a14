// The diagram with its cursors: lanes that are drawn where they are seen, an axis, buttons and keys.

const KEYS = [
  ["← →", "one scan back or on"],
  ["Shift ← →", "to the change of the chosen row before or behind"],
  ["Page Up, Page Down", "a tenth of the time shown"],
  ["Home, End", "first and last scan"],
  ["↑ ↓", "the row above or below"],
  ["+ −", "show less or more time around cursor A"],
  ["0", "show all of it"],
  ["B", "cursor B to where A is"],
  ["X", "remove cursor B"],
];

class Viewer {
  constructor(recording, label) {
    this.recording = recording;
    this.looking = new Looking(recording);
    this.seen = new Set();
    this.lanes = recording.rows.map((row) => this.lane(row, label));
    this.axis = shapeOf("svg", { class: "ticks", "aria-hidden": "true", preserveAspectRatio: "none" });
    this.thumbs = { a: this.thumb("a", label), b: this.thumb("b", label) };
    this.lines = { a: element("div", { class: "line a" }), b: element("div", { class: "line b" }) };
    this.measures = element("p", { class: "measures" });
    this.status = element("p", { class: "unseen", role: "status" });
    this.root = this.built(label);
    this.looking.onChange(onceAFrame(() => this.draw()));
    this.tell = afterRest(250, () => setText(this.status, this.sentence()));
    this.root.addEventListener("keydown", (event) => this.key(event));
    this.watch();
  }

  built(label) {
    const looking = this.looking;
    const button = (text, hint, onclick) => element("button", { type: "button", title: hint, onclick }, text);
    this.withB = [
      button("A to B", "Show the time between the cursors", () => looking.between()),
      button("Remove B", "Remove cursor B (X)", () => looking.removeB()),
    ];
    const tools = element(
      "div",
      { class: "tools", role: "group", "aria-label": `Time shown and cursors, ${label}` },
      button("Zoom in", "Show less time (+)", () => looking.zoom(0.5)),
      button("Zoom out", "Show more time (−)", () => looking.zoom(2)),
      button("Whole run", "Show all of it (0)", () => looking.whole()),
      button("Earlier", "Scroll back", () => looking.scroll(-0.5)),
      button("Later", "Scroll on", () => looking.scroll(0.5)),
      button("Previous change", "Of the chosen row (Shift ←)", () => looking.toChange("a", -1)),
      button("Next change", "Of the chosen row (Shift →)", () => looking.toChange("a", 1)),
      button("B here", "Put cursor B where A is (B)", () => looking.put("b", looking.a)),
      ...this.withB,
    );
    const keys = element(
      "details",
      { class: "keys" },
      element("summary", {}, "Keys and mouse"),
      element(
        "dl",
        {},
        ...KEYS.flatMap(([key, what]) => [element("dt", {}, element("kbd", {}, key)), element("dd", {}, what)]),
      ),
      element(
        "p",
        {},
        "Keys work on the cursors A and B, which Tab reaches, and on the names of rows. A click puts cursor A, a click with ",
        "Shift puts cursor B; Ctrl with the wheel zooms, Shift with the wheel scrolls.",
      ),
    );
    this.plot = element("div", { class: "track" }, this.axis, this.thumbs.a, this.thumbs.b);
    const heads = this.recording.groups.map((title, index) => {
      const lanes = this.lanes.filter((lane) => lane.row.group === index).map((lane) => lane.root);
      return element("div", { role: "group", "aria-label": title, class: "lanes-of" }, element("p", { class: "group" }, title), ...lanes);
    });
    const cursors = element("div", { class: "cursors", "aria-hidden": "true" }, this.lines.a, this.lines.b);
    this.area = element("div", { class: "lanes" }, cursors, ...heads);
    return element(
      "div",
      { class: "viewer" },
      tools,
      element("div", { class: "axis" }, this.measures, this.plot),
      element("div", { role: "radiogroup", "aria-label": `Rows, ${label}` }, this.area),
      this.status,
      keys,
    );
  }

  /** A lane: its name, which chooses the row, its value at the cursor, and its wave. */
  lane(row, label) {
    const choose = element("input", {
      type: "radio",
      name: `row of ${label}`,
      class: "unseen",
      onchange: () => this.looking.select(row.index),
    });
    const value = element("span", { class: "value", "aria-hidden": "true" });
    const detail = [row.kind, ...row.details].join(", ");
    const head = element(
      "label",
      { class: "head", title: row.full },
      choose,
      element("span", { class: "name" }, row.name),
      element("span", { class: row.fault ? "detail fault" : "detail" }, row.there ? detail : `${detail}; values not in this page`),
      value,
    );
    const wave = shapeOf("svg", { class: "wave-of", "aria-hidden": "true", preserveAspectRatio: "none" });
    const root = element("div", { class: `lane ${row.kind}` }, head, element("div", { class: "track" }, wave));
    return { row, root, choose, value, wave };
  }

  thumb(cursor, label) {
    const name = cursor.toUpperCase();
    return element(
      "div",
      { class: `thumb ${cursor}`, role: "slider", tabindex: "0", "aria-label": `Cursor ${name}, ${label}`, "aria-valuemin": "0" },
      name,
    );
  }

  /** Draws what is seen, again whenever its width changes. */
  watch() {
    const redraw = onceAFrame(() => this.draw());
    new ResizeObserver(redraw).observe(this.plot);
    const observer = new IntersectionObserver(
      (entries) => {
        for (const entry of entries) {
          if (entry.isIntersecting) this.seen.add(entry.target);
          else this.seen.delete(entry.target);
        }
        redraw();
      },
      { rootMargin: "200px" },
    );
    this.lanes.forEach((lane) => observer.observe(lane.root));
    this.area.addEventListener("pointerdown", (event) => this.press(event));
    this.area.addEventListener("pointermove", (event) => this.drag(event));
    this.area.addEventListener("pointerup", () => (this.dragged = null));
    this.plot.addEventListener("pointerdown", (event) => this.press(event));
    this.plot.addEventListener("pointermove", (event) => this.drag(event));
    this.plot.addEventListener("pointerup", () => (this.dragged = null));
    this.root.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
  }

  /** The moment below a pointer. */
  moment(event) {
    const box = this.plot.getBoundingClientRect();
    const share = Math.min(Math.max((event.clientX - box.left) / Math.max(box.width, 1), 0), 1);
    return this.looking.from + share * (this.looking.until - this.looking.from);
  }

  press(event) {
    const lane = event.target.closest(".track");
    if (!lane || event.button !== 0) return;
    const thumb = event.target.closest(".thumb");
    const cursor = thumb ? (thumb === this.thumbs.b ? "b" : "a") : event.shiftKey ? "b" : "a";
    const chosen = this.lanes.findIndex((it) => it.root.contains(lane));
    if (chosen >= 0) this.looking.row = chosen;
    this.dragged = cursor;
    event.target.setPointerCapture?.(event.pointerId);
    this.looking.put(cursor, this.recording.scanAt(this.moment(event)));
    this.thumbs[cursor].hidden = false;
    this.thumbs[cursor].focus({ preventScroll: true });
    event.preventDefault();
  }

  drag(event) {
    if (this.dragged) this.looking.put(this.dragged, this.recording.scanAt(this.moment(event)));
  }

  wheel(event) {
    if (!event.target.closest(".track")) return;
    if (event.ctrlKey) this.looking.zoom(event.deltaY > 0 ? 1.25 : 0.8, this.moment(event));
    else if (event.shiftKey || event.deltaX) this.looking.scroll(Math.sign(event.deltaX || event.deltaY) / 10);
    else return;
    event.preventDefault();
  }

  key(event) {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const looking = this.looking;
    const on = event.target === this.thumbs.b ? "b" : "a";
    const isThumb = event.target === this.thumbs.a || event.target === this.thumbs.b;
    const isRow = this.lanes.some((lane) => lane.choose === event.target);
    const tenth = Math.max(Math.round((looking.until - looking.from) / 10 / this.recording.scan), 1);
    const moves = {
      ArrowLeft: () => (event.shiftKey ? looking.toChange(on, -1) : looking.move(on, -1)),
      ArrowRight: () => (event.shiftKey ? looking.toChange(on, 1) : looking.move(on, 1)),
      ArrowUp: () => looking.select(looking.row - 1),
      ArrowDown: () => looking.select(looking.row + 1),
      PageUp: () => looking.move(on, -tenth),
      PageDown: () => looking.move(on, tenth),
      Home: () => looking.put(on, 0),
      End: () => looking.put(on, looking.last),
    };
    const acts = {
      "+": () => looking.zoom(0.5),
      "=": () => looking.zoom(0.5),
      "-": () => looking.zoom(2),
      "−": () => looking.zoom(2),
      0: () => looking.whole(),
      b: () => looking.put("b", looking.a),
      x: () => looking.removeB(),
    };
    // On the name of a row up and down are the browser's own.
    const vertical = event.key === "ArrowUp" || event.key === "ArrowDown";
    const act = isThumb || (isRow && !vertical) ? (moves[event.key] ?? acts[event.key.toLowerCase()]) : undefined;
    if (!act) return;
    event.preventDefault();
    if (on === "b" && event.key.toLowerCase() === "x") this.thumbs.a.focus();
    act();
  }

  draw() {
    const { looking, recording } = this;
    const width = Math.round(this.plot.clientWidth);
    const view = { from: looking.from, until: looking.until, width };
    for (const lane of this.lanes) {
      const chosen = lane.row.index === looking.row;
      if (lane.choose.checked !== chosen) lane.choose.checked = chosen;
      lane.root.classList.toggle("chosen", chosen);
      if (!this.seen.has(lane.root)) continue;
      setText(lane.value, lane.row.text(lane.row.at(looking.a)));
      const drawn = `${view.from} ${view.until} ${width}`;
      if (lane.drawn !== drawn) {
        drawLane(lane.row, recording, view, lane.wave);
        lane.drawn = drawn;
      }
    }
    this.drawAxis(view);
    for (const cursor of ["a", "b"]) this.drawCursor(cursor, view);
    this.withB.forEach((button) => (button.disabled = looking.b === null));
    setText(this.measures, this.measured());
    this.tell();
  }

  drawAxis(view) {
    const share = view.width / (view.until - view.from);
    const shapes = [];
    for (const time of ticks(view.from, view.until, 90 / share)) {
      const x = rounded((time - view.from) * share);
      shapes.push(shapeOf("path", { d: `M${x} 20V30` }));
      if (x < view.width - 50) shapes.push(shapeOf("text", { x: x + 3, y: 29 }, timeText(time)));
    }
    for (const mark of this.recording.marks) {
      const place = (time) => rounded((Math.min(Math.max(time, view.from), view.until) - view.from) * share);
      for (const [from, until] of mark.spans) {
        if (until < view.from || from > view.until) continue;
        shapes.push(shapeOf("path", { class: "mark", d: `M${place(from)} 38H${place(until)}M${place(from)} 34v8M${place(until)} 34v8` }));
        shapes.push(shapeOf("text", { class: "mark", x: place(from) + 3, y: 52 }, `${mark.name} ${mark.text}`));
      }
      for (const moment of mark.moments) {
        if (moment < view.from || moment > view.until) continue;
        const x = place(moment);
        shapes.push(shapeOf("path", { class: "mark", d: `M${x - 4} 34h8l-4 8z` }));
        shapes.push(shapeOf("text", { class: "mark", x: x + 6, y: 52 }, `${mark.name} ${mark.text}`));
      }
    }
    const height = this.recording.marks.length > 0 ? 56 : 32;
    this.axis.setAttribute("viewBox", `0 0 ${Math.max(view.width, 1)} ${height}`);
    this.axis.setAttribute("height", height);
    this.axis.replaceChildren(...shapes);
  }

  drawCursor(cursor, view) {
    const scan = this.looking[cursor];
    const [thumb, line] = [this.thumbs[cursor], this.lines[cursor]];
    const time = scan === null ? NaN : this.looking.timeOf(scan);
    const share = (time - view.from) / (view.until - view.from);
    const seen = share >= 0 && share <= 1;
    line.hidden = !seen;
    // A focused cursor out of sight stays where it can be found.
    thumb.hidden = scan === null;
    if (scan === null) return;
    const left = `${Math.min(Math.max(share, 0), 1) * 100}%`;
    thumb.style.left = left;
    line.style.left = left;
    thumb.setAttribute("aria-valuemax", String(this.looking.last));
    thumb.setAttribute("aria-valuenow", String(scan));
    thumb.setAttribute("aria-valuetext", `${timeText(time)}, scan ${scan + 1}`);
  }

  /** The cursors in figures. */
  measured() {
    const { looking } = this;
    const a = looking.timeOf(looking.a);
    let text = `A ${timeText(a)} (scan ${looking.a + 1})`;
    if (looking.b !== null) {
      const b = looking.timeOf(looking.b);
      text += ` · B ${timeText(b)} (scan ${looking.b + 1}) · B − A ${timeText(b - a)}, ${counted(looking.b - looking.a, "scan")}`;
    }
    return `${text} · shown ${timeText(Math.round(looking.from))} to ${timeText(Math.round(looking.until))}`;
  }

  /** What a screen reader says when the cursor rests. */
  sentence() {
    const { looking, recording } = this;
    const row = looking.selected();
    const time = timeText(looking.timeOf(looking.a));
    const parts = [`${time}, scan ${looking.a + 1}.`];
    if (row?.there) parts.push(`${row.name}: ${row.text(row.at(looking.a))}.`);
    const others = recording.rows.filter((it) => it !== row && looking.a > 0 && it.changed[it.at(looking.a)] === looking.a);
    if (others.length > 0) {
      const told = others.slice(0, 5).map((it) => `${it.name} ${it.text(it.at(looking.a))}`);
      const more = others.length > 5 ? `, and ${others.length - 5} more` : "";
      parts.push(`Changed here: ${told.join(", ")}${more}.`);
    }
    return parts.join(" ");
  }
}
