// Clock, loop and ladder of the practice page: arithmetic alone, no sound and no document.
//
// A position is in seconds of the song at its own tempo; a time is in seconds of the audio clock.
// A share is the tempo as a part of the song's own: 1 is as written.

/** @typedef {{tick: number, sec: number, perTick: number}} Change */
/** @typedef {{start: number, end: number, section: number, number: number, pass: number, beats: number[], firstBeat: number}} Bar */
/** @typedef {{part: string, grid: number, onset: number, end: number, pitch: number, velocity: number, rings: boolean, index: number}} Note */
/** @typedef {{start: number, step: number, top: number, passes: number}} Ladder */
/** @typedef {{time: number, start: number, from: number, to: number, share: number, pass: number, counts: boolean, barsBefore: number, notes: Note[], next: number}} Span */

export const SLOWEST = 0.4;
export const FASTEST = 1.6;
const TICKS_PER_QUARTER = 960;
const SHORTEST_TAIL_SEC = 0.04;
const TAPS = 6;
const LONGEST_TAP_MS = 2500;

/**
 * The tempo map with the position of each change.
 * @param {number[][]} rows tick and microseconds a quarter
 * @returns {Change[]}
 */
export function clockOf(rows) {
  /** @type {Change[]} */
  const changes = [];
  for (const [tick, microseconds] of rows) {
    const last = changes[changes.length - 1];
    const sec = last ? last.sec + (tick - last.tick) * last.perTick : 0;
    changes.push({ tick, sec, perTick: microseconds / 1e6 / TICKS_PER_QUARTER });
  }
  return changes;
}

/**
 * The position of a tick.
 * @param {Change[]} clock
 * @param {number} tick
 */
export function tickToSec(clock, tick) {
  let index = lastAtOrBefore(clock, tick, (change) => change.tick);
  if (index < 0) index = 0;
  return clock[index].sec + (tick - clock[index].tick) * clock[index].perTick;
}

/**
 * The index of the last of some rising things that is not after a value, -1 if all are.
 * @template T
 * @param {T[]} things
 * @param {number} value
 * @param {(thing: T) => number} key
 */
export function lastAtOrBefore(things, value, key) {
  let low = 0;
  let high = things.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (key(things[middle]) <= value) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

/** @param {number} share */
export function clampShare(share) {
  return Math.min(FASTEST, Math.max(SLOWEST, Math.round(share * 1000) / 1000));
}

/**
 * Beats a minute of the last taps, 0 before there are two.
 * @param {number[]} times in milliseconds, rising
 */
export function tappedBpm(times) {
  const recent = times.slice(-TAPS);
  let first = recent.length - 1;
  while (first > 0 && recent[first] - recent[first - 1] <= LONGEST_TAP_MS) first -= 1;
  const run = recent.slice(first);
  if (run.length < 2) return 0;
  return (60000 * (run.length - 1)) / (run[run.length - 1] - run[0]);
}

/**
 * The bars of the chart that "5-8" or "5" means, as indices of the first and the last as played;
 * null if it means none.  Where the song comes to them more than once, they are those around a
 * bar, else those of its section, else the first ones.
 * @param {string} text
 * @param {{number: number, section: number}[]} bars
 * @param {number} here index of the bar at which the page stands
 * @returns {[number, number] | null}
 */
export function parseBars(text, bars, here) {
  const found = /^\s*(\d{1,5})(?:\s*[-–]\s*(\d{1,5}))?\s*$/.exec(text);
  if (!found) return null;
  const [from, to] = [Number(found[1]), Number(found[2] ?? found[1])];
  if (to < from) return null;
  /** @type {[number, number][]} */
  const runs = [];
  bars.forEach(({ number }, first) => {
    const length = bars.slice(first).findIndex((bar) => bar.number === to);
    if (number === from && length >= 0) runs.push([first, first + length]);
  });
  const around = runs.find(([first, last]) => first <= here && here <= last && bars[first].section === bars[here].section);
  return around ?? runs.find(([first]) => bars[first].section === bars[here]?.section) ?? runs[0] ?? null;
}

/**
 * The tempo of a pass (from 1) on a ladder.
 * @param {Ladder} ladder
 * @param {number} pass
 */
export function ladderShare(ladder, pass) {
  const rungs = Math.floor((pass - 1) / Math.max(1, ladder.passes));
  return clampShare(Math.min(ladder.top, ladder.start + rungs * ladder.step));
}

/**
 * Whether the click sounds in a bar, the last `out` of every `of` bars being silent.
 * @param {number} bar bars played before this one
 * @param {number} out
 * @param {number} of
 */
export function clickSounds(bar, out, of) {
  return of <= 0 || bar % of < of - out;
}

/**
 * Whether the bass sounds in a pass (from 1): always, or in every other one.
 * @param {boolean} takesTurns
 * @param {number} pass
 */
export function bassSounds(takesTurns, pass) {
  return !takesTurns || pass % 2 === 1;
}

/**
 * What is played between two bar lines, by onset: a note tied over from before is struck at the
 * start, one that is early for the start waits for it, and one that rings past the end stops there.
 * @param {Note[]} notes
 * @param {number} start
 * @param {number} end
 * @returns {Note[]}
 */
export function notesBetween(notes, start, end) {
  const near = 1e-6;
  /** @type {Note[]} */
  const found = [];
  for (const note of notes) {
    const own = note.grid >= start - near && note.grid < end - near;
    const tied = note.grid < start - near && !note.rings && note.end > start + SHORTEST_TAIL_SEC;
    if (!own && !tied) continue;
    found.push({ ...note, onset: Math.max(start, note.onset), end: Math.min(end, note.end) });
  }
  return found.sort((a, b) => a.onset - b.onset);
}

/**
 * The time at which a span is over.
 * @param {Span} span
 */
export function spanEnd(span) {
  return span.time + (span.to - span.from) / span.share;
}

/**
 * The time of a position inside a span.
 * @param {Span} span
 * @param {number} position
 */
export function timeIn(span, position) {
  return span.time + (position - span.from) / span.share;
}

/**
 * The span that plays at a time, and the position, never outside the span.
 * @param {Span[]} spans
 * @param {number} time
 * @returns {{span: Span, position: number} | null}
 */
export function momentAt(spans, time) {
  if (spans.length === 0) return null;
  const span = spans[Math.max(0, lastAtOrBefore(spans, time, (each) => each.time))];
  const position = span.from + (time - span.time) * span.share;
  return { span, position: Math.min(span.to, Math.max(span.from, position)) };
}
