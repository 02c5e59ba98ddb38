// The key that sounds: nothing on the page stays in another, unless the written part is asked for.

import { byId, setText } from "./dom.js";
import { signed } from "./controls.js";

/** @typedef {import("./page.js").Page} Page */

/** @param {Page} page */
export function showKey(page) {
  const { semitones, lead, ahead, neck, sheet, shown, data } = page;
  const sounding = `${data.key_names[String(semitones)]} (${signed(semitones)})`;
  lead.transpose = semitones;
  ahead.transpose = semitones;
  neck.transpose(semitones);
  setText(byId("key-says"), semitones ? `Sounding in ${sounding}` : "");
  byId("key-opens").classList.toggle("set", semitones !== 0);
  sheet.setTab({ places: neck.places, names: shown.names[String(semitones)], semitones }, page.view === "tab" || semitones !== 0);
  showCard(page.cards[data.moves.indexOf(semitones)]);
}

/** @param {string} card */
function showCard(card) {
  const parsed = new DOMParser().parseFromString(card, "text/html");
  byId("card-page").replaceChildren(...parsed.body.children);
  // Tab wider than a phone is moved by the arrow keys too, and for that it has to be come to.
  for (const tab of byId("card-page").querySelectorAll("pre")) {
    for (const [name, value] of [["tabindex", "0"], ["role", "group"], ["aria-label", "Tab"]]) tab.setAttribute(name, value);
  }
}
