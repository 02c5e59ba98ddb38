// Text in a box of a given size, as large as it goes in: measured as it is set, since no two engines
// make a letter equally wide. What is too long for one line wraps where a chord may be parted.

import { make } from "./dom.js";

const [LEAST_PX, RULER_PX, LINE] = [8, 64, 1.05];

export class FittedText {
  /**
   * @param {HTMLElement} element whose width and height the style gives
   * @param {number} most px, none for as large as the box
   */
  constructor(element, most = Infinity) {
    this.element = element;
    this.most = most;
    this.told = "";
    this.room = "";
    /** What stands there could be this large, in px. */
    this.size = LEAST_PX;
    /** @type {Map<string, number>} */
    this.sizes = new Map();
  }

  /**
   * The box may have another size: fit anew what stands in it.
   * @param {number} most px
   */
  fit(most = this.most) {
    const { clientWidth, clientHeight } = this.element;
    const room = `${clientWidth} ${clientHeight} ${most}`;
    if (room === this.room) return;
    this.room = room;
    this.most = most;
    this.sizes.clear();
    if (this.told) this.set(this.told.split("\n"));
  }

  /**
   * About how large each of some words could stand in the box; what stands there stays. All are
   * measured at one size, for every size more costs a browser a font.
   * @param {string[]} words
   */
  sizesOf(words) {
    const { clientWidth, clientHeight } = this.element;
    const ruler = make("span");
    Object.assign(ruler.style, { position: "absolute", visibility: "hidden", whiteSpace: "nowrap", fontSize: `${RULER_PX}px` });
    const rows = words.map((word) => pieces(word).map((piece) => make("span", {}, piece)));
    ruler.append(...rows.flat());
    this.element.append(ruler);
    const widths = rows.map((row) => row.map((piece) => piece.getBoundingClientRect().width / RULER_PX));
    ruler.remove();
    return widths.map((row) => Math.max(LEAST_PX, Math.floor(largest(row, clientWidth, clientHeight))));
  }

  /**
   * @param {string[]} words each is kept together where it can be
   */
  show(...words) {
    const told = words.join("\n");
    if (told === this.told) return;
    this.told = told;
    this.set(words);
  }

  /** @param {string[]} words */
  set(words) {
    this.fill(words);
    this.size = this.sizes.get(this.told) ?? this.measured();
    this.sizes.set(this.told, this.size);
    this.element.style.fontSize = `${this.size}px`;
  }

  /** @param {string[]} words */
  fill(words) {
    this.element.replaceChildren(...(words.length > 1 ? words.map((word) => make("span", {}, word)) : parted(words[0])));
  }

  /**
   * Set what stands there no larger than it could be: anew, for a text that stays and shrinks moves.
   * @param {number} size px
   */
  setSize(size) {
    const told = `${size}px`;
    if (this.element.style.fontSize === told) return;
    this.fill(this.told.split("\n"));
    this.element.style.fontSize = told;
  }

  measured() {
    const { element } = this;
    const { clientWidth, clientHeight } = element;
    let low = LEAST_PX;
    let high = Math.max(low, Math.floor(Math.min(this.most, clientHeight / LINE)));
    // Each look has all that is changed laid out: the largest is often right, else one in proportion.
    let [size, step] = [high, 1];
    while (low < high) {
      element.style.fontSize = `${size}px`;
      const share = Math.min(clientWidth / element.scrollWidth, clientHeight / element.scrollHeight);
      if (share >= 1) {
        low = size;
        size = Math.min(high, low + step);
        step *= 2;
      } else {
        high = size - 1;
        size = Math.max(low + 1, Math.min(high, Math.floor(size * share)));
      }
    }
    return low;
  }
}

/**
 * A word in the pieces between which it may wrap: before a slash and a bracket.
 * @param {string} word
 */
function pieces(word) {
  return word.split(/(?=[/(])/);
}

/** @param {string} word */
function parted(word) {
  return pieces(word).flatMap((piece, index) => (index ? [make("wbr"), piece] : [piece]));
}

/**
 * The largest size at which pieces stand in a box, in as many lines as that takes.
 * @param {number[]} widths of the pieces, as parts of their size
 * @param {number} width
 * @param {number} height
 */
function largest(widths, width, height) {
  return Math.max(...widths.map((_, more) => Math.min(height / LINE / (more + 1), width / widest(widths, more + 1))));
}

/**
 * How wide the widest of some lines is, where the pieces are spread best.
 * @param {number[]} widths
 * @param {number} lines
 * @returns {number}
 */
function widest(widths, lines) {
  if (lines === 1) return widths.reduce((sum, each) => sum + each, 0);
  const cuts = widths.slice(1).map((_, index) => index + 1);
  return Math.min(...cuts.map((cut) => Math.max(widest(widths.slice(0, cut), 1), widest(widths.slice(cut), lines - 1))));
}
