// The bar that is played and the next four, in a row: their chords, and the beats they come on.

import { byId, make } from "./dom.js";
import { FittedText } from "./fitted.js";
import { barUnder, listenToPresses } from "./press.js";
import { lastAtOrBefore } from "./timing.js";
import { barName } from "./words.js";

/** @typedef {import("./shown.js").Shown} Shown */

const [BARS, MOST_PX] = [5, 44];
const HELD = "–";

export class AheadView {
  /**
   * @param {Shown} shown
   * @param {Omit<import("./press.js").Presses, "barOf">} presses
   */
  constructor(shown, presses) {
    this.shown = shown;
    this.transpose = 0;
    this.told = "";
    /** @type {number[][]} the chords of each bar */
    this.chords = shown.bars.map(() => []);
    shown.chords.forEach(([at], index) => this.chords[Math.max(0, lastAtOrBefore(shown.bars, at + 1e-6, (bar) => bar.start))].push(index));
    this.cells = Array.from({ length: BARS }, () => {
      const button = make("button", { type: "button" });
      const names = make("b");
      button.append(names);
      byId("ahead").append(button);
      return { button, names, text: new FittedText(names, MOST_PX), dots: /** @type {HTMLElement[]} */ ([]) };
    });
    listenToPresses(byId("ahead"), { ...presses, barOf: barUnder });
  }

  fit() {
    for (const { text } of this.cells) text.fit();
  }

  /**
   * @param {number} bar
   * @param {[number, number] | null} loop
   * @param {number} beat the one that sounds in the first of them, counted from 0; -1 for none
   */
  show(bar, loop, beat) {
    const told = `${bar} ${loop} ${this.transpose}`;
    if (told !== this.told) {
      this.told = told;
      this.cells.forEach((cell, index) => this.fill(cell, this.barAfter(bar, index, loop), loop));
    }
    this.cells[0].dots.forEach((dot, index) => dot.classList.toggle("beats", index === beat));
  }

  /**
   * @param {number} bar
   * @param {number} by
   * @param {[number, number] | null} loop
   */
  barAfter(bar, by, loop) {
    const after = bar + by;
    if (!loop || after <= loop[1]) return after;
    return loop[0] + ((after - loop[1] - 1) % (loop[1] - loop[0] + 1));
  }

  /**
   * @param {{button: HTMLElement, text: FittedText, dots: HTMLElement[]}} cell
   * @param {number} bar past the last one at the end
   * @param {[number, number] | null} loop
   */
  fill(cell, bar, loop) {
    const { bars, chords, names } = this.shown;
    for (const dot of cell.dots) dot.remove();
    cell.dots = [];
    cell.button.style.visibility = bar < bars.length ? "visible" : "hidden";
    if (bar >= bars.length) return;
    const { start, end, beats } = bars[bar];
    const words = this.chords[bar].map((index) => names[String(this.transpose)][chords[index][1]]);
    cell.text.show(...(words.length ? words : [HELD]));
    cell.button.dataset.bar = String(bar);
    cell.button.toggleAttribute("data-looped", loop !== null && bar >= loop[0] && bar <= loop[1]);
    cell.button.setAttribute("aria-label", `${barName(bars[bar])}: ${words.join(", ") || "the same chord"}`);
    cell.dots = beats.map((at) => {
      const changes = this.chords[bar].some((index) => Math.abs(chords[index][0] - at) < 1e-3);
      const dot = make("i", { class: changes ? "changes" : "", "aria-hidden": "true" });
      dot.style.left = `calc(3px + ${(94 * (at - start)) / (end - start)}%)`;
      return dot;
    });
    cell.button.append(...cell.dots);
  }
}
