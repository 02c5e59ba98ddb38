// What is remembered on this device: its own settings for all pages, a song's by title and section,
// and the log of the song.

import { input } from "./dom.js";
import { broughtLog } from "./saved.js";

/** @typedef {Record<string, any>} Kept */

/** What hangs on the player and the device, not on the song. */
export const DEVICE_SETTINGS = ["left-handed", "offset", "letters", "level-all", "level-bass", "level-drums", "level-keys", "level-click"];
const DEVICE = "practice device";

/**
 * Where a song is kept. A file that was sent with its log is another's: what it brought is not mixed
 * with what this device has of the same song.
 * @param {string} title
 */
export function songName(title) {
  const saved = broughtLog()?.saved;
  return `practice song ${title}${saved ? `, saved ${saved}` : ""}`;
}

/**
 * @param {string} name
 * @param {Kept} kept
 */
export function keep(name, kept) {
  try {
    localStorage.setItem(name, JSON.stringify(kept));
  } catch {
    // A private window keeps nothing; the page works without.
  }
}

/**
 * @param {string} name
 * @returns {Kept}
 */
export function keptUnder(name) {
  try {
    const kept = JSON.parse(localStorage.getItem(name) ?? "null");
    return kept && typeof kept === "object" ? kept : {};
  } catch {
    return {};
  }
}

/**
 * Keep the controls as they are, each under the device or the song.
 * @param {string} title
 * @param {readonly string[]} ids
 * @param {Kept} more what no control holds
 */
export function remember(title, ids, more) {
  const valuesOf = (/** @type {readonly string[]} */ names) =>
    Object.fromEntries(names.map((id) => [id, input(id).type === "checkbox" ? input(id).checked : input(id).value]));
  keep(DEVICE, valuesOf(DEVICE_SETTINGS));
  keep(songName(title), { ...keptUnder(songName(title)), ...valuesOf(ids.filter((id) => !DEVICE_SETTINGS.includes(id))), ...more });
}

/**
 * Set the controls as they were left, and return what else was kept of the song.
 * @param {string} title
 * @param {readonly string[]} ids
 */
export function recall(title, ids) {
  const kept = keptUnder(songName(title));
  const values = { ...kept, ...keptUnder(DEVICE) };
  for (const id of ids) {
    const value = values[id];
    if (typeof value === "boolean") input(id).checked = value;
    else if (typeof value === "string") input(id).value = value;
  }
  return kept;
}

/** @param {string} title */
export function forget(title) {
  try {
    for (const name of [DEVICE, songName(title)]) localStorage.removeItem(name);
  } catch {
    // Nothing was kept.
  }
}
