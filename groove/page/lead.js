// What is read from afar: the form, the chord of now, the next one, the next section.

import { byId, make, setText } from "./dom.js";
import { lastAtOrBefore } from "./timing.js";
import { placeWords } from "./words.js";

/** @typedef {import("./shown.js").Shown} Shown */

const [LEAST_CHORD, LEAST_NAME] = [0.3, 0.75];

/** The form as a row of buttons, one a section as played. */
export class FormRow {
  /**
   * @param {Shown} shown
   * @param {(section: number) => void} onChoose
   */
  constructor(shown, onChoose) {
    this.buttons = shown.sections.map((section, index) => {
      const item = make("li");
      item.style.setProperty("--bars", String(section.bars));
      const button = make("button", { type: "button", title: `Play from ${section.label}` }, section.label);
      button.addEventListener("click", () => onChoose(index));
      item.append(button);
      byId("form").append(item);
      return button;
    });
    this.current = -1;
  }

  /** @param {number} section */
  show(section) {
    if (section === this.current) return;
    this.buttons[this.current]?.removeAttribute("aria-current");
    this.buttons[section]?.setAttribute("aria-current", "true");
    this.current = section;
  }

  /**
   * @param {Shown} shown
   * @param {[number, number] | null} loop
   */
  showLoop(shown, loop) {
    this.buttons.forEach((button, index) => {
      const { first, bars } = shown.sections[index];
      button.classList.toggle("looped", loop !== null && first <= loop[1] && first + bars > loop[0]);
    });
  }
}

/** A text in large type, smaller where it would be wider than its place. */
class FittedText {
  /**
   * @param {string} id
   * @param {number} least share of its size; what is wider then is cut
   */
  constructor(id, least) {
    this.least = least;
    this.element = byId(id);
    this.pen = /** @type {CanvasRenderingContext2D} */ (document.createElement("canvas").getContext("2d"));
    this.room = 0;
  }

  /** Read the place's width and type anew. */
  fit() {
    this.element.style.removeProperty("--shrink");
    const { fontWeight, fontSize, fontFamily } = getComputedStyle(this.element);
    this.pen.font = `${fontWeight} ${fontSize} ${fontFamily}`;
    this.room = this.element.clientWidth;
    this.shrink();
  }

  /** @param {string} text */
  show(text) {
    if (this.element.textContent === text) return;
    this.element.textContent = text;
    this.shrink();
  }

  shrink() {
    const width = this.pen.measureText(this.element.textContent ?? "").width;
    const share = width > this.room && this.room > 0 ? Math.max(this.least, this.room / (width + 1)) : 1;
    this.element.style.setProperty("--shrink", share.toFixed(3));
  }
}

/** The chord of now, the next one and the next section, in large type. */
export class LeadView {
  /** @param {Shown} shown */
  constructor(shown) {
    this.shown = shown;
    this.transpose = 0;
    this.now = new FittedText("now", LEAST_CHORD);
    this.next = new FittedText("next", LEAST_CHORD);
    this.coming = new FittedText("coming", LEAST_NAME);
  }

  fit() {
    for (const each of [this.now, this.next, this.coming]) each.fit();
  }

  /**
   * @param {number} position
   * @param {number} bar
   * @param {[number, number] | null} loop
   * @param {number} beat the one that sounds, 0 for none
   * @param {boolean} counts whether it is counted in
   */
  show(position, bar, loop, beat, counts) {
    const { bars, chords } = this.shown;
    const names = this.shown.names[String(this.transpose)];
    const near = position + 1e-4;
    const now = lastAtOrBefore(chords, near, (chord) => chord[0]);
    const end = loop ? bars[loop[1]].end : this.shown.length;
    let next = now + 1 < chords.length && chords[now + 1][0] < end - 1e-4 ? now + 1 : -1;
    if (next < 0 && loop) next = Math.max(0, lastAtOrBefore(chords, bars[loop[0]].start + 1e-4, (chord) => chord[0]));
    this.now.show(now < 0 ? "–" : names[chords[now][1]]);
    this.next.show(next < 0 ? "end" : names[chords[next][1]]);
    setText(byId("beat"), beat ? String(beat) : "–");
    setText(byId("place"), counts ? "count-in" : placeWords(this.shown, bar));
    this.showComing(bars[bar].section, loop);
  }

  /**
   * The section that comes next, or that comes again in a loop.
   * @param {number} section
   * @param {[number, number] | null} loop
   */
  showComing(section, loop) {
    const { bars, sections } = this.shown;
    const { first, bars: count } = sections[section];
    const again = loop !== null && first + count > loop[1];
    const after = again ? bars[loop[0]].section : section + 1;
    setText(byId("then"), again ? "again" : "then");
    this.coming.show(after < sections.length ? sections[after].label : "end");
  }
}
