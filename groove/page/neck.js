// The neck from above, the highest string on top: where the hand is, and where it goes next.

import { byId, make, makeSvg } from "./dom.js";

/** @typedef {import("./shown.js").BassNote} BassNote */
/** @typedef {import("./shown.js").Shown} Shown */
/** @typedef {{string: number, fret: number, finger: number | null}} Place */
/** @typedef {Record<string, number[][]>} MovedLines by semitones, a row a bass note: by how much it is moved, string, fret, finger */

const INLAYS = [3, 5, 7, 9, 12, 15, 17, 19, 21, 24];
const LEAST_FRETS = 5;
const TOP_FRET = 24;
const OPEN_PX = 64;
const WIDEST_PX = 780;
const [STRING_PX, WIDEST_STRING_PX] = [26, 58];
const TOP_PX = 18;
const NUMBERS_PX = 32;

export class NeckView {
  /**
   * @param {Shown} shown
   * @param {MovedLines} moved
   */
  constructor(shown, moved) {
    this.shown = shown;
    this.moved = moved;
    this.mirrored = false;
    this.width = 0;
    this.stringPx = STRING_PX;
    this.now = -1;
    this.next = -1;
    this.dots = makeSvg("g", {});
    this.told = [make("span"), make("span")];
    byId("hand-words").replaceChildren(...this.told);
    /** @type {Place[]} */
    this.places = [];
    this.last = LEAST_FRETS;
    this.transpose(0);
  }

  /** @param {number} semitones */
  transpose(semitones) {
    const rows = this.moved[String(semitones)];
    this.places = rows ? rows.map(([, string, fret, finger]) => ({ string, fret, finger: finger < 0 ? null : finger })) : this.shown.bass;
    const top = Math.max(0, ...this.places.map(({ fret }) => fret + 1));
    this.last = Math.min(TOP_FRET, Math.max(LEAST_FRETS, top));
    this.build();
  }

  get height() {
    return TOP_PX + this.stringPx * (this.shown.strings.length - 1) + NUMBERS_PX;
  }

  /**
   * Draw anew where the room has changed, so that fingers and numbers keep their size.
   * @param {boolean} alone with the strings as far apart as the room allows
   */
  fit(alone) {
    const room = byId("hand").clientHeight - byId("hand-words").offsetHeight - TOP_PX - NUMBERS_PX;
    const stringPx = alone ? Math.min(WIDEST_STRING_PX, Math.max(STRING_PX / 2, Math.floor(room / (this.shown.strings.length - 1)))) : STRING_PX;
    if (this.roomPx() === this.width && stringPx === this.stringPx) return;
    this.stringPx = stringPx;
    this.build();
  }

  roomPx() {
    return byId("neck").clientWidth || this.width || WIDEST_PX;
  }

  build() {
    const { strings } = this.shown;
    this.width = this.roomPx();
    const svg = makeSvg("svg", { viewBox: `0 0 ${this.width} ${this.height}`, role: "img", "aria-labelledby": "hand-words" });
    for (let fret = 0; fret <= this.last; fret += 1) {
      const x = this.wire(fret);
      svg.append(makeSvg("line", { x1: x, x2: x, y1: TOP_PX, y2: this.stringY(strings.length), "stroke-width": fret ? 1.5 : 5 }));
      if (INLAYS.includes(fret)) svg.append(makeSvg("text", { x: this.middle(fret), y: this.height - 4 }, String(fret)));
    }
    strings.forEach((name, index) => {
      const y = this.stringY(index + 1);
      svg.append(makeSvg("line", { x1: this.wire(0), x2: this.wire(this.last), y1: y, y2: y, "stroke-width": 0.8 + 0.5 * index }));
      svg.append(makeSvg("text", { x: this.flip(12), y: y + 4 }, name));
    });
    svg.append(this.dots);
    byId("neck").replaceChildren(svg);
    this.mark();
  }

  /** @param {number} x */
  flip(x) {
    return this.mirrored ? this.width - x : x;
  }

  /** @param {number} fret */
  distance(fret) {
    return OPEN_PX + ((this.width - OPEN_PX - 8) * fret) / this.last;
  }

  /** @param {number} fret */
  wire(fret) {
    return this.flip(this.distance(fret));
  }

  /** @param {number} fret */
  middle(fret) {
    return this.flip(fret === 0 ? 40 : (this.distance(fret) + this.distance(fret - 1)) / 2);
  }

  /** @param {number} string */
  stringY(string) {
    return TOP_PX + this.stringPx * (string - 1);
  }

  /** @param {boolean} mirrored */
  mirror(mirrored) {
    this.mirrored = mirrored;
    this.build();
  }

  /**
   * @param {number} now the bass note that sounds, -1 for none
   * @param {number} next the one that follows, -1 for none
   */
  show(now, next) {
    if (now === this.now && next === this.next) return;
    this.now = now;
    this.next = next;
    this.mark();
  }

  mark() {
    this.dots.replaceChildren();
    this.told[0].textContent = this.now >= 0 ? `now ${this.words(this.now)}` : "";
    this.told[1].textContent = this.next >= 0 ? `next ${this.words(this.next)}` : "";
    if (this.next >= 0) this.dot(this.next, "soon", this.isSamePlace() ? 16 : 12);
    if (this.now >= 0) this.dot(this.now, "hit", 11);
  }

  /** Whether the next note lies where the hand is: its ring then stands round the other. */
  isSamePlace() {
    const [now, next] = [this.places[this.now], this.places[this.next]];
    return Boolean(now && next && now.string === next.string && now.fret === next.fret);
  }

  /** @param {number} index */
  words(index) {
    const place = this.places[index];
    const name = this.shown.strings[place.string - 1];
    if (place.fret === 0) return `${name} string open`;
    return `${name} string, fret ${place.fret}${place.finger === null ? "" : `, finger ${place.finger}`}`;
  }

  /**
   * @param {number} index
   * @param {string} kind
   * @param {number} radius
   */
  dot(index, kind, radius) {
    const place = this.places[index];
    if (!place) return;
    const x = this.middle(place.fret);
    const y = this.stringY(place.string);
    this.dots.append(makeSvg("circle", { class: kind, cx: x, cy: y, r: radius }));
    if (place.finger !== null) this.dots.append(makeSvg("text", { class: `${kind}-text`, x, y: y + 4 }, String(place.finger)));
  }
}
