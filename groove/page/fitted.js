// Text in a box of a given size, as large as it goes in: measured as it is set, since no two engines
// make a letter equally wide. What is too long for one line wraps where a chord may be parted.

import { make } from "./dom.js";

const [LEAST_PX, LINE] = [8, 1.05];

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
   * How large a word could stand in the box; what stands there stays.
   * @param {string} word
   */
  sizeOf(word) {
    const { most, told } = this;
    this.most = Infinity;
    this.element.replaceChildren(...parted(word));
    const size = this.measured();
    this.most = most;
    if (told) this.set(told.split("\n"));
    return size;
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
    this.element.replaceChildren(...(words.length > 1 ? words.map((word) => make("span", {}, word)) : parted(words[0])));
    const size = this.sizes.get(this.told) ?? this.measured();
    this.sizes.set(this.told, size);
    this.element.style.fontSize = `${size}px`;
  }

  measured() {
    const { element } = this;
    let low = LEAST_PX;
    let high = Math.max(low, Math.floor(Math.min(this.most, element.clientHeight / LINE)));
    const fits = (/** @type {number} */ size) => {
      element.style.fontSize = `${size}px`;
      return element.scrollWidth <= element.clientWidth && element.scrollHeight <= element.clientHeight;
    };
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (fits(middle)) low = middle;
      else high = middle - 1;
    }
    return low;
  }
}

/**
 * A word that may wrap before a slash and a bracket.
 * @param {string} word
 */
function parted(word) {
  return word.split(/(?=[/(])/).flatMap((piece, index) => (index ? [make("wbr"), piece] : [piece]));
}
