// The log on this device: of every bar the minutes that it was played, the last clean tempo and when.
//
// A bar is known by its section and its number in it, so that a changed chord loses nothing.

import { placeWords } from "./words.js";

/** @typedef {import("./shown.js").Shown} Shown */
/** @typedef {{seconds: number, clean?: number, when?: string}} BarLog clean is a share of the song's own tempo */
/** @typedef {{format: number, seconds: number, last: string, bars: Record<string, BarLog>, saved?: string}} Log saved is when, of a log that a file brought */

const MINUTE_SEC = 60;

/** @returns {Log} */
export function emptyLog() {
  return { format: 1, seconds: 0, last: "", bars: {} };
}

/**
 * @param {Shown} shown
 * @param {number} bar
 */
export function logName({ bars, sections }, bar) {
  const { section, pass } = bars[bar];
  return `${sections[section].label} | ${bar - sections[section].first + 1}${pass > 1 ? ` | ${pass}` : ""}`;
}

/**
 * The bar of a name, -1 where the song has it no more.
 * @param {Shown} shown
 * @param {string} name
 */
export function barNamed(shown, name) {
  return shown.bars.findIndex((_, bar) => logName(shown, bar) === name);
}

/**
 * @param {Log} log
 * @param {string} name of the bar
 */
function entry(log, name) {
  return (log.bars[name] ??= { seconds: 0 });
}

/**
 * A bar has been played for a while.
 * @param {Log} log
 * @param {string} name
 * @param {number} seconds
 */
export function logPlayed(log, name, seconds) {
  log.seconds += seconds;
  log.last = today();
  entry(log, name).seconds += seconds;
}

/**
 * A bar was clean at a tempo; what clean means is told where it is judged.
 * @param {Log} log
 * @param {string} name
 * @param {number} share
 */
export function logClean(log, name, share) {
  Object.assign(entry(log, name), { clean: share, when: today() });
}

/**
 * The log bar by bar, in the order of the song.
 * @param {Shown} shown
 * @param {Log} log
 */
export function barLogs(shown, log) {
  return shown.bars.flatMap((_, bar) => {
    const found = log.bars[logName(shown, bar)];
    if (!found) return [];
    const clean = found.clean ? `, clean at ${Math.round(100 * found.clean)}% on ${found.when ?? log.last}` : "";
    return [`${placeWords(shown, bar)}: ${(found.seconds / MINUTE_SEC).toFixed(1)} minutes${clean}`];
  });
}

function today() {
  return new Date().toISOString().slice(0, 10);
}

/**
 * The log in one line.
 * @param {Log} log
 */
export function logWords(log) {
  const minutes = Math.round(log.seconds / MINUTE_SEC);
  if (!log.last) return "Nothing has been played here yet.";
  const clean = Object.values(log.bars).filter((bar) => bar.clean).length;
  const words = clean ? `, ${clean} ${clean === 1 ? "bar" : "bars"} with a clean tempo` : "";
  return `${minutes} ${minutes === 1 ? "minute" : "minutes"} of play, the last on ${log.last}${words}.`;
}
