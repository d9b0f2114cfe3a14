// The values of a recording: unpacked, and written as the literals of the standard (IEC 61131-3:2013, Tables 5 to 9).

const TWO_32 = 4294967296;

/** Bytes of base 64. */
function bytesOf(text) {
  const binary = atob(text);
  const bytes = new Uint8Array(binary.length);
  for (let index = 0; index < binary.length; index += 1) bytes[index] = binary.charCodeAt(index);
  return bytes;
}

/** Bytes compressed as RFC 1951 says. */
async function inflated(bytes) {
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

/** Reads numbers of up to 64 bits, in two halves. */
class Reader {
  constructor(bytes, at) {
    this.bytes = bytes;
    this.at = at;
    this.low = 0;
    this.high = 0;
  }

  /** A number below 2^32. */
  small() {
    let number = 0;
    let factor = 1;
    for (;;) {
      const byte = this.bytes[this.at++] ?? 0;
      number += (byte & 127) * factor;
      if (byte < 128) return number;
      factor *= 128;
    }
  }

  /** A difference, into `low` and `high`: 28, 28 and 8 bits, then the sign from the lowest bit. */
  difference() {
    const parts = [0, 0, 0];
    for (let place = 0; place < 10; place += 1) {
      const byte = this.bytes[this.at++] ?? 0;
      parts[place >> 2] |= (byte & 127) << (7 * (place & 3));
      if (byte < 128) break;
    }
    const low = (parts[0] | (parts[1] << 28)) >>> 0;
    const high = ((parts[1] >>> 4) | (parts[2] << 24)) >>> 0;
    const sign = -(low & 1);
    this.low = (((low >>> 1) | (high << 31)) ^ sign) >>> 0;
    this.high = (high >>> 1) ^ sign;
  }
}

/** `count` numbers of 64 bits as low and high halves; each is a difference from what was to be expected. */
function numbersOf(reader, count, evenly) {
  const low = new Uint32Array(count);
  const high = new Int32Array(count);
  for (let index = 0; index < count; index += 1) {
    reader.difference();
    let lowSum = reader.low;
    let highSum = reader.high;
    if (evenly && index > 1) {
      lowSum += 2 * low[index - 1] - low[index - 2];
      highSum += 2 * high[index - 1] - high[index - 2];
    } else if (index > 0) {
      lowSum += low[index - 1];
      highSum += high[index - 1];
    }
    const carry = Math.floor(lowSum / TWO_32);
    low[index] = lowSum - carry * TWO_32;
    high[index] = (highSum + carry) | 0;
  }
  return { low, high };
}

/** A whole number of two halves, exactly. */
function exact(low, high, signed) {
  return (BigInt(signed ? high : high >>> 0) << 32n) | BigInt(low);
}

const UNSIGNED = /^U|BYTE|WORD/;

/** The numbers that a lane is drawn with; as near as a number of a script can be. */
function drawnNumbers(type, { low, high }) {
  const drawn = new Float64Array(low.length);
  const bits = new DataView(new ArrayBuffer(8));
  const unsigned = UNSIGNED.test(type);
  for (let index = 0; index < low.length; index += 1) {
    if (type === "REAL" || type === "LREAL") {
      bits.setUint32(0, high[index] >>> 0);
      bits.setUint32(4, low[index]);
      drawn[index] = type === "REAL" ? bits.getFloat32(4) : bits.getFloat64(0);
    } else {
      drawn[index] = (unsigned ? high[index] >>> 0 : high[index]) * TWO_32 + low[index];
    }
  }
  return drawn;
}

/** Index of the last of rising numbers that is not above one; -1 if there is none. */
function lastUpTo(numbers, most) {
  let low = 0;
  let high = numbers.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (numbers[middle] <= most) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

/** A row: the scans at which it changed, and its values. */
class Row {
  constructor(entry, index) {
    Object.assign(this, entry);
    this.index = index;
    this.there = entry.bytes > 0;
    this.packed = null;
    this.unpacked = new Uint32Array(0);
  }

  /** The scans at which it changed; unpacks the row when it is first asked for. */
  get changed() {
    if (this.packed) this.unpack();
    return this.unpacked;
  }

  unpack() {
    const reader = this.packed;
    this.packed = null;
    this.unpacked = new Uint32Array(this.count);
    let scan = 0;
    for (let index = 0; index < this.count; index += 1) {
      scan += reader.small();
      this.unpacked[index] = scan;
    }
    if (this.texts) {
      this.numbers = Float64Array.from({ length: this.count }, () => reader.small());
    } else if (this.first === undefined) {
      this.halves = numbersOf(reader, this.count, this.evenly);
      this.numbers = drawnNumbers(this.type, this.halves);
    }
  }

  /** Index of the value in force after a scan; -1 if there is none. */
  at(scan) {
    return lastUpTo(this.changed, scan);
  }

  level(index) {
    return (index % 2 === 0) === this.first;
  }

  /** Lowest and highest finite number. */
  extremes() {
    if (this.packed) this.unpack();
    if (!this.reach) {
      let lowest = Infinity;
      let highest = -Infinity;
      for (const number of this.numbers) {
        if (Number.isFinite(number)) {
          lowest = Math.min(lowest, number);
          highest = Math.max(highest, number);
        }
      }
      this.reach = lowest <= highest ? [lowest, highest] : [0, 0];
    }
    return this.reach;
  }

  /** Whether a value is none at all: no step of a chart is active. */
  isNone(index) {
    return this.texts?.[this.numbers[index]] === "";
  }

  /** A value as text. */
  text(index) {
    if (index < 0) return "–";
    if (this.first !== undefined) return this.level(index) ? this.high : this.low;
    if (this.texts) return this.texts[this.numbers[index]] || "none";
    const low = this.halves.low[index];
    const high = this.halves.high[index];
    switch (this.type) {
      case "REAL":
      case "LREAL":
        return realText(this.numbers[index], this.type === "REAL");
      case "TIME":
        return durationText(exact(low, high, true), "T");
      case "LTIME":
        return durationText(exact(low, high, true), "LTIME");
      case "BYTE":
        return bitsText(low, high, 2);
      case "WORD":
        return bitsText(low, high, 4);
      case "DWORD":
        return bitsText(low, high, 8);
      case "LWORD":
        return bitsText(low, high, 16);
      default:
        return exact(low, high, !UNSIGNED.test(this.type)).toString();
    }
  }
}

function bitsText(low, high, digits) {
  return `16#${exact(low, high, false).toString(16).toUpperCase().padStart(digits, "0")}`;
}

/** The shortest digits that read back equal, always with a point; with an exponent below 1.0E-5 and from 1.0E16 on. */
function realText(value, single) {
  if (Number.isNaN(value)) return "NAN";
  if (!Number.isFinite(value)) return value > 0 ? "INF" : "-INF";
  let text = value.toExponential();
  for (let digits = 0; single && digits < 9; digits += 1) {
    text = value.toExponential(digits);
    if (Math.fround(Number(text)) === value) break;
  }
  const sign = value < 0 || Object.is(value, -0) ? "-" : "";
  const [mantissa, exponent] = text.replace("-", sign ? "" : "-").split(/e/);
  const power = Number(exponent);
  const digits = mantissa.replace(".", "");
  if (power < -5 || power >= 16) return `${sign}${digits[0]}.${digits.slice(1) || "0"}E${power}`;
  if (power < 0) return `${sign}0.${"0".repeat(-power - 1)}${digits}`;
  const whole = digits.slice(0, power + 1).padEnd(power + 1, "0");
  return `${sign}${whole}.${digits.slice(power + 1) || "0"}`;
}

const DURATION_UNITS = [
  ["d", 86400000000000n],
  ["h", 3600000000000n],
  ["m", 60000000000n],
  ["s", 1000000000n],
  ["ms", 1000000n],
  ["us", 1000n],
  ["ns", 1n],
];

function durationText(value, prefix) {
  if (value === 0n) return `${prefix}#0s`;
  let rest = value < 0n ? -value : value;
  let text = value < 0n ? `${prefix}#-` : `${prefix}#`;
  for (const [name, size] of DURATION_UNITS) {
    const count = rest / size;
    rest %= size;
    if (count > 0n) text += `${count}${name}`;
  }
  return text;
}

/** A recording as it stands in a data block of the page. */
async function recordingOf(block) {
  const document = JSON.parse(block.textContent);
  const bytes = await inflated(bytesOf(document.values));
  const { low, high } = numbersOf(new Reader(bytes, 0), document.scans, true);
  const times = Float64Array.from(low, (half, index) => high[index] * TWO_32 + half);
  const rows = document.rows.map((entry, index) => new Row(entry, index));
  let at = document.times;
  for (const row of rows) {
    if (row.there) row.packed = new Reader(bytes, at);
    at += row.bytes;
  }
  const number = (text) => Number(text);
  return {
    rows,
    times,
    /** The last scan up to a time. */
    scanAt: (time) => Math.max(lastUpTo(times, time), 0),
    groups: document.groups,
    end: number(document.end),
    scan: number(document.scan),
    window: document.window.map(number),
    marks: document.marks.map((mark) => ({
      ...mark,
      spans: mark.spans.map((span) => span.map(number)),
      moments: mark.moments.map(number),
    })),
  };
}
