// The tempo that is heard, or would be: that of the ladder, and where it moves that of the place.

import { byId, input, setText } from "./dom.js";
import { barAt } from "./shown.js";
import { lastAtOrBefore } from "./timing.js";

/** @typedef {import("./page.js").Page} Page */

let [shownBpm, shownPercent] = [0, 0];

/**
 * @param {Page} page
 * @param {number} share of the song's own tempo
 */
export function showTempo({ data, position, shown, sources }, share) {
  const { clock } = shown;
  const here = Math.max(0, lastAtOrBefore(clock, position + 1e-6, (change) => change.sec));
  const tempo = sources.tempoOf(barAt(shown.bars, position));
  const bpm = Math.round((data.beat_bpm * share * tempo * clock[0].perTick) / clock[here].perTick);
  const percent = Math.round(share * 100);
  const told = `${data.beat_symbol} = ${bpm}, ${percent}%`;
  if (byId("tempo-shown").textContent === told) return;
  // A tempo that moves with the place is seen; told at every step it would flood.
  byId("tempo-shown").setAttribute("aria-live", bpm !== shownBpm && percent === shownPercent ? "off" : "polite");
  [shownBpm, shownPercent] = [bpm, percent];
  setText(byId("tempo-shown"), told);
  if (document.activeElement !== byId("share")) input("share").value = String(percent);
  if (document.activeElement !== byId("bpm")) input("bpm").value = String(Math.round(sources.bpm * share));
}
