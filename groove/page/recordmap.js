// Where each bar of the chart stands in a record: arithmetic alone, no sound and no document.
//
// The chart's bar lines are positions; those of the record are in seconds of the file.  Both have one
// more than there are bars, the end of the last.  Between two lines the tempo is even.

import { lastAtOrBefore } from "./timing.js";

/** @typedef {import("./player.js").Song} Song */
/** @typedef {import("./timing.js").Bar} Bar */
/** @typedef {{lines: number[], sure: boolean[]}} BarMap lines that are sure stay where they are when others are moved */

const LEAST_BAR_SEC = 0.1;
const TEMPO_TAPS = 8;

/**
 * The bar lines of the chart.
 * @param {Bar[]} bars
 */
export function linesOf(bars) {
  return [...bars.map(({ start }) => start), bars[bars.length - 1].end];
}

/**
 * The point of one row of rising lines that a point of another one stands for; beyond the ends the
 * tempo of the outermost bar goes on.
 * @param {number[]} from
 * @param {number[]} to
 * @param {number} point
 */
export function carried(from, to, point) {
  const index = Math.min(from.length - 2, Math.max(0, lastAtOrBefore(from, point, (line) => line)));
  return to[index] + ((point - from[index]) * (to[index + 1] - to[index])) / (from[index + 1] - from[index]);
}

/**
 * Bar lines at the chart's own tempo from a second on, none of them sure.
 * @param {number[]} chart
 * @param {number} first
 * @returns {BarMap}
 */
export function evenMap(chart, first) {
  return { lines: chart.map((line) => first + line - chart[0]), sure: chart.map(() => false) };
}

/**
 * Bar lines of which some were tapped, one after another: those are sure; the rest goes on at the
 * tempo of the taps next to it.
 * @param {number[]} chart
 * @param {number} first the bar line of the first tap
 * @param {number[]} taps rising, in seconds of the record
 * @returns {BarMap}
 */
export function tappedMap(chart, first, taps) {
  const known = taps.slice(0, chart.length - first);
  const last = first + known.length - 1;
  const tempo = (/** @type {number} */ from, /** @type {number} */ to) => (to > from ? (known[to - first] - known[from - first]) / (chart[to] - chart[from]) : 1);
  const before = tempo(first, Math.min(last, first + TEMPO_TAPS));
  const after = tempo(Math.max(first, last - TEMPO_TAPS), last);
  const lines = chart.map((line, index) => {
    if (index < first) return known[0] - (chart[first] - line) * before;
    return index > last ? known[known.length - 1] + (line - chart[last]) * after : known[index - first];
  });
  return { lines, sure: lines.map((_, index) => index >= first && index <= last) };
}

/**
 * A bar line moved to another second: those up to the next sure ones follow, the nearer the more,
 * and all on a side that has no sure one.  It is sure from now on.
 * @param {BarMap} map
 * @param {number} moved its index
 * @param {number} sec
 * @returns {BarMap}
 */
export function dragged({ lines, sure }, moved, sec) {
  const left = sure.lastIndexOf(true, moved - 1);
  const before = moved > 0 ? left : -1;
  const after = sure.indexOf(true, moved + 1);
  const least = before < 0 ? -Infinity : lines[before] + (moved - before) * LEAST_BAR_SEC;
  const most = after < 0 ? Infinity : lines[after] - (after - moved) * LEAST_BAR_SEC;
  const to = Math.max(least, Math.min(most, sec));
  const at = lines[moved];
  const follow = (/** @type {number} */ line, /** @type {number} */ held) => (held < 0 ? line + to - at : lines[held] + ((line - lines[held]) * (to - lines[held])) / (at - lines[held]));
  return {
    lines: lines.map((line, index) => {
      if (index < moved) return index <= before ? line : follow(line, before);
      return after >= 0 && index >= after ? line : follow(line, after);
    }),
    sure: sure.map((each, index) => each || index === moved),
  };
}

/**
 * The song in seconds of the record: what is played in it stands where the record has it.
 * @param {Song} song
 * @param {number[]} chart
 * @param {number[]} lines
 * @param {number} length of the record, in seconds
 * @returns {Song}
 */
export function songInRecord(song, chart, lines, length) {
  const sec = (/** @type {number} */ position) => carried(chart, lines, position);
  return {
    notes: song.notes.map((note) => ({ ...note, grid: sec(note.grid), onset: sec(note.onset), end: sec(note.end) })),
    bars: song.bars.map((bar, index) => ({ ...bar, start: lines[index], end: lines[index + 1], beats: bar.beats.map(sec) })),
    length: Math.max(length, lines[lines.length - 1]),
    clicks: song.clicks,
  };
}

/**
 * Whether lines can be bar lines of a chart: as many, and rising.
 * @param {unknown} lines
 * @param {number} count
 * @returns {lines is number[]}
 */
export function areLines(lines, count) {
  if (!Array.isArray(lines) || lines.length !== count) return false;
  return lines.every((line, index) => Number.isFinite(line) && (index === 0 || line > lines[index - 1]));
}
