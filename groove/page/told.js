// What is said to who listens for it: where the page stands, and in play now and then what comes.

import { byId, setText } from "./dom.js";
import { placeWords } from "./words.js";

/** @typedef {import("./page.js").Page} Page */

/** As long as it takes to say a place and two chords; more would be a flood over the music. */
const TOLD_SEC = 3.5;

export class Told {
  /** @param {Page} page */
  constructor(page) {
    this.page = page;
    this.bar = -1;
    this.section = -1;
    this.at = -Infinity;
  }

  /** Say where the page stands. */
  place() {
    const { shown, bar, now } = this.page;
    [this.bar, this.section, this.at] = [bar, shown.bars[bar].section, now];
    setText(byId("told"), `${placeWords(shown, bar)}: ${byId("now").textContent}, then ${byId("next").textContent}`);
  }

  /** In play, where a bar begins: the first of a section, others no oftener than can be listened to. */
  inPlay() {
    const { shown, bar, now } = this.page;
    if (bar === this.bar) return;
    this.bar = bar;
    if (shown.bars[bar].section !== this.section || now - this.at >= TOLD_SEC) this.place();
  }
}
