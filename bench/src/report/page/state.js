// What is looked at: the time shown, the cursors, the row. Knows nothing of elements.

/** Least number of scans shown. */
const SCANS_SHOWN_MIN = 4;

class Looking {
  constructor(recording) {
    this.recording = recording;
    this.begin = recording.times[0] ?? 0;
    this.end = Math.max(recording.end, this.begin + 1);
    this.a = 0;
    this.b = null;
    this.row = recording.rows.findIndex((row) => row.kind === "output" && row.there);
    if (this.row < 0) this.row = Math.max(recording.rows.findIndex((row) => row.there), 0);
    this.listeners = [];
    const [from, until] = recording.window;
    this.show(from, until > from ? until : this.end);
    if (from > this.begin) this.a = recording.scanAt((from + until) / 2);
  }

  onChange(listener) {
    this.listeners.push(listener);
  }

  changed() {
    this.listeners.forEach((listener) => listener());
  }

  timeOf(scan) {
    return this.recording.times[scan] ?? this.begin;
  }

  get last() {
    return Math.max(this.recording.times.length - 1, 0);
  }

  selected() {
    return this.recording.rows[this.row];
  }

  /** Shows a time, moved into the recording. */
  show(from, until) {
    const whole = this.end - this.begin;
    const least = Math.min(this.recording.scan * SCANS_SHOWN_MIN, whole);
    const length = Math.min(Math.max(until - from, least), whole);
    this.from = Math.min(Math.max(from, this.begin), this.end - length);
    this.until = this.from + length;
  }

  /** Shows more or less around a moment, which stays where it is. */
  zoom(factor, around) {
    const middle = around ?? this.around();
    this.show(middle - (middle - this.from) * factor, middle + (this.until - middle) * factor);
    this.changed();
  }

  /** The cursor where it is seen, else the middle. */
  around() {
    const time = this.timeOf(this.a);
    return time >= this.from && time <= this.until ? time : (this.from + this.until) / 2;
  }

  whole() {
    this.show(this.begin, this.end);
    this.changed();
  }

  between() {
    if (this.b === null) return;
    const [from, until] = [this.timeOf(this.a), this.timeOf(this.b)].sort((one, other) => one - other);
    const around = Math.max((until - from) / 10, this.recording.scan);
    this.show(from - around, until + around);
    this.changed();
  }

  scroll(share) {
    const length = this.until - this.from;
    this.show(this.from + share * length, this.until + share * length);
    this.changed();
  }

  /** Puts a cursor on a scan and shows it. */
  put(cursor, scan) {
    this[cursor] = Math.min(Math.max(scan, 0), this.last);
    const time = this.timeOf(this[cursor]);
    const length = this.until - this.from;
    if (time < this.from) this.show(time - length / 10, time + (length * 9) / 10);
    else if (time > this.until) this.show(time - (length * 9) / 10, time + length / 10);
    this.changed();
  }

  move(cursor, scans) {
    this.put(cursor, (this[cursor] ?? this.a) + scans);
  }

  /** To the change of the selected row before or behind a cursor; to the end where there is none. */
  toChange(cursor, direction) {
    const row = this.selected();
    const scan = this[cursor] ?? this.a;
    const index = row ? row.at(scan) : -1;
    const here = index >= 0 ? row.changed[index] : 0;
    if (direction > 0) this.put(cursor, row?.changed[index + 1] ?? this.last);
    else this.put(cursor, here < scan ? here : (row?.changed[index - 1] ?? 0));
  }

  select(index) {
    this.row = Math.min(Math.max(index, 0), this.recording.rows.length - 1);
    this.changed();
  }

  removeB() {
    this.b = null;
    this.changed();
  }
}
