// Run by node's own runner: node --test tests/page/timing.test.js
// Expected values are arithmetic done by hand, shown beside each check.
import assert from "node:assert/strict";
import test from "node:test";
import { readFileSync } from "node:fs";

const source = readFileSync(new URL("../../groove/page/timing.js", import.meta.url), "utf8");
const timing = await import(`data:text/javascript;base64,${Buffer.from(source).toString("base64")}`);

const near = (found, expected) => assert.ok(Math.abs(found - expected) < 1e-9, `${found} is not ${expected}`);
const note = (grid, onset, end, rings = false) => ({ part: "bass", grid, onset, end, pitch: 40, velocity: 90, rings, index: 0 });

test("a tick becomes a position over a change of tempo", () => {
  // 120 a minute for two quarters (1 s), then 60: the third quarter lasts a second.
  const clock = timing.clockOf([[0, 500000], [1920, 1000000]]);
  near(timing.tickToSec(clock, 0), 0);
  near(timing.tickToSec(clock, 960), 0.5);
  near(timing.tickToSec(clock, 1920), 1);
  near(timing.tickToSec(clock, 2880), 2);
});

test("the share stays between 40 and 160 percent", () => {
  assert.equal(timing.clampShare(0.1), 0.4);
  assert.equal(timing.clampShare(3), 1.6);
  assert.equal(timing.clampShare(0.75), 0.75);
});

test("taps give beats a minute; a pause begins anew", () => {
  assert.equal(timing.tappedBpm([1000]), 0);
  near(timing.tappedBpm([0, 500, 1000, 1500]), 120);
  near(timing.tappedBpm([0, 500, 9000, 9750]), 80);
});

test("bars are typed as numbers with a dash", () => {
  const bars = [0, 1, 2, 3, 4].map((number) => ({ number, section: 0 }));
  assert.deepEqual(timing.parseBars("2-4", bars, 0), [2, 4]);
  assert.deepEqual(timing.parseBars(" 3 ", bars, 0), [3, 3]);
  for (const wrong of ["", "x", "4-2", "5", "1-9", "-1"]) assert.equal(timing.parseBars(wrong, bars, 0), null);
});

test("bars that come more than once are those where the page stands, else the first", () => {
  // Verse (1 2 | 1 3, an ending each), chorus (4 5), verse, chorus: written numbers as played.
  const played = [[1, 0], [2, 0], [1, 0], [3, 0], [4, 1], [5, 1], [1, 2], [2, 2], [1, 2], [3, 2], [4, 3], [5, 3]];
  const bars = played.map(([number, section]) => ({ number, section }));
  assert.deepEqual(timing.parseBars("4-5", bars, 0), [4, 5]);
  assert.deepEqual(timing.parseBars("4-5", bars, 11), [10, 11]);
  assert.deepEqual(timing.parseBars("1-2", bars, 7), [6, 7]);
  // The second ending is two bars after the second 1; the first 1 has it after four.
  assert.deepEqual(timing.parseBars("1-3", bars, 0), [0, 3]);
  assert.deepEqual(timing.parseBars("3-5", bars, 0), [3, 5]);
  assert.deepEqual(timing.parseBars("3", bars, 10), [3, 3]);
});

test("a ladder of 60, 65, 70 with two passes a step stops at its top", () => {
  const ladder = { start: 0.6, step: 0.05, top: 0.7, passes: 2 };
  const shares = [1, 2, 3, 4, 5, 6, 7, 8].map((pass) => timing.ladderShare(ladder, pass));
  assert.deepEqual(shares, [0.6, 0.6, 0.65, 0.65, 0.7, 0.7, 0.7, 0.7]);
});

test("the click is silent in the last bars of every few", () => {
  const heard = [0, 1, 2, 3, 4, 5, 6, 7].map((bar) => timing.clickSounds(bar, 1, 4));
  assert.deepEqual(heard, [true, true, true, false, true, true, true, false]);
  assert.ok(timing.clickSounds(3, 0, 4));
});

test("the bass takes turns with the player", () => {
  assert.deepEqual([1, 2, 3].map((pass) => timing.bassSounds(true, pass)), [true, false, true]);
  assert.ok(timing.bassSounds(false, 2));
});

test("a loop takes the notes that stand between its bar lines", () => {
  const notes = [
    note(0.0, 0.0, 0.5), // before
    note(0.9, 0.9, 1.5), // tied over: struck at the start
    note(1.0, 0.98, 1.2), // early: waits for the start
    note(1.9, 1.92, 2.4), // rings past the end: stops there
    note(2.0, 1.99, 2.2), // of the next bar
  ];
  const found = timing.notesBetween(notes, 1, 2).map(({ onset, end }) => [onset, end]);
  assert.deepEqual(found, [[1, 1.5], [1, 1.2], [1.92, 2]]);
  assert.equal(timing.notesBetween([note(0.9, 0.9, 1.5, true)], 1, 2).length, 0);
});

test("a time has one place, at every tempo and over a seam", () => {
  const span = (time, from, to, share) => ({ time, start: from, from, to, share, pass: 1, counts: false, barsBefore: 0, notes: [], next: 0 });
  // Two seconds of the song at half tempo last four.
  const spans = [span(10, 4, 6, 0.5), span(14, 4, 6, 1)];
  near(timing.spanEnd(spans[0]), 14);
  near(timing.timeIn(spans[0], 5), 12);
  near(timing.momentAt(spans, 12).position, 5);
  near(timing.momentAt(spans, 14.5).position, 4.5);
  near(timing.momentAt(spans, 9).position, 4);
  near(timing.momentAt(spans, 99).position, 6);
  assert.equal(timing.momentAt([], 1), null);
});
