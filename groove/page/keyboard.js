// One key for what a player does all the time, wherever on the page he is.

import { STEP } from "./controls.js";
import { byId, input } from "./dom.js";
import { byBars, bySections, toNumbered, toSection, toStart } from "./moves.js";

/** @typedef {import("./page.js").Page} Page */

/** @type {Record<string, (page: Page) => void>} */
const KEYS = {
  " ": (page) => page.toggle(),
  ArrowLeft: (page) => byBars(page, -1),
  ArrowRight: (page) => byBars(page, 1),
  // What a foot pedal sends.
  PageUp: (page) => bySections(page, -1),
  PageDown: (page) => bySections(page, 1),
  Home: (page) => toStart(page),
  s: (page) => page.setShare(page.share - STEP),
  f: (page) => page.setShare(page.share + STEP),
  b: () => input("bass-on").click(),
  r: () => document.getElementById("record-on")?.click(),
  l: (page) => page.chooseLoop(page.loop ? "once" : String(page.shown.bars[page.bar].section)),
};
const TYPED = ["text", "number"];
/** What a control that was come to by the Tab key needs for itself. */
const OWN = {
  checkbox: [" "],
  range: ["ArrowLeft", "ArrowRight", "Home", "PageUp", "PageDown"],
  tab: ["ArrowLeft", "ArrowRight"],
  list: [" ", "ArrowLeft", "ArrowRight", "Home", "PageUp", "PageDown", "s", "f", "b", "r", "l"],
};

/**
 * Whether a control keeps a key: what is typed into always, others where the Tab key led to them,
 * so that space plays after a press of the mouse too.
 * @param {Element} target
 * @param {string} key
 * @param {boolean} wasLed by the Tab key
 */
function keeps(target, key, wasLed) {
  const kind = target instanceof HTMLInputElement ? target.type : target instanceof HTMLSelectElement ? "list" : target instanceof HTMLPreElement ? "tab" : "";
  // No number has a space in it: there it plays too.
  if (TYPED.includes(kind)) return kind === "text" || key !== " ";
  const own = OWN[/** @type {keyof typeof OWN} */ (kind)] ?? [];
  return wasLed && (own.includes(key) || (kind === "list" && /^\d$/.test(key)));
}

/** @param {Page} page */
export function listenToKeys(page) {
  let wasLed = false;
  document.addEventListener("pointerdown", () => (wasLed = false), true);
  document.addEventListener("keydown", ({ key }) => (wasLed ||= key === "Tab"), true);
  const actOf = (/** @type {KeyboardEvent} */ event) => {
    const { key } = event;
    if (!input("letters").checked || event.ctrlKey || event.metaKey || event.altKey) return null;
    if (keeps(/** @type {Element} */ (event.target), key, wasLed)) return null;
    if (/^\d$/.test(key)) return () => toNumbered(page, key === "0" ? 10 : Number(key));
    return Object.hasOwn(KEYS, key) ? () => KEYS[key](page) : null;
  };
  document.addEventListener("keydown", (event) => {
    const act = actOf(event);
    if (!act) return;
    event.preventDefault();
    if (!event.repeat || event.key !== " ") act();
  });
  // A button would be pressed when the space bar is let go.
  document.addEventListener("keyup", (event) => {
    if (event.key === " " && actOf(event)) event.preventDefault();
  });
  byId("form").addEventListener("keydown", (event) => {
    const by = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    if (by) byBars(page, by);
    else if (event.key === "End") toSection(page, page.shown.sections.length);
    else return;
    event.preventDefault();
  });
}
