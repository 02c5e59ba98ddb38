// What is read from afar: the chord of now and the next one, equally large, the beat, the place.

import { byId, setText } from "./dom.js";
import { FittedText } from "./fitted.js";
import { lastAtOrBefore } from "./timing.js";
import { placeWords } from "./words.js";

/** @typedef {import("./shown.js").Shown} Shown */

const SMALL_SHARE = 0.3;
const PLACE_PX = 14;

/** The chord of now, the next one and the next section, in large type. */
export class LeadView {
  /** @param {Shown} shown */
  constructor(shown) {
    this.shown = shown;
    this.transpose = 0;
    this.room = "";
    this.now = new FittedText(byId("now"));
    this.next = new FittedText(byId("next"));
    this.place = new FittedText(byId("place"), PLACE_PX);
  }

  fit() {
    this.place.fit();
    const { clientWidth, clientHeight } = this.now.element;
    const room = `${clientWidth} ${clientHeight} ${this.transpose}`;
    if (room === this.room) return;
    this.room = room;
    // One size for both, and for most of the song: the few that are longer than most are smaller.
    const sizes = this.now.sizesOf(this.shown.names[String(this.transpose)]).sort((a, b) => a - b);
    for (const each of [this.now, this.next]) each.fit(sizes[Math.floor(sizes.length * SMALL_SHARE)]);
    this.level();
  }

  /** Beside a chord that is longer than most the other one is as small. */
  level() {
    const size = Math.min(this.now.size, this.next.size);
    for (const each of [this.now, this.next]) each.setSize(size);
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
    this.level();
    setText(byId("beat"), beat ? String(beat) : "–");
    this.place.show(counts ? "count-in" : placeWords(this.shown, bar));
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
    setText(byId("coming"), after < sections.length ? sections[after].label : "end");
  }
}
