// What is read from afar: the form, the chord of now, the next one, the next section.

import { byId, make, setText } from "./dom.js";
import { lastAtOrBefore } from "./timing.js";
import { placeWords } from "./words.js";

/** @typedef {import("./shown.js").Shown} Shown */

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

/** The chord of now, the next one and the next section, in large type. */
export class LeadView {
  /** @param {Shown} shown */
  constructor(shown) {
    this.shown = shown;
    this.transpose = 0;
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
    setText(byId("now"), now < 0 ? "–" : names[chords[now][1]]);
    setText(byId("next"), next < 0 ? "end" : names[chords[next][1]]);
    setText(byId("beat"), beat ? String(beat) : "–");
    setText(byId("place"), counts ? "count-in" : placeWords(this.shown, bar));
    setText(byId("coming"), this.comingText(bars[bar].section, loop));
  }

  /**
   * @param {number} section
   * @param {[number, number] | null} loop
   */
  comingText(section, loop) {
    const { bars, sections } = this.shown;
    const after = section + 1;
    const { first, bars: count } = sections[section];
    if (loop && first + count > loop[1]) return `${sections[bars[loop[0]].section].label} again`;
    return after < sections.length ? sections[after].label : "end";
  }
}
