// Two lines of the engraved sheet: the one that is played, and the one that comes next.
//
// Turning a line costs a browser most: so the line after these two is drawn beforehand, in idle
// time, and stands unseen; and the rings lie in a layer of their own, so that the notes under them
// are not painted anew.

import { byId, make, makeSvg } from "./dom.js";
import { tabHeight, tabLine } from "./movedtab.js";
import { lastAtOrBefore } from "./timing.js";
import { barName, barWords } from "./words.js";

/** @typedef {import("./shown.js").Shown} Shown */
/** @typedef {{drawings: string[], rows: number[][]}} Sheet rows as the data has them */
/** @typedef {{places: (import("./neck.js").Place | null)[], names: string[], semitones: number}} Moved */
/** @typedef {{x: number, y: number, r: number}} Spot */
/** @typedef {{number: number, figure: HTMLElement, marks: SVGElement, spots: Map<number, Spot[]>}} Line */

const HEAD_SPACES = 0.6;
const READY_MS = 300;
const BARS_PX = 32;
const LEAST_LINE_PX = 112;

export class SheetView {
  /**
   * @param {Sheet} sheet
   * @param {Shown} shown
   * @param {(bar: number) => void} onBar
   */
  constructor(sheet, shown, onBar) {
    this.sheet = sheet;
    this.shown = shown;
    this.onBar = onBar;
    this.parser = new DOMParser();
    /** @type {Line[]} */
    this.lines = [];
    this.note = -1;
    this.bar = -1;
    this.timer = 0;
    /** @type {[number, number] | null} */
    this.loop = null;
    /** @type {Moved | null} */
    this.moved = null;
    const heights = sheet.rows.map((row) => row[2] / 1e4);
    this.tallestPair = Math.max(...heights.map((height, index) => height + heights[(index + 1) % heights.length]));
    this.width = Number(/ viewBox="0 0 (\d+)/.exec(sheet.drawings[0])?.[1]);
  }

  /** The height of the two lines that need most, in widths of a line. */
  get tallest() {
    return this.moved ? (2 * tabHeight(this.shown.strings.length)) / this.width : this.tallestPair;
  }

  /**
   * Lines as wide as their room, or as lets any two of them stand in a height; all of one size.
   * @param {number} room in pixels
   */
  fit(room) {
    const widest = byId("sheet").clientWidth;
    const width = Math.max(2 * LEAST_LINE_PX, room - 2 * BARS_PX) / this.tallest;
    byId("sheet").style.setProperty("--line", `${Math.floor(Math.min(widest, width))}px`);
  }

  /**
   * Show tab in another key instead of the engraved part, or the part again.
   * @param {Moved | null} moved
   */
  move(moved) {
    this.moved = moved;
    const { bar, note } = this;
    if (bar < 0) return;
    this.clear();
    this.show(bar, note);
  }

  /** Show nothing, so that the next place is shown whole. */
  clear() {
    clearTimeout(this.timer);
    byId("sheet").replaceChildren();
    this.lines = [];
    this.bar = -1;
    this.note = -1;
  }

  /** @param {number} bar */
  systemOf(bar) {
    return Math.max(0, lastAtOrBefore(this.sheet.rows, bar, (row) => row[0]));
  }

  /**
   * @param {number} bar
   * @param {number} note the bass note that sounds, -1 for none
   */
  show(bar, note) {
    if (bar !== this.bar) this.turnTo(bar);
    if (note !== this.note) this.ring(note);
    this.bar = bar;
    this.note = note;
  }

  /** @param {number} bar */
  turnTo(bar) {
    const system = this.systemOf(bar);
    const next = this.following(system);
    const wanted = system === next ? [system] : [system, next];
    if (wanted.some((number, place) => this.lines[place]?.number !== number)) this.arrange(wanted);
    for (const { figure } of this.lines) {
      for (const button of figure.querySelectorAll("button")) button.classList.toggle("here", Number(button.dataset.bar) === bar);
    }
  }

  /**
   * Show some lines in order; the one after them is made later, so that turning never takes long.
   * @param {number[]} wanted
   */
  arrange(wanted) {
    this.keep(wanted);
    this.lines = wanted.map((number) => this.lines.find((line) => line.number === number) ?? this.line(number));
    this.putInOrder(wanted.length);
    clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      const after = this.following(wanted[wanted.length - 1]);
      if (wanted.includes(after)) return;
      this.lines.push(this.line(after));
      this.putInOrder(wanted.length);
    }, READY_MS);
  }

  /**
   * Take away all lines but some.
   * @param {number[]} wanted
   */
  keep(wanted) {
    for (const line of this.lines) if (!wanted.includes(line.number)) line.figure.remove();
    this.lines = this.lines.filter((line) => wanted.includes(line.number));
  }

  /**
   * Put the lines in their order; those beyond a count stand unseen.
   * @param {number} count
   */
  putInOrder(count) {
    const holder = byId("sheet");
    this.lines.forEach(({ figure }, place) => {
      if (holder.children[place] !== figure) holder.insertBefore(figure, holder.children[place] ?? null);
      figure.className = place >= count ? "later" : place > 0 ? "next" : "";
      // The row of buttons alone: all that is drawn would be styled anew.
      /** @type {HTMLElement} */ (figure.lastElementChild).inert = place >= count;
      figure.setAttribute("aria-hidden", String(place >= count));
    });
  }

  /** @param {number} system */
  following(system) {
    const last = this.loop ? this.systemOf(this.loop[1]) : this.sheet.rows.length - 1;
    if (system !== last) return system + 1 < this.sheet.rows.length ? system + 1 : system;
    return this.loop ? this.systemOf(this.loop[0]) : 0;
  }

  /**
   * The drawing of a line and its bar lines, in ten-thousandths of its width.
   * @param {number} number
   */
  drawing(number) {
    const row = this.sheet.rows[number];
    if (!this.moved) return { drawing: this.engraved(number), lines: row.slice(3) };
    return tabLine(this.shown, this.moved, row, this.width);
  }

  /** @param {number} number */
  engraved(number) {
    const parsed = this.parser.parseFromString(this.sheet.drawings[number], "image/svg+xml");
    const drawing = /** @type {SVGElement} */ (/** @type {Element} */ (document.importNode(parsed.documentElement, true)));
    return drawing;
  }

  /**
   * @param {number} number
   * @returns {Line}
   */
  line(number) {
    const [first, count] = this.sheet.rows[number];
    const { drawing, lines } = this.drawing(number);
    drawing.setAttribute("role", "img");
    drawing.setAttribute("aria-label", `${this.moved ? "Tab" : "Notes and tab"}, ${barWords(this.shown, first, first + count - 1)}`);
    const { layer, marks } = layerOver(drawing);
    const notes = make("div", { class: "notes" });
    notes.append(drawing, layer);
    const figure = make("figure", this.moved ? { "data-moved": "yes" } : {});
    figure.append(notes, this.barButtons(first, lines));
    this.markLoop(figure);
    return { number, figure, marks, spots: spotsOf(drawing) };
  }

  /**
   * A button under every bar, from its one bar line to the other.
   * @param {number} first
   * @param {number[]} lines in ten-thousandths of the line's width
   */
  barButtons(first, lines) {
    const row = make("div", { class: "bars", role: "group", "aria-label": "Choose bars to loop" });
    for (let bar = first; bar < first + lines.length - 1; bar += 1) {
      const [left, right] = [lines[bar - first] / 100, lines[bar - first + 1] / 100];
      const button = make("button", { type: "button", "data-bar": bar, "aria-pressed": "false" }, barName(this.shown.bars[bar]));
      button.style.left = `calc(${left}% + 1px)`;
      button.style.width = `calc(${right - left}% - 2px)`;
      button.addEventListener("click", () => this.onBar(bar));
      row.append(button);
    }
    return row;
  }

  /** @param {[number, number] | null} loop */
  setLoop(loop) {
    this.loop = loop;
    for (const { figure } of this.lines) this.markLoop(figure);
    if (this.bar >= 0) this.turnTo(this.bar);
  }

  /** @param {Element} figure */
  markLoop(figure) {
    for (const button of figure.querySelectorAll("button")) {
      const bar = Number(button.dataset.bar);
      const inside = this.loop !== null && bar >= this.loop[0] && bar <= this.loop[1];
      button.setAttribute("aria-pressed", String(inside));
    }
  }

  /** @param {number} note */
  ring(note) {
    for (const { marks, spots } of this.lines) {
      const rings = (spots.get(note) ?? []).map(({ x, y, r }) => makeSvg("ellipse", { class: "ring", cx: x, cy: y, rx: r, ry: r, "data-ringed": note }));
      if (rings.length || marks.childElementCount) marks.replaceChildren(...rings);
    }
  }
}

/**
 * An empty drawing that lies over another and has its measures.
 * @param {SVGElement} drawing
 */
function layerOver(drawing) {
  const layer = /** @type {SVGElement} */ (drawing.cloneNode(false));
  layer.setAttribute("class", "marks");
  layer.setAttribute("aria-hidden", "true");
  for (const name of ["role", "aria-label"]) layer.removeAttribute(name);
  let marks = layer;
  for (let inner = drawing.firstElementChild; inner && ["svg", "g"].includes(inner.tagName); inner = inner.firstElementChild) {
    const copy = /** @type {SVGElement} */ (inner.cloneNode(false));
    marks.append(copy);
    marks = copy;
    if (inner.hasAttribute("transform")) break;
  }
  return { layer, marks };
}

/**
 * Where the heads and the tab's numbers of each note lie.
 * @param {Element} drawing
 */
function spotsOf(drawing) {
  /** @type {Map<number, Spot[]>} */
  const spots = new Map();
  for (const group of drawing.querySelectorAll("[data-note]")) {
    const number = Number(/** @type {SVGElement} */ (group).dataset.note);
    const head = group.querySelector("use");
    const text = group.querySelector("text");
    const spot = head ? headCentre(head) : text ? textCentre(text) : null;
    if (spot) spots.set(number, [...(spots.get(number) ?? []), spot]);
  }
  return spots;
}

/** @param {Element} head */
function headCentre(head) {
  const found = /translate\((-?[\d.]+),\s*(-?[\d.]+)\)\s*scale\((-?[\d.]+)/.exec(head.getAttribute("transform") ?? "");
  if (!found) return null;
  const space = 250 * Number(found[3]);
  return { x: Number(found[1]) + HEAD_SPACES * space, y: Number(found[2]), r: 1.15 * space };
}

/** @param {Element} text */
function textCentre(text) {
  const size = parseFloat(text.getAttribute("font-size") ?? "") || 320;
  return { x: Number(text.getAttribute("x")), y: Number(text.getAttribute("y")) - 0.34 * size, r: 0.75 * size };
}
