// A few bars of the record as its waveform, with its bar lines: each is moved by hand.

import { make, makeSvg, setText } from "./dom.js";
import { dragged } from "./recordmap.js";
import { barName } from "./words.js";

/** @typedef {import("./page.js").Page} Page */

const [PEAKS, PEAK_ROW] = [400, 100];
/** How many bars are seen at once, and the usual number; where there are more, a line has room for a number alone. */
const [COUNTS, USUAL_COUNT] = [[2, 4, 8], 4];
const [FINE_SEC, COARSE_SEC] = [0.01, 0.1];
/** By how much a key moves a bar line, in seconds. */
const STEPS_SEC = { ArrowLeft: -FINE_SEC, ArrowDown: -FINE_SEC, ArrowRight: FINE_SEC, ArrowUp: FINE_SEC, PageDown: -COARSE_SEC, PageUp: COARSE_SEC };

export class BarStrip {
  /** @param {Page} page */
  constructor(page) {
    this.page = page;
    this.element = make("div", { id: "record-strip", role: "group", "aria-label": "Bar lines of the record: drag them, or use the arrow keys" });
    this.drawing = makeSvg("svg", { viewBox: `0 0 ${PEAKS} ${PEAK_ROW}`, preserveAspectRatio: "none", "aria-hidden": "true" });
    this.peaks = makeSvg("path", { d: "", "vector-effect": "non-scaling-stroke" });
    this.drawing.append(this.peaks);
    this.element.append(this.drawing);
    this.count = USUAL_COUNT;
    this.counts = this.makeCounts();
    /** @type {HTMLElement[]} */
    this.lines = [];
    /** The seconds that are seen, and from which bar line to which. */
    this.seen = { from: 0, to: 1, first: 0, last: 0 };
    this.told = "";
    /** @type {number} the bar line under a finger, -1 for none */
    this.held = -1;
    /** By how many seconds the finger is beside it. */
    this.beside = 0;
  }

  /** Fewer bars are seen larger, to put a line where it belongs; more, to find the one that is off. */
  makeCounts() {
    const label = make("label", {}, "Bars to see ");
    const counts = /** @type {HTMLSelectElement} */ (make("select", { id: "record-count" }));
    counts.append(...COUNTS.map((count) => make("option", { value: count }, String(count))));
    counts.value = String(USUAL_COUNT);
    counts.addEventListener("change", () => {
      this.count = Number(counts.value);
      this.element.classList.toggle("many", this.count > USUAL_COUNT);
      this.draw(true);
    });
    label.append(counts);
    return label;
  }

  /**
   * Show the bars about the one that plays.
   * @param {boolean} anew whatever was shown before
   */
  draw(anew) {
    const { sources, bar } = this.page;
    const { file, map } = sources;
    if (!file || this.held >= 0) return;
    const first = Math.max(0, Math.min(bar - 1, map.lines.length - 1 - this.count));
    const last = Math.min(map.lines.length - 1, first + this.count);
    const told = `${first} ${map.lines.slice(first, last + 1)}`;
    if (!anew && told === this.told) return;
    this.told = told;
    const room = (map.lines[last] - map.lines[first]) / (2 * this.count);
    this.seen = { from: map.lines[first] - room, to: map.lines[last] + room, first, last };
    this.peaks.setAttribute("d", peaksPath(file.buffer, this.seen.from, this.seen.to));
    this.placeLines();
  }

  placeLines() {
    const { first, last } = this.seen;
    const { map } = this.page.sources;
    const { bars } = this.page.shown;
    while (this.lines.length < last - first + 1) this.addLine();
    this.lines.forEach((line, index) => {
      line.hidden = first + index > last;
      if (line.hidden) return;
      const at = first + index;
      const name = this.nameOf(at);
      setText(line, this.count > USUAL_COUNT ? String(bars[at]?.number ?? "") : name);
      line.classList.toggle("sure", map.sure[at]);
      this.showLine(line, at, map.lines[at], name);
    });
  }

  /** @param {number} at a bar line, that of the last bar's end among them */
  nameOf(at) {
    const bar = this.page.shown.bars[at];
    return bar ? barName(bar) : "the end";
  }

  /**
   * @param {HTMLElement} line
   * @param {number} at
   * @param {number} sec
   * @param {string} name
   */
  showLine(line, at, sec, name) {
    const { from, to } = this.seen;
    line.dataset.line = String(at);
    line.style.left = `${(100 * (sec - from)) / (to - from)}%`;
    line.setAttribute("aria-label", `Bar line of ${name}`);
    line.setAttribute("aria-valuemin", from.toFixed(2));
    line.setAttribute("aria-valuemax", to.toFixed(2));
    line.setAttribute("aria-valuenow", sec.toFixed(2));
    line.setAttribute("aria-valuetext", `${sec.toFixed(2)} seconds into the record`);
  }

  addLine() {
    const line = make("span", { role: "slider", tabindex: 0, class: "bar-line" });
    this.lines.push(line);
    this.element.append(line);
    line.addEventListener("pointerdown", (event) => {
      line.setPointerCapture(event.pointerId);
      this.held = Number(line.dataset.line);
      this.beside = this.secAt(event) - this.page.sources.map.lines[this.held];
    });
    line.addEventListener("pointermove", (event) => {
      if (this.held >= 0) this.showLine(line, this.held, this.secAt(event) - this.beside, this.nameOf(this.held));
    });
    line.addEventListener("pointerup", (event) => {
      const { held } = this;
      this.held = -1;
      if (held >= 0) this.move(held, this.secAt(event) - this.beside);
    });
    line.addEventListener("pointercancel", () => {
      this.held = -1;
      this.draw(true);
    });
    line.addEventListener("keydown", (event) => {
      const by = STEPS_SEC[/** @type {keyof typeof STEPS_SEC} */ (event.key)];
      if (!by) return;
      event.preventDefault();
      event.stopPropagation();
      const at = Number(line.dataset.line);
      this.move(at, this.page.sources.map.lines[at] + by);
    });
  }

  /** @param {PointerEvent} event */
  secAt({ clientX }) {
    const { left, width } = this.element.getBoundingClientRect();
    const { from, to } = this.seen;
    return from + (Math.min(1, Math.max(0, (clientX - left) / width)) * (to - from));
  }

  /**
   * @param {number} at
   * @param {number} sec
   */
  move(at, sec) {
    const { sources } = this.page;
    sources.setMap(dragged(sources.map, at, sec));
    this.draw(true);
  }
}

/**
 * The waveform of some seconds, as one path.
 * @param {AudioBuffer} buffer
 * @param {number} from
 * @param {number} to
 */
function peaksPath(buffer, from, to) {
  const sound = buffer.getChannelData(0);
  const [begin, step] = [from * buffer.sampleRate, ((to - from) * buffer.sampleRate) / PEAKS];
  const highs = Array.from({ length: PEAKS }, (_, index) => {
    let high = 0;
    const end = Math.min(sound.length, Math.round(begin + (index + 1) * step));
    for (let at = Math.max(0, Math.round(begin + index * step)); at < end; at += 8) high = Math.max(high, Math.abs(sound[at]));
    return high;
  });
  const most = Math.max(1e-6, ...highs);
  return highs.map((high, index) => `M${index} ${(50 - (46 * high) / most).toFixed(1)}V${(50.5 + (46 * high) / most).toFixed(1)}`).join("");
}
