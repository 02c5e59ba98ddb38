// What a page remembers on this device: the settings of its controls, under the name of its song.

import { input } from "./dom.js";

/** @typedef {Record<string, string | boolean>} Kept */

/**
 * @param {string} name
 * @param {readonly string[]} ids of the controls
 * @param {Kept} more what no control holds
 */
export function remember(name, ids, more) {
  /** @type {Kept} */
  const kept = { ...more };
  for (const id of ids) kept[id] = input(id).type === "checkbox" ? input(id).checked : input(id).value;
  try {
    localStorage.setItem(name, JSON.stringify(kept));
  } catch {
    // A private window keeps nothing; the page works without.
  }
}

/**
 * Set the controls as they were left, and return what else was kept.
 * @param {string} name
 * @param {readonly string[]} ids
 * @returns {Kept | null}
 */
export function recall(name, ids) {
  let kept = null;
  try {
    kept = JSON.parse(localStorage.getItem(name) ?? "null");
  } catch {
    kept = null;
  }
  if (!kept || typeof kept !== "object") return null;
  for (const id of ids) {
    const value = kept[id];
    if (typeof value === "boolean") input(id).checked = value;
    else if (typeof value === "string") input(id).value = value;
  }
  return kept;
}

/** @param {string} name */
export function forget(name) {
  try {
    localStorage.removeItem(name);
  } catch {
    // Nothing was kept.
  }
}

/**
 * The first and the last bar that were looped, null where none were.
 * @param {string} text as in "4-7", indices
 * @param {number} count of the song's bars
 * @returns {[number, number] | null}
 */
export function keptLoop(text, count) {
  const found = /^(\d+)-(\d+)$/.exec(text);
  if (!found) return null;
  const [first, last] = [Number(found[1]), Number(found[2])];
  return first <= last && last < count ? [first, last] : null;
}
