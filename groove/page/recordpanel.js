// The panel of the record: opening it, its bass, its bar lines moved or tapped; and its box in the dock.

import { byId, input, make, setText } from "./dom.js";
import { heldFile, isHeld, isTold, openedRecord, RecordError } from "./recordfile.js";
import { tappedMap } from "./recordmap.js";
import { BarStrip } from "./recordstrip.js";
import { SHELF_HZ } from "./source.js";
import { barName } from "./words.js";

/** @typedef {import("./page.js").Page} Page */

const RIGHTS = "Your own copy of the song, for your own practice. It stays on this device: the page keeps its bar lines and nothing of its sound.";
const IS_INSIDE = "A record is inside this file: do not pass it on.";
const SHELF = `A low shelf at ${SHELF_HZ} Hz: all below it gets louder or softer, the kick drum with the bass. It takes no instrument out.`;
const FROM = {
  kept: "Its bar lines are as you left them.",
  told: "Its bar lines are those that the page was made with.",
  guess: "Where its bars are is not known: tap them, or put bar 1 right below.",
};
const BEGIN_SEC = 0.06;
const [MOST_NAMED, LEAST_CENTS] = [6, 5];

export class RecordPanel {
  /** @param {Page} page */
  constructor(page) {
    this.page = page;
    this.sources = page.sources;
    /** @type {number[] | null} seconds of the record that were tapped, while bars are */
    this.taps = null;
    this.strip = new BarStrip(page);
    this.panel = /** @type {HTMLFieldSetElement} */ (make("fieldset", { id: "record-panel" }));
    this.panel.hidden = true;
    this.box = make("label", { class: "check", id: "record-box" });
    this.fill();
    this.listen();
    this.openHeld();
  }

  fill() {
    const file = make("label", { class: "line" }, "My record, from this device ");
    file.append(make("input", { type: "file", id: "record-file", accept: "audio/*,.wav,.mp3,.flac,.ogg" }));
    this.opened = make("div", { id: "record-opened" });
    this.opened.hidden = true;
    const row = make("div", { class: "side" });
    row.append(make("button", { type: "button", id: "record-taps" }, "Tap the bars"), make("button", { type: "button", id: "record-tap" }), ...[-10, 10].map((by) => make("button", { type: "button", "data-by": by }, `All bar lines 10 ms ${by < 0 ? "earlier" : "later"}`)));
    row.append(this.strip.counts);
    this.opened.append(this.strip.element, row);
    this.levels = make("div", { id: "record-levels" });
    this.levels.hidden = true;
    this.levels.append(slider("level-record", "Record level", -40, 6), slider("record-shelf", "Bass in the record", -24, 12), make("p", { class: "hint" }, SHELF));
    byId("levels-why").before(this.levels);
    this.panel.append(make("legend", {}, "Record"), file, make("p", { id: "record-says", role: "status" }), this.opened, make("p", { class: "hint" }, RIGHTS));
    byId("ear-place").before(this.panel);
    byId("go-on").before(make("button", { type: "button", id: "record-opens", "aria-controls": "record-panel", "aria-expanded": "false" }, "Play with a record"));
    this.box.append(make("input", { type: "checkbox", id: "record-on" }), " Record");
    byId("record-tap").hidden = true;
  }

  listen() {
    const { sources } = this;
    const on = (/** @type {string} */ id, /** @type {string} */ event, /** @type {(event: any) => void} */ act) => byId(id).addEventListener(event, act);
    on("record-file", "change", () => {
      const [file] = input("record-file").files ?? [];
      if (file) this.open(file.name, file);
    });
    for (const id of ["level-record", "record-shelf"]) {
      on(id, "input", () => {
        sources.setLevels();
        this.showLevels();
      });
    }
    on("record-taps", "click", () => (this.taps ? this.takeTaps() : this.beginTaps()));
    // A tap is when the finger comes down; from the keyboard there is a click alone.
    on("record-tap", "pointerdown", () => this.tap());
    on("record-tap", "click", ({ detail }) => detail === 0 && this.tap());
    for (const button of this.panel.querySelectorAll("[data-by]")) {
      button.addEventListener("click", () => this.moveAll(Number(/** @type {HTMLElement} */ (button).dataset.by) / 1000));
    }
    this.box.addEventListener("change", () => this.choose(input("record-on").checked));
    this.showLevels();
  }

  /** Open the record that the page came with, once. */
  openHeld() {
    const told = this.page.data.record;
    if (told && isHeld()) this.open(told.name, heldFile());
    else if (told) setText(byId("record-says"), `The page knows the bars of ${told.name}: open it here.`);
  }

  /**
   * @param {string} name
   * @param {Blob} blob
   */
  async open(name, blob) {
    setText(byId("record-says"), `Opening ${name}…`);
    try {
      const file = await openedRecord(name, blob);
      this.sources.take(file);
    } catch (error) {
      if (!(error instanceof RecordError)) throw error;
      setText(byId("record-says"), error.message);
      this.page.say(error.message, true);
      return;
    }
    for (const each of [this.opened, this.levels]) each?.toggleAttribute("hidden", false);
    this.putBox();
    this.shown();
  }

  /** The box of the record takes the place of the bass's in the dock, and that goes to its level. */
  putBox() {
    const bass = /** @type {HTMLElement} */ (input("bass-on").closest("label"));
    if (this.box.isConnected) return;
    bass.before(this.box);
    const level = /** @type {HTMLElement} */ (byId("level-bass").closest("label"));
    const pair = make("div", { class: "pair" });
    level.before(pair);
    pair.append(level, bass);
  }

  /** @param {boolean} isRecord */
  choose(isRecord) {
    this.sources.choose(isRecord);
    this.shown();
  }

  /** Show what plays, and what cannot act with it. */
  shown() {
    const { page, sources } = this;
    const { isRecord, file, from, map } = sources;
    input("record-on").checked = isRecord;
    for (const id of ["bass-on", "level-bass", "drums-on", "level-drums", "keys-on", "level-keys", "turns", "transpose"]) input(id).disabled = isRecord;
    if (isRecord && input("transpose").value !== "0") {
      input("transpose").value = "0";
      page.chooseKey();
    }
    if (file) {
      const told = page.data.record;
      const doubts = from === "told" ? doubtWords(page.shown.bars.filter((_, index) => !map.sure[index])) : "";
      const tuned = told && isTold(file, told) ? tuningWords(told.tuning_cents) : "";
      const held = isHeld() ? IS_INSIDE : "";
      setText(byId("record-says"), [`${file.name}, ${minutes(file.length)}.`, FROM[from], doubts, tuned, held].filter(Boolean).join(" "));
    }
    page.replan();
    this.strip.draw(true);
  }

  tick() {
    if (this.panel.hidden || !this.sources.file) return;
    this.strip.draw(false);
  }

  // --- bar lines ---

  /** @param {number} by seconds */
  moveAll(by) {
    const { map } = this.sources;
    this.sources.setMap({ lines: map.lines.map((line) => line + by), sure: map.sure });
    this.shown();
  }

  /** The bar line of the first tap: a pickup is not tapped. */
  get firstTapped() {
    const { bars } = this.page.shown;
    return bars[0].number === 0 && bars.length > 1 ? 1 : 0;
  }

  /** Play the record from its beginning, for its bars to be tapped. */
  async beginTaps() {
    const { page, sources } = this;
    page.setLoop(null, "once");
    page.stop();
    this.choose(true);
    this.taps = [];
    this.showTaps();
    await page.play();
    if (!page.player?.isPlaying) {
      this.takeTaps();
      return;
    }
    page.player.seek(page.now + BEGIN_SEC, Math.min(0, sources.map.lines[0]));
    page.pump();
  }

  tap() {
    const moment = this.sources.moment();
    if (!this.taps || !moment || this.taps.length >= this.sources.chart.length - this.firstTapped) return;
    const last = this.taps[this.taps.length - 1] ?? -Infinity;
    if (moment.position > last) this.taps.push(moment.position);
    this.showTaps();
  }

  showTaps() {
    const { bars } = this.page.shown;
    const next = bars[this.firstTapped + (this.taps?.length ?? 0)];
    byId("record-tap").hidden = !this.taps;
    setText(byId("record-taps"), this.taps ? "Take these taps" : "Tap the bars");
    setText(byId("record-tap"), next ? `Tap: ${barName(next)} begins` : "Tap: the song ends");
  }

  /** What was tapped becomes the bar lines; fewer than two taps leave them as they are. */
  takeTaps() {
    const taps = this.taps ?? /** @type {number[]} */ ([]);
    this.taps = null;
    this.page.stop();
    this.showTaps();
    if (taps.length >= 2) this.sources.setMap(tappedMap(this.sources.chart, this.firstTapped, taps));
    this.shown();
  }

  showLevels() {
    for (const id of ["level-record", "record-shelf"]) {
      const told = `${signedDecibels(Number(input(id).value))} dB`;
      setText(byId(`told-${id}`), told);
      input(id).setAttribute("aria-valuetext", told);
    }
  }
}

/**
 * @param {string} id
 * @param {string} words
 * @param {number} least
 * @param {number} most
 */
function slider(id, words, least, most) {
  const label = make("label");
  label.append(make("span", { id: `name-${id}` }, words), " ", make("output", { id: `told-${id}` }), " ", make("input", { type: "range", id, "aria-labelledby": `name-${id}`, min: least, max: most, step: 1, value: 0 }));
  return label;
}

/** @param {number} decibels */
function signedDecibels(decibels) {
  return decibels > 0 ? `+${decibels}` : String(decibels).replace("-", "−");
}

/** @param {number} sec */
function minutes(sec) {
  const whole = Math.round(sec);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

/** @param {{number: number}[]} unsure bars */
function doubtWords(unsure) {
  if (!unsure.length) return "";
  const named = unsure.slice(0, MOST_NAMED).map(barName).join(", ");
  return `Listen to these first, for they are not sure: ${named}${unsure.length > MOST_NAMED ? " and others" : ""}.`;
}

/** @param {number} cents */
function tuningWords(cents) {
  const whole = Math.round(cents);
  return Math.abs(whole) < LEAST_CENTS ? "" : `It sounds ${Math.abs(whole)} cents ${whole > 0 ? "above" : "below"} A = 440: tune to it.`;
}
