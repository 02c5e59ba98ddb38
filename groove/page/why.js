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
 * Two numbers that hang on each other: the other one gives way.
 * @param {string} changed its id
 */
export function putInOrder(changed) {
  const number = (/** @type {string} */ id) => Number(input(id).value);
  const most = number("click-of") - 1;
  if (number("click-out") > most) {
    if (changed === "click-out") input("click-of").value = String(number("click-out") + 1);
    else input("click-out").value = String(most);
  }
  if (number("ladder-top") < number("ladder-start")) {
    if (changed === "ladder-start") input("ladder-top").value = input("ladder-start").value;
    else input("ladder-start").value = input("ladder-top").value;
  }
}
