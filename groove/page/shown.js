// What the page shows and plays, made of its data: positions in seconds instead of ticks.

import { clockOf, lastAtOrBefore, tickToSec } from "./timing.js";

/** @typedef {import("./timing.js").Bar} Bar */
/** @typedef {import("./timing.js").Note} Note */
/** @typedef {import("./player.js").Song} Song */
/** @typedef {{grid: number, onset: number, end: number, pitch: number, string: number, fret: number, finger: number, ghost: boolean, slurred: boolean}} BassNote */
/** @typedef {{label: string, first: number, bars: number}} Section */
/** @typedef {{bars: Bar[], sections: Section[], chords: number[][], names: Record<string, string[]>, bass: BassNote[], strings: string[], open: number[], length: number, clock: import("./timing.js").Change[]}} Shown */

const CLICK_SEC = 0.1;

/**
 * The bass note that sounds at a position, and the one that follows, in a loop the first one of the
 * next pass; -1 for none.
 * @param {Shown} shown
 * @param {number} position
 * @param {[number, number] | null} loop first and last bar
 */
export function bassAt({ bass, bars }, position, loop) {
  const last = lastAtOrBefore(bass, position, (note) => note.onset);
  const sounds = last >= 0 && position < bass[last].end ? last : -1;
  let follows = last + 1 < bass.length ? last + 1 : -1;
  if (loop && (follows < 0 || bass[follows].grid >= bars[loop[1]].end - 1e-6)) {
    follows = bass.findIndex((note) => note.grid >= bars[loop[0]].start - 1e-6);
  }
  return { sounds, follows };
}

/**
 * The bar of a position.
 * @param {Bar[]} bars
 * @param {number} position
 */
export function barAt(bars, position) {
  return Math.max(0, lastAtOrBefore(bars, position + 1e-6, (bar) => bar.start));
}

/**
 * What is shown, made of the page's data.
 * @param {any} data
 * @returns {Shown}
 */
export function shownOf(data) {
  const clock = clockOf(data.tempo);
  const sec = (/** @type {number} */ tick) => tickToSec(clock, tick);
  const length = sec(data.end_tick);
  return {
    length,
    clock,
    strings: data.strings.map((/** @type {any[]} */ row) => row[0]),
    open: data.strings.map((/** @type {any[]} */ row) => row[1]),
    names: data.chord_names,
    sections: data.sections.map((/** @type {any[]} */ row) => ({ label: row[0], first: row[1], bars: row[2] })),
    chords: data.chords.map((/** @type {number[]} */ row) => [sec(row[0]), row[1]]),
    bars: data.bars.map((/** @type {number[]} */ row) => {
      const [tick, ticks, section, number, pass, pulse] = row;
      const beats = [];
      // A pickup has the last beats of a bar, so that the next bar begins on one.
      for (let at = tick + (ticks % pulse); at < tick + ticks; at += pulse) beats.push(sec(at));
      const before = number === 0 && data.bars.length > 1 ? Math.ceil(data.bars[1][1] / pulse) - beats.length : 0;
      return { start: sec(tick), end: sec(tick + ticks), section, number, pass, beats, firstBeat: 1 + Math.max(0, before) };
    }),
    bass: data.bass.map((/** @type {number[]} */ row) => ({
      grid: sec(row[0]),
      onset: sec(row[0] + row[1]),
      end: sec(row[0] + row[1] + row[2]),
      pitch: row[3],
      string: row[5],
      fret: row[6],
      finger: row[7],
      ghost: row[8] === 1,
      slurred: row[8] === 2,
    })),
  };
}

/**
 * What is played, made of the page's data.
 * @param {any} data
 * @param {Shown} shown
 * @returns {Song}
 */
export function songOf(data, shown) {
  const clock = clockOf(data.tempo);
  const sec = (/** @type {number} */ tick) => tickToSec(clock, tick);
  /** @type {Note[]} */
  const notes = [];
  for (const part of ["bass", "drums", "keys"]) {
    data[part].forEach((/** @type {number[]} */ row, /** @type {number} */ index) => {
      const [grid, shift, length, pitch, velocity] = row;
      const onset = grid + shift;
      notes.push({ part, grid: sec(grid), onset: sec(onset), end: sec(onset + length), pitch, velocity, rings: length === 0, index });
    });
  }
  shown.bars.forEach((bar) => {
    bar.beats.forEach((beat, index) => {
      const [pitch, velocity] = index === 0 && bar.number > 0 ? data.click.accent : data.click.other;
      notes.push({ part: "click", grid: beat, onset: beat, end: beat + CLICK_SEC, pitch, velocity, rings: true, index });
    });
  });
  return { notes, bars: shown.bars, length: shown.length, clicks: data.click };
}
