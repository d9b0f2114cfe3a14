// Lanes: what of a row falls into the time shown, as shapes. A path never claims more than its resolution: changes that
// share a pixel are drawn as a solid bar.

const SVG = "http://www.w3.org/2000/svg";
const WAVE = 18;
const FIGURE = 6.4;

function shapeOf(name, attributes, text) {
  const shape = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) shape.setAttribute(key, value);
  if (text !== undefined) shape.textContent = text;
  return shape;
}

/** The values of a row in the time shown, each with its left and right edge in pixels and how many share the left one. */
function* stretches(row, recording, view) {
  const place = (time) => Math.min(Math.max(((time - view.from) / (view.until - view.from)) * view.width, 0), view.width);
  const first = Math.max(row.at(recording.scanAt(view.from)), 0);
  let index = first;
  let left = 0;
  let crowd = 0;
  while (index < row.changed.length) {
    let next = index + 1;
    const time = next < row.changed.length ? recording.times[row.changed[next]] : Infinity;
    const right = time >= view.until ? view.width : place(time);
    if (Math.floor(right) === Math.floor(left) && right < view.width && index > first) {
      // Gone again within the pixel in which it came.
      crowd += 1;
    } else {
      yield { index, left, right, crowd };
      crowd = 0;
      left = right;
    }
    if (time >= view.until) return;
    index = next;
  }
}

/** Draws a row into an SVG element. */
function drawLane(row, recording, view, target) {
  const paths = { fill: "", wave: "", busy: "" };
  const words = [];
  if (row.there && view.width > 0) {
    if (row.drawn === "level") levels(row, recording, view, paths);
    else if (row.drawn === "boxes") boxes(row, recording, view, paths, words);
    else numbers(row, recording, view, paths, words);
  }
  const shapes = Object.entries(paths)
    .filter(([, path]) => path)
    .map(([name, path]) => shapeOf("path", { class: name, d: path }));
  shapes.push(...words.map(({ x, y, text }) => shapeOf("text", { x, y }, text)));
  target.setAttribute("viewBox", `0 -3 ${Math.max(view.width, 1)} ${WAVE + 6}`);
  target.replaceChildren(...shapes);
}

const rounded = (number) => Math.round(number * 10) / 10;

function bar(left, right) {
  return `M${rounded(Math.floor(left))} 0h${Math.max(Math.ceil(right - left), 1)}v${WAVE}H${rounded(Math.floor(left))}z`;
}

function levels(row, recording, view, paths) {
  const filled = row.kind === "output";
  for (const { index, left, right, crowd } of stretches(row, recording, view)) {
    const y = row.level(index) ? 0 : WAVE;
    paths.wave += paths.wave ? `V${y}H${rounded(right)}` : `M0 ${y}H${rounded(right)}`;
    if (crowd > 0) paths.busy += bar(left, left + 1);
    if (filled && y === 0) paths.fill += `M${rounded(left)} 0H${rounded(right)}V${WAVE}H${rounded(left)}z`;
  }
}

function numbers(row, recording, view, paths, words) {
  const [lowest, highest] = row.extremes();
  const y = (number) =>
    Number.isFinite(number) && highest > lowest ? rounded(WAVE - ((number - lowest) / (highest - lowest)) * WAVE) : WAVE;
  let last = -1;
  for (const { index, left, right, crowd } of stretches(row, recording, view)) {
    if (crowd > 0) {
      // All that came and went within the pixel.
      let top = WAVE;
      let bottom = 0;
      for (let other = last + 1; other < index; other += 1) {
        top = Math.min(top, y(row.numbers[other]));
        bottom = Math.max(bottom, y(row.numbers[other]));
      }
      if (bottom > top) paths.wave += `M${rounded(left)} ${top}V${bottom}M${rounded(left)} ${y(row.numbers[index])}`;
    }
    const here = y(row.numbers[index]);
    paths.wave += paths.wave ? `V${here}H${rounded(right)}` : `M0 ${here}H${rounded(right)}`;
    label(row, index, left, right, here > WAVE / 2 ? 8 : WAVE - 2, words);
    last = index;
  }
}

function boxes(row, recording, view, paths, words) {
  for (const { index, left, right, crowd } of stretches(row, recording, view)) {
    if (row.isNone(index)) {
      paths.wave += `M${rounded(left)} ${WAVE}H${rounded(right)}`;
      continue;
    }
    paths.wave += `M${rounded(left)} 0H${rounded(right)}M${rounded(left)} ${WAVE}H${rounded(right)}`;
    paths.wave += `M${rounded(right)} 0V${WAVE}`;
    if (left > 0) paths.wave += `M${rounded(left)} 0V${WAVE}`;
    if (crowd > 0) paths.busy += bar(left, left + 1);
    label(row, index, left, right, WAVE - 5, words);
  }
}

/** Writes a value where there is room for it. */
function label(row, index, left, right, y, words) {
  const room = Math.floor((right - left - 6) / FIGURE);
  if (room < 1) return;
  const text = row.text(index);
  if (text.length <= room) words.push({ x: rounded(left + 4), y, text });
}
