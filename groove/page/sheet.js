// Lines of music, engraved or as tab alone: the one that is played, and those that come next.
//
// Each has a place of its own and nothing moves: when a line has been played, the one after the last
// stands in its place. Turning a line costs a browser most, so that line is drawn beforehand,
// in idle time, and stands unseen; and the rings lie in a layer of their own, so that the notes under
// them are not painted anew.

import { byId, make, makeSvg } from "./dom.js";
import { barUnder, listenToPresses } from "./press.js";
import { tabHeight, tabLine, tabMeasures, tabRows } from "./tabline.js";
import { lastAtOrBefore } from "./timing.js";
import { barName, barWords } from "./words.js";

/** @typedef {import("./shown.js").Shown} Shown */
/** @typedef {{drawings: string[], rows: number[][]}} Sheet rows as the data has them */
/** @typedef {import("./tabline.js").Tab} Tab */
/** @typedef {{x: number, y: number, r: number}} Spot */
/** @typedef {{number: number, slot: number, figure: HTMLElement, marks: SVGElement, spots: Map<number, Spot[]>}} Line */

const HEAD_SPACES = 0.6;
const READY_MS = 300;
const UNDER_PX = 18;
const [LEAST_ENGRAVED_PX, LEAST_TAB_PX, GOOD_TAB_PX] = [88, 75, 150];
const WIDE_PX = 640;
const MOST_SLOTS = 4;

export class SheetView {
  /**
   * @param {Record<string, Sheet>} sheets engraved, by width; none where there is no bass
   * @param {Shown} shown
   * @param {Omit<import("./press.js").Presses, "barOf">} presses
   */
  constructor(sheets, shown, presses) {
    this.sheets = sheets;
    this.shown = shown;
    this.parser = new DOMParser();
    /** @type {Line[]} */
    this.lines = [];
    this.note = -1;
    this.bar = -1;
    this.timer = 0;
    /** @type {[number, number] | null} */
    this.loop = null;
    /** @type {Tab} */
    this.tab = { places: [], names: [], semitones: 0 };
    this.asTab = false;
    this.kind = "";
    this.slots = 2;
    this.measures = { width: 0, size: 1, perLine: 1 };
    /** @type {number[][]} */
    this.rows = [];
    listenToPresses(byId("sheet"), { ...presses, barOf: barUnder });
  }

  /** The engraved lines that are shown, or would be. */
  get sheet() {
    return this.sheets[this.kind] ?? this.sheets.wide ?? this.sheets.narrow;
  }

  /**
   * The tab's places and names; a key that is not engraved is shown as tab alone.
   * @param {Tab} tab
   * @param {boolean} asTab
   */
  setTab(tab, asTab) {
    this.tab = tab;
    this.asTab = asTab;
    this.fit(true);
  }

  /**
   * Lines as wide as the page, or as lets two of them stand in the room; one, where two would be too
   * small.
   * @param {boolean} anew draw them in any case
   */
  fit(anew = false) {
    const { clientWidth: width, clientHeight: height } = byId("sheet");
    if (!width || !height) return;
    const wide = this.sheets.wide && width >= WIDE_PX ? "wide" : "narrow";
    const kind = this.asTab || !this.sheets[wide] ? "tab" : wide;
    const before = JSON.stringify([this.kind, this.measures, this.slots]);
    this.kind = kind;
    this.slots = slotsOf(height, kind === "tab" ? GOOD_TAB_PX : width * this.tallest + UNDER_PX, kind === "tab" ? LEAST_TAB_PX : LEAST_ENGRAVED_PX);
    const room = Math.floor(height / this.slots) - UNDER_PX;
    this.measures = kind === "tab" ? tabMeasures(this.shown, width, room) : { width: Math.floor(Math.min(width, room / this.tallest)), size: 1, perLine: 0 };
    const tall = kind === "tab" ? tabHeight(this.shown.strings.length) * this.measures.size : this.measures.width * this.tallest;
    byId("sheet").style.setProperty("--line", `${this.measures.width}px`);
    byId("sheet").style.setProperty("--slot-px", `${Math.floor(tall + UNDER_PX)}px`);
    if (!anew && before === JSON.stringify([this.kind, this.measures, this.slots])) return;
    this.rows = kind === "tab" ? tabRows(this.shown, this.measures.perLine) : this.sheets[kind].rows;
    const { bar, note } = this;
    this.clear();
    if (bar >= 0) this.show(bar, note);
  }

  /** The height of the line that needs most, in widths of a line. */
  get tallest() {
    return Math.max(...this.sheet.rows.map((row) => row[2] / 1e4));
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
    return Math.max(0, lastAtOrBefore(this.rows, bar, (row) => row[0]));
  }

  /**
   * @param {number} bar
   * @param {number} note the bass note that sounds, -1 for none
   */
  show(bar, note) {
    // Nothing is drawn before it is known how large.
    if (!this.rows.length) return;
    if (bar !== this.bar) this.turnTo(bar);
    if (note !== this.note) this.ring(note);
    this.bar = bar;
    this.note = note;
  }

  /** @param {number} bar */
  turnTo(bar) {
    const wanted = [this.systemOf(bar)];
    while (wanted.length < this.slots) {
      const next = this.following(wanted[wanted.length - 1]);
      if (wanted.includes(next)) break;
      wanted.push(next);
    }
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
    const slot = this.lines[0]?.slot ?? 0;
    const taken = new Set(this.lines.map((line) => line.slot));
    const free = Array.from({ length: this.slots }, (_, place) => (slot + place) % this.slots).filter((each) => !taken.has(each));
    this.lines = wanted.map((number) => this.lines.find((line) => line.number === number) ?? this.placed(this.line(number), free.shift() ?? 0));
    this.putInOrder(wanted.length);
    clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      const after = this.following(wanted[wanted.length - 1]);
      if (wanted.includes(after)) return;
      this.lines.push(this.placed(this.line(after), this.lines[0].slot));
      this.putInOrder(wanted.length);
    }, READY_MS);
  }

  /**
   * @param {Line} line
   * @param {number} slot
   */
  placed(line, slot) {
    line.slot = slot;
    line.figure.style.setProperty("--slot", String(slot));
    return line;
  }

  /**
   * Take away all lines but some, put into their order.
   * @param {number[]} wanted
   */
  keep(wanted) {
    for (const line of this.lines) if (!wanted.includes(line.number)) line.figure.remove();
    this.lines = this.lines.filter((line) => wanted.includes(line.number)).sort((a, b) => wanted.indexOf(a.number) - wanted.indexOf(b.number));
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
    const last = this.loop ? this.systemOf(this.loop[1]) : this.rows.length - 1;
    if (system !== last) return system + 1 < this.rows.length ? system + 1 : system;
    return this.loop ? this.systemOf(this.loop[0]) : 0;
  }

  /**
   * The drawing of a line and its bar lines, in ten-thousandths of its width.
   * @param {number} number
   */
  drawing(number) {
    const row = this.rows[number];
    if (this.kind === "tab") return tabLine(this.shown, this.tab, row, this.measures);
    return { drawing: this.engraved(this.sheet.drawings[number]), lines: row.slice(3) };
  }

  /** @param {string} text */
  engraved(text) {
    const parsed = this.parser.parseFromString(text, "image/svg+xml");
    return /** @type {SVGElement} */ (/** @type {Element} */ (document.importNode(parsed.documentElement, true)));
  }

  /** The whole part for paper: engraved, or as tab where another key sounds. */
  printed() {
    const isMoved = this.tab.semitones !== 0;
    const { sheet } = this;
    if (sheet && !isMoved) return sheet.drawings.map((text) => this.engraved(text));
    const measures = tabMeasures(this.shown, WIDE_PX, 0);
    return tabRows(this.shown, measures.perLine).map((row) => tabLine(this.shown, this.tab, row, measures).drawing);
  }

  /**
   * @param {number} number
   * @returns {Line}
   */
  line(number) {
    const [first, count] = this.rows[number];
    const { drawing, lines } = this.drawing(number);
    drawing.setAttribute("role", "img");
    drawing.setAttribute("aria-label", `${this.kind === "tab" ? "Tab" : "Notes and tab"}, ${barWords(this.shown, first, first + count - 1)}`);
    const { layer, marks } = layerOver(drawing);
    const notes = make("div", { class: "notes" });
    notes.append(drawing, layer);
    const figure = make("figure", this.kind === "tab" ? { "data-tab": "yes" } : {});
    figure.append(notes, this.barButtons(first, lines));
    this.markLoop(figure);
    return { number, slot: -1, figure, marks, spots: spotsOf(drawing) };
  }

  /**
   * A button over every bar, from its one bar line to the other.
   * @param {number} first
   * @param {number[]} lines in ten-thousandths of the line's width
   */
  barButtons(first, lines) {
    const row = make("div", { class: "bars", role: "group", "aria-label": "Bars" });
    for (let bar = first; bar < first + lines.length - 1; bar += 1) {
      const [left, right] = [lines[bar - first] / 100, lines[bar - first + 1] / 100];
      const button = make("button", { type: "button", "data-bar": bar, "aria-pressed": "false" }, barName(this.shown.bars[bar]));
      button.style.left = `calc(${left}% + 1px)`;
      button.style.width = `calc(${right - left}% - 2px)`;
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
 * How many lines stand in a room.
 * @param {number} height
 * @param {number} good the height of one that is as large as is good
 * @param {number} least the height of the smallest that is read, without the numbers under it
 */
function slotsOf(height, good, least) {
  const many = Math.min(MOST_SLOTS, Math.floor(height / good));
  return Math.max(many, height / 2 - UNDER_PX >= least ? 2 : 1);
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
