// Times for people.

const TIME_UNITS = [
  ["d", 86400000000000n],
  ["h", 3600000000000n],
  ["min", 60000000000n],
  ["s", 1000000000n],
  ["ms", 1000000n],
  ["µs", 1000n],
  ["ns", 1n],
];

/** A number of nanoseconds in units of so many, exactly. */
function decimal(value, unit) {
  const magnitude = value < 0n ? -value : value;
  let rest = magnitude % unit;
  let text = `${value < 0n ? "-" : ""}${magnitude / unit}`;
  if (rest !== 0n) {
    text += ".";
    while (rest !== 0n && text.length < 40) {
      rest *= 10n;
      text += rest / unit;
      rest %= unit;
    }
  }
  return text;
}

/** A time: the longest unit in which at most three decimal places tell it. */
function timeText(ns) {
  const value = BigInt(Math.round(ns));
  if (value === 0n) return "0 s";
  const magnitude = value < 0n ? -value : value;
  let [symbol, unit] =
    TIME_UNITS.find(([, size]) => magnitude >= size && (magnitude * 1000n) % size === 0n) ?? TIME_UNITS[6];
  // Five digits and more of a short unit read worse than seconds with many places.
  if (unit < 1000000000n && magnitude / unit >= 10000n) [symbol, unit] = TIME_UNITS[3];
  return `${decimal(value, unit)} ${symbol}`;
}

const SECOND_NS = 1e9;

/** Steps of a time axis, in nanoseconds. */
function* steps() {
  for (let power = 1; power < SECOND_NS; power *= 10) yield* [power, 2 * power, 5 * power];
  for (const unit of [SECOND_NS, 60 * SECOND_NS]) yield* [1, 2, 5, 10, 15, 30].map((count) => count * unit);
  yield* [1, 2, 3, 6, 12].map((count) => count * 3600 * SECOND_NS);
  for (let power = 86400 * SECOND_NS; ; power *= 10) yield* [power, 2 * power, 5 * power];
}

/** Ticks of an axis: at least so many nanoseconds apart. */
function ticks(from, until, least) {
  let step = 1;
  for (step of steps()) if (step >= least) break;
  const all = [];
  for (let time = Math.ceil(from / step) * step; time <= until; time += step) all.push(time);
  return all;
}
