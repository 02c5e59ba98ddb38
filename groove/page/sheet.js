// Two lines of the engraved sheet: the one that is played, and the one that comes next.

import { byId, draw, make } from "./dom.js";
import { lastAtOrBefore } from "./timing.js";

/** @typedef {import("./shown.js").Shown} Shown */
/** @typedef {{drawings: string[], rows: number[][]}} Sheet */

const HEAD_SPACES = 0.6;
const READY_MS = 300;

/** Two lines of the sheet: the one that is played, and the one that comes next. */
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
    /** @type {Map<number, HTMLElement>} */
    this.figures = new Map();
    /** @type {{number: number, figure: HTMLElement} | null} */
    this.ready = null;
    this.note = -1;
    this.bar = -1;
    /** @type {[number, number] | null} */
    this.loop = null;
  }

  /** Show nothing, so that the next place is shown whole. */
  clear() {
    this.figures.clear();
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
    const wanted = [system, this.following(system)];
    for (const [number, figure] of this.figures) {
      if (wanted.includes(number)) continue;
      figure.remove();
      this.figures.delete(number);
    }
    const holder = byId("sheet");
    wanted.forEach((number, place) => {
      const figure = this.figures.get(number) ?? this.takeReady(number);
      this.figures.set(number, figure);
      if (holder.children[place] !== figure) holder.insertBefore(figure, holder.children[place] ?? null);
    });
    for (const button of holder.querySelectorAll("button")) {
      button.classList.toggle("here", Number(button.dataset.bar) === bar);
    }
  }

  /**
   * The figure of a line, made beforehand where there was time; the one after it is made later, so
   * that turning a line never takes long.
   * @param {number} number
   */
  takeReady(number) {
    const figure = this.ready?.number === number ? this.ready.figure : this.figure(number);
    this.markLoop(figure);
    setTimeout(() => {
      const after = this.following(number);
      if (!this.figures.has(after)) this.ready = { number: after, figure: this.figure(after) };
    }, READY_MS);
    return figure;
  }

  /** @param {number} system */
  following(system) {
    const last = this.loop ? this.systemOf(this.loop[1]) : this.sheet.rows.length - 1;
    if (system !== last) return system + 1 < this.sheet.rows.length ? system + 1 : system;
    const first = this.loop ? this.systemOf(this.loop[0]) : 0;
    return first;
  }

  /** @param {number} number */
  drawing(number) {
    const parsed = this.parser.parseFromString(this.sheet.drawings[number], "image/svg+xml");
    return document.importNode(parsed.documentElement, true);
  }

  /** @param {number} number */
  figure(number) {
    const [first, count] = this.sheet.rows[number];
    const figure = make("figure");
    const drawing = this.drawing(number);
    drawing.setAttribute("role", "img");
    drawing.setAttribute("preserveAspectRatio", "xMinYMid");
    const numbers = this.barNumbers(first, count);
    drawing.setAttribute("aria-label", `Notes and tab, ${numbers}`);
    const row = make("div", { class: "bars", role: "group", "aria-label": "Choose bars to loop" });
    for (let bar = first; bar < first + count; bar += 1) {
      const button = make("button", { type: "button", "data-bar": bar, "aria-pressed": "false" }, `bar ${this.shown.bars[bar].number}`);
      button.addEventListener("click", () => this.onBar(bar));
      row.append(button);
    }
    figure.append(drawing, row);
    this.markLoop(figure);
    return figure;
  }

  /**
   * @param {number} first
   * @param {number} count
   */
  barNumbers(first, count) {
    const { bars } = this.shown;
    return count === 1 ? `bar ${bars[first].number}` : `bars ${bars[first].number} to ${bars[first + count - 1].number}`;
  }

  /** @param {[number, number] | null} loop */
  setLoop(loop) {
    this.loop = loop;
    for (const figure of this.figures.values()) this.markLoop(figure);
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
    const holder = byId("sheet");
    for (const ring of holder.querySelectorAll(".ring")) ring.remove();
    if (note < 0) return;
    for (const group of holder.querySelectorAll(`[data-note="${note}"]`)) {
      const head = group.querySelector("use");
      const text = group.querySelector("text");
      const place = head ? headCentre(head) : text ? textCentre(text) : null;
      if (place) group.append(draw("ellipse", { class: "ring", cx: place.x, cy: place.y, rx: place.r, ry: place.r }));
    }
  }
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
  const size = parseFloat(text.querySelector("tspan")?.getAttribute("font-size") ?? "") || 320;
  return { x: Number(text.getAttribute("x")), y: Number(text.getAttribute("y")) - 0.34 * size, r: 0.75 * size };
}
