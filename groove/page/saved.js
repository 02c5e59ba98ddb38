// The same one file with the log inside, to send to a teacher; and such a file opened.

import { make } from "./dom.js";

/** @typedef {import("./log.js").Log} Log */

const LOG_ID = "log";
/** In two pieces: whole, it would end the block that this stands in. */
const END = `<${"/"}script>`;
/** The page as it came, before anything on it is changed. */
const SOURCE = document.documentElement.outerHTML;

/**
 * The log that a saved file brought with it.
 * @returns {Log | null}
 */
export function broughtLog() {
  const block = document.getElementById(LOG_ID);
  return block ? JSON.parse(block.textContent ?? "null") : null;
}

/** @param {Log} log */
function withLog(log) {
  // A record is the player's own: it stays out of what is sent.
  const plain = [LOG_ID, "record"].reduce((text, id) => text.replace(new RegExp(`<script type="[a-z/-]*" id="${id}">[^<]*${END}`), ""), SOURCE);
  const text = JSON.stringify({ ...log, saved: new Date().toISOString() }).replaceAll("<", "\\u003c");
  const block = `<script type="application/json" id="${LOG_ID}">${text}${END}`;
  const at = plain.indexOf("<body") + plain.slice(plain.indexOf("<body")).indexOf(">") + 1;
  return `<!DOCTYPE html>\n${plain.slice(0, at)}${block}${plain.slice(at)}`;
}

/**
 * @param {string} title
 * @param {Log} log
 */
export function saveWithLog(title, log) {
  const address = URL.createObjectURL(new Blob([withLog(log)], { type: "text/html" }));
  make("a", { href: address, download: `${title.replace(/[^\p{L}\p{N} -]/gu, "")}, with my log.html` }).click();
  setTimeout(() => URL.revokeObjectURL(address), 60000);
}
