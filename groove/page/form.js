// The form: one line as wide as the page, its sections in proportion, its bars as ticks.

import { byId, make, makeSvg } from "./dom.js";
import { listenToPresses } from "./press.js";
import { placeWords } from "./words.js";

/** @typedef {import("./shown.js").Shown} Shown */

const [SNAP_PX, LEAST_TICK_PX, TICKS_APART] = [10, 4, 4];

export class FormLine {
  /**
   * @param {Shown} shown
   * @param {Omit<import("./press.js").Presses, "barOf">} presses
   */
  constructor(shown, presses) {
    this.shown = shown;
    this.element = byId("form");
    this.current = -1;
    this.bar = -1;
    this.count = shown.bars.length;
    this.parts = shown.sections.map((section) => {
      const part = make("span", { class: "part" }, section.label);
      this.place(part, section.first, section.first + section.bars - 1);
      return part;
    });
    this.ticks = makeSvg("svg", { class: "ticks", viewBox: `0 0 ${this.count} 1`, preserveAspectRatio: "none", "aria-hidden": "true" });
    this.loop = make("span", { class: "loop" });
    this.loop.hidden = true;
    this.spot = make("span", { class: "spot" });
    this.element.append(...this.parts, this.ticks, this.loop, this.spot);
    this.element.setAttribute("aria-valuemax", String(this.count));
    listenToPresses(this.element, { ...presses, barOf: (event) => this.barOf(event), press: (bar, event) => presses.press(this.snapped(bar, event), event) });
  }

  /**
   * @param {HTMLElement} element
   * @param {number} first
   * @param {number} last
   */
  place(element, first, last) {
    element.style.left = `${(100 * first) / this.count}%`;
    element.style.width = `${(100 * (last + 1 - first)) / this.count}%`;
  }

  /** Names where they have room, else their first letters; ticks where they can be told apart. */
  fit() {
    const { sections } = this.shown;
    const shorten = (/** @type {(label: string) => string} */ by) => {
      const cut = this.parts.map((part) => part.scrollWidth > part.clientWidth);
      this.parts.forEach((part, index) => cut[index] && (part.textContent = by(sections[index].label)));
    };
    this.parts.forEach((part, index) => (part.textContent = sections[index].label));
    shorten(initials);
    shorten(() => "");
    const apart = this.element.clientWidth / this.count < LEAST_TICK_PX ? TICKS_APART : 1;
    let ticks = "";
    for (const { first, bars } of sections) for (let bar = 0; bar < bars; bar += apart) ticks += `M${first + bar} 0V1`;
    this.ticks.replaceChildren(makeSvg("path", { d: ticks, "vector-effect": "non-scaling-stroke" }));
    this.showSpot(this.bar);
  }

  /** @param {PointerEvent} event */
  barOf({ clientX }) {
    const { left, width } = this.element.getBoundingClientRect();
    return Math.min(this.count - 1, Math.max(0, Math.floor(((clientX - left) / width) * this.count)));
  }

  /**
   * A finger is wider than a bar: near to where a section begins it means its first bar.
   * @param {number} bar
   * @param {PointerEvent} event
   */
  snapped(bar, { clientX, pointerType }) {
    if (pointerType === "mouse") return bar;
    const { left, width } = this.element.getBoundingClientRect();
    const near = this.shown.sections.find(({ first }) => Math.abs(left + (first * width) / this.count - clientX) <= SNAP_PX);
    return near ? near.first : bar;
  }

  /** @param {number} bar */
  show(bar) {
    if (bar === this.bar) return;
    this.bar = bar;
    const { section } = this.shown.bars[bar];
    if (section !== this.current) {
      this.parts[this.current]?.classList.remove("here");
      this.parts[section]?.classList.add("here");
      this.current = section;
    }
    this.showSpot(bar);
    this.element.setAttribute("aria-valuenow", String(bar + 1));
    this.element.setAttribute("aria-valuetext", placeWords(this.shown, bar));
  }

  /** @param {number} bar */
  showSpot(bar) {
    this.spot.style.transform = `translateX(${(Math.max(0, bar) * this.element.clientWidth) / this.count}px)`;
  }

  /** @param {[number, number] | null} loop */
  showLoop(loop) {
    this.loop.hidden = !loop;
    if (loop) this.place(this.loop, ...loop);
  }
}

/** @param {string} label */
function initials(label) {
  return label
    .split(" ")
    .map((word) => (/^\d/.test(word) ? word : word.slice(0, 1)))
    .join("");
}
