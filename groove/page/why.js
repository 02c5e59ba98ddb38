// A setting that cannot act now says why, beside itself, and offers what would let it.

import { byId, input, make } from "./dom.js";

/** @typedef {import("./page.js").Page} Page */
/** @typedef {{says: string, cure: string, act: (page: Page) => void}} Reason */

const isOn = (/** @type {string} */ id) => input(id).checked;
const turnOn = (/** @type {string} */ id) => () => input(id).click();
/** @type {Omit<Reason, "says">} */
const LOOPS = { cure: "Loop this section", act: (page) => page.chooseLoop(String(page.shown.bars[page.bar].section)) };

/** @type {Omit<Reason, "says">} */
const BAND = { cure: "Play the band", act: () => input("record-on").click() };

/** @type {Record<string, (page: Page) => Reason | null>} */
const REASONS = {
  "ladder-why": (page) => (isOn("ladder-on") && !page.loop ? { says: "The ladder climbs from pass to pass, so it needs a loop.", ...LOOPS } : null),
  "turns-why": (page) => {
    if (!isOn("turns")) return null;
    if (page.sources.isRecord) return { says: "A record has no part that can be taken out.", ...BAND };
    if (!page.loop) return { says: "The bass takes turns from pass to pass, so it needs a loop.", ...LOOPS };
    return isOn("bass-on") ? null : { says: "The bass is off, so it comes in no time.", cure: "Bass on", act: turnOn("bass-on") };
  },
  "levels-why": (page) => (page.sources.isRecord ? { says: "The record plays: its parts have no levels of their own.", ...BAND } : null),
  "key-why": (page) => (page.sources.isRecord ? { says: "A record stays in its own key.", ...BAND } : null),
  "click-why": () => (Number(input("click-out").value) > 0 && !isOn("click-on") ? { says: "The click is off already.", cure: "Click on", act: turnOn("click-on") } : null),
};

/** @param {Page} page */
export function showWhy(page) {
  for (const [id, reasonOf] of Object.entries(REASONS)) {
    const reason = reasonOf(page);
    const place = byId(id);
    if ((reason?.says ?? "") === (place.firstChild?.textContent ?? "")) continue;
    place.replaceChildren();
    if (!reason) continue;
    const cure = make("button", { type: "button" }, reason.cure);
    cure.addEventListener("click", () => reason.act(page));
    place.append(make("span", {}, reason.says), cure);
  }
}

/**
 * Put a number back between its ends, and say so; nothing typed is the nearest that there is.
 * @param {Page} page
 * @param {HTMLInputElement} field
 */
export function putRight(page, field) {
  const [least, most, step] = [Number(field.min), Number(field.max), Number(field.step) || 1];
  const typed = field.value === "" ? NaN : Number(field.value);
  const fallback = Number(field.defaultValue);
  const value = Number.isNaN(typed) ? fallback : Math.min(most, Math.max(least, Math.round(typed / step) * step));
  if (value === typed) return;
  field.value = String(value);
  page.say(`From ${least} to ${most}: put to ${value}.`);
}

/**
 * Two numbers that hang on each other: the other one gives way, which is said.
 * @param {Page} page
 * @param {string} changed its id
 */
export function putInOrder(page, changed) {
  const number = (/** @type {string} */ id) => Number(input(id).value);
  const give = (/** @type {string} */ id, /** @type {number} */ value, /** @type {string} */ says) => {
    input(id).value = String(value);
    page.say(says);
  };
  const [out, of] = [number("click-out"), number("click-of")];
  if (out >= of && changed === "click-out") give("click-of", out + 1, `The click comes back after them: of every ${out + 1} bars.`);
  else if (out >= of) give("click-out", of - 1, `The click comes back within them: muted for ${of - 1}.`);
  const [start, top] = [number("ladder-start"), number("ladder-top")];
  if (top < start && changed === "ladder-start") give("ladder-top", start, `The ladder climbs: its top is put to ${start}.`);
  else if (top < start) give("ladder-start", top, `The ladder climbs: its start is put to ${top}.`);
}
