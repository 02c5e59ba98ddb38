// The controls: what each of them does, by mouse, touch and keyboard.

import { byId, input, make, setText } from "./dom.js";
import { forgetAll, goOn } from "./kept.js";
import { listenToKeys } from "./keyboard.js";
import { byBars, toStart } from "./moves.js";
import { showLevels } from "./mixer.js";
import { listenToPanels } from "./panels.js";
import { saveWithLog } from "./saved.js";
import { putInOrder, putRight, showWhy } from "./why.js";

/** @typedef {import("./page.js").Page} Page */
/** @typedef {import("./shown.js").Shown} Shown */

export const STEP = 0.05;
const PLANNED = ["counts-in", "click-out", "click-of", "turns", "ladder-on", "ladder-start", "ladder-step", "ladder-top", "ladder-passes"];
const LEVELS = ["level-all", "level-bass", "level-drums", "level-keys", "level-click", "bass-on", "drums-on", "keys-on", "click-on"];
export const SETTINGS = [...PLANNED, ...LEVELS, "transpose", "view", "left-handed", "offset", "letters", "card-hides"];

/**
 * The choices that depend on the song: what to loop, and the key.
 * @param {Shown} shown
 * @param {Record<string, string>} keys by semitones
 */
export function fillChoices(shown, keys) {
  const option = (/** @type {string} */ value, /** @type {string} */ text) => make("option", { value }, text);
  byId("loop").append(option("once", "through once"), option("song", "the whole song, again and again"));
  shown.sections.forEach((section, index) => byId("loop").append(option(String(index), section.label)));
  byId("loop").append(option("bars", "the bars typed here"));
  for (const semitones of Object.keys(keys).sort((one, other) => Number(other) - Number(one))) {
    byId("transpose").append(option(semitones, `${keys[semitones]} (${signed(Number(semitones))})`));
  }
  input("transpose").value = "0";
  if (Object.keys(keys).length === 1) setText(byId("key-hint"), "So long a song is in its own key alone; made with --transpose, the page is in another.");
}

/** @param {number} semitones */
export function signed(semitones) {
  return semitones > 0 ? `+${semitones}` : String(semitones).replace("-", "−");
}

/** @param {Page} page */
export function listen(page) {
  const on = (/** @type {string} */ id, /** @type {string} */ event, /** @type {() => void} */ act) => byId(id).addEventListener(event, act);
  on("play", "click", () => page.toggle());
  on("slower", "click", () => page.setShare(page.share - STEP));
  on("faster", "click", () => page.setShare(page.share + STEP));
  on("share", "input", () => page.setShare(Number(input("share").value) / 100));
  on("bpm", "change", () => page.setBpm(Number(input("bpm").value)));
  on("tap", "click", () => page.tap());
  on("loop", "change", () => page.chooseLoop(input("loop").value));
  on("bars", "change", () => page.typeBars());
  on("loop-this", "click", () => page.chooseLoop(String(Math.max(0, page.form.current))));
  on("loop-none", "click", () => page.chooseLoop("once"));
  on("to-start", "click", () => toStart(page));
  on("bar-back", "click", () => byBars(page, -1));
  on("bar-on", "click", () => byBars(page, 1));
  // Pressed anew at another place, the same bars mean another time the song comes to them.
  byId("bars").addEventListener("keydown", (event) => {
    if (event.key === "Enter") page.typeBars();
  });
  listenToPanels();
  on("transpose", "change", () => page.chooseKey());
  on("view", "change", () => page.chooseView());
  on("left-handed", "change", () => page.neck.mirror(input("left-handed").checked));
  on("card-hides", "change", () => page.hideChords());
  on("print-it", "click", () => window.print());
  on("forget", "click", () => forgetAll(page));
  on("go-on", "click", () => goOn(page));
  on("save-log", "click", () => saveWithLog(page.data.title, page.log));
  addEventListener("pagehide", () => {
    if (page.player) page.remember();
  });
  for (const field of document.querySelectorAll("input[type=number]")) {
    field.addEventListener("change", () => {
      if (field.id !== "bpm") putRight(page, /** @type {HTMLInputElement} */ (field));
      putInOrder(page, field.id);
    });
  }
  for (const id of PLANNED) on(id, "change", () => page.replan());
  for (const id of LEVELS) {
    on(id, "input", () => {
      page.mixer?.setLevels();
      showLevels();
      showWhy(page);
    });
  }
  for (const id of SETTINGS) on(id, "change", () => page.remember());
  listenToKeys(page);
  document.addEventListener("visibilitychange", () => {
    page.pump();
    if (document.hidden && page.player?.isPlaying) page.remember();
    // The screen's lock is let go of with the page, and is asked for anew.
    if (!document.hidden && page.player?.isPlaying) page.awake.hold();
  });
  addEventListener("beforeprint", () => page.fillPrint());
  addEventListener("afterprint", () => byId("print").replaceChildren());
}
