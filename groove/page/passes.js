// What is due in a pass, on the audio clock.

import { spanEnd, timeIn } from "./timing.js";

/** @typedef {import("./pairing.js").Due} Due */
/** @typedef {import("./shown.js").BassNote} BassNote */
/** @typedef {import("./timing.js").Span} Span */
/** @typedef {import("./timing.js").Bar} Bar */

const TOGETHER_SEC = 0.008;
const SLOTS_A_BEAT = 4;
const NEAR_SEC = 0.001;

/**
 * The notes of the part, as they are played by the page: swing and the feel's own lateness included.
 * Notes that are struck together are one, the lowest.
 * @param {Span[]} spans of one pass
 * @param {BassNote[]} bass
 * @param {number} semitones
 * @param {number} until the time at which it ended
 * @param {(grid: number) => number} barOf
 * @returns {Due[]}
 */
export function duesOf(spans, bass, semitones, until, barOf) {
  /** @type {Due[]} */
  const dues = [];
  for (const span of spans) {
    for (const { part, grid, onset, index } of span.notes) {
      const time = timeIn(span, onset);
      // What is tied over from before the loop is not struck by the player.
      if (part !== "bass" || grid < span.start - NEAR_SEC || onset < span.from - NEAR_SEC || onset >= span.to || time >= until) continue;
      dues.push({ note: index, time, pitch: bass[index].pitch + semitones, ghost: bass[index].ghost, slurred: bass[index].slurred, bar: barOf(grid) });
    }
  }
  dues.sort((a, b) => a.time - b.time);
  return dues.filter((due, index) => index === 0 || due.time - dues[index - 1].time >= TOGETHER_SEC);
}

/**
 * The grid, for notes of the player's own: four places a beat, swung as the band swings there.
 * @param {Span[]} spans of one pass
 * @param {Bar[]} bars
 * @param {{grid: number, onset: number}[]} notes of the band
 * @param {number} until
 * @returns {Due[]}
 */
export function gridDues(spans, bars, notes, until) {
  const shifts = new Map(notes.map(({ grid, onset }) => [Math.round(grid / NEAR_SEC), onset - grid]));
  /** @type {Due[]} */
  const dues = [];
  for (const span of spans) {
    bars.forEach(({ beats, end }, bar) => {
      beats.forEach((beat, index) => {
        const length = (beats[index + 1] ?? end) - beat;
        for (let slot = 0; slot < SLOTS_A_BEAT; slot += 1) {
          const grid = beat + (slot * length) / SLOTS_A_BEAT;
          const position = grid + (shifts.get(Math.round(grid / NEAR_SEC)) ?? 0);
          const time = timeIn(span, position);
          if (grid < span.from - NEAR_SEC || grid >= span.to - NEAR_SEC || time >= Math.min(until, spanEnd(span))) continue;
          dues.push({ note: -1 - dues.length, time, pitch: NaN, ghost: false, slurred: false, bar });
        }
      });
    });
  }
  return dues;
}
