// The key that sounds: nothing on the page stays in another, unless the written part is asked for.

import { byId, setText } from "./dom.js";
import { MOST_SEMITONES, signed } from "./controls.js";

/** @typedef {import("./page.js").Page} Page */

/** @param {Page} page */
export function showKey(page) {
  const { semitones, showsWritten, lead, neck, shown, data } = page;
  const keyName = (/** @type {number} */ by) => data.key_names[String(by)];
  const [written, sounding] = [keyName(0), `${keyName(semitones)} (${signed(semitones)})`];
  lead.transpose = semitones;
  neck.transpose(semitones);
  setText(byId("key-fact"), semitones ? `sounding in ${sounding}` : data.key_fact);
  setText(byId("key-says"), showsWritten ? `Written in ${written}, sounding in ${sounding}` : `Sounding in ${sounding}${lowWords(page)}`);
  setText(byId("written"), showsWritten ? `Show the tab in ${keyName(semitones)}` : `Show the written part (in ${written})`);
  byId("key-row").hidden = semitones === 0;
  const tab = semitones && !showsWritten ? { places: neck.places, names: shown.names[String(semitones)], semitones } : null;
  for (const sheet of Object.values(page.sheets)) if (sheet.moved || tab) sheet.move(tab);
  showCard(page.cards[semitones + MOST_SEMITONES]);
}

/** @param {Page} page */
function lowWords({ neck }) {
  return neck.places.includes(null) ? ". In brackets: below this neck, so an octave higher" : "";
}

/** @param {string} card */
function showCard(card) {
  const parsed = new DOMParser().parseFromString(card, "text/html");
  byId("card-page").replaceChildren(...parsed.body.children);
}
