// Whether there is sound: it starts or it does not, the device takes it away, another page plays.

import { byId, setText } from "./dom.js";

/** @typedef {import("./page.js").Page} Page */

const [START_MS, LOOK_MS] = [2000, 20];
const CHANNEL = "practice pages";
export const NO_SOUND =
  "No sound has started. Is a loudspeaker or a pair of headphones there, and free of other apps? Then press Play again; if nothing helps, open the page anew.";
const TAKEN = "The device has stopped the sound: a call, the lock screen or another app. Press Play to go on.";

/**
 * Whether the clock of sound runs within two seconds: some engines never say that it does not.
 * @param {AudioContext} context
 */
export async function soundStarts(context) {
  const begun = context.currentTime;
  context.resume().catch(() => undefined);
  const end = performance.now() + START_MS;
  while (performance.now() < end) {
    await new Promise((done) => setTimeout(done, LOOK_MS));
    if (context.state === "running" && context.currentTime > begun) return true;
  }
  return false;
}

/**
 * Say what is wrong, and what to do, until it is right.
 * @param {string} text none for all is well
 */
export function showTrouble(text) {
  setText(byId("trouble"), text);
  byId("trouble").hidden = text === "";
}

/**
 * Stop where the device has taken the sound away, at the place where that was.
 * @param {Page} page
 */
export function lookForSound(page) {
  if (!page.mixer || !page.player?.isPlaying || page.mixer.context.state === "running") return;
  page.stop();
  showTrouble(TAKEN);
}

/**
 * Let two open pages not play at once, where the browser lets them know of each other.
 * @param {Page} page
 * @returns {() => void} tells the others that this one plays
 */
export function oneAtATime(page) {
  if (!("BroadcastChannel" in window)) return () => undefined;
  const channel = new BroadcastChannel(CHANNEL);
  channel.addEventListener("message", () => {
    if (!page.player?.isPlaying) return;
    page.stop();
    page.say("Paused: another page plays.");
  });
  return () => channel.postMessage("plays");
}
