// The arithmetic of bar lines in a record, and a sound stretched, under node's own runner.

import assert from "node:assert/strict";
import { test } from "node:test";

import { carried, dragged, evenMap, songInRecord, tappedMap } from "../../groove/page/recordmap.js";
import { Stretch } from "../../groove/page/stretch.js";

const CHART = [0, 2, 4, 6, 8];
const RATE = 44100;

test("a point lies as far between two lines as in the chart, and beyond them at the same tempo", () => {
  const lines = [10, 13, 15, 17, 20];
  assert.equal(carried(CHART, lines, 1), 11.5);
  assert.equal(carried(CHART, lines, 2), 13);
  assert.equal(carried(CHART, lines, 9), 21.5);
  assert.equal(carried(CHART, lines, -2), 7);
  for (let position = 0; position <= 8; position += 0.25) {
    assert.ok(Math.abs(carried(lines, CHART, carried(CHART, lines, position)) - position) < 1e-9);
  }
});

test("a line that is moved takes its neighbours along, up to the next sure ones", () => {
  const map = { lines: [0, 2, 4, 6, 8, 10, 12], sure: [true, false, false, false, true, false, false] };
  const { lines, sure } = dragged(map, 2, 4.4);
  assert.deepEqual(lines.map((line) => Math.round(1e6 * line) / 1e6), [0, 2.2, 4.4, 6.2, 8, 10, 12]);
  assert.deepEqual(sure, [true, false, true, false, true, false, false]);
  // Past the last sure one all follow by as much.
  assert.deepEqual(dragged(map, 5, 9.5).lines, [0, 2, 4, 6, 8, 9.5, 11.5]);
  assert.deepEqual(dragged(evenMap(CHART, 0), 0, 3).lines, [3, 5, 7, 9, 11]);
  assert.equal(map.lines[2], 4);
});

test("a line stays between the sure ones, however far it is dragged", () => {
  const map = { lines: [0, 2, 4, 6, 8], sure: [true, true, false, true, true] };
  for (const to of [-9, 0, 2, 6, 99]) {
    const { lines } = dragged(map, 2, to);
    lines.forEach((line, index) => assert.ok(index === 0 || line > lines[index - 1]));
    assert.deepEqual([lines[1], lines[3]], [2, 6]);
  }
});

test("taps are the bar lines; the rest goes on at their tempo", () => {
  const { lines, sure } = tappedMap(CHART, 1, [12, 14.5, 17]);
  assert.deepEqual(lines, [9.5, 12, 14.5, 17, 19.5]);
  assert.deepEqual(sure, [false, true, true, true, false]);
  assert.deepEqual(tappedMap(CHART, 0, [1, 4, 5, 6, 7, 99]).lines, [1, 4, 5, 6, 7]);
});

test("the song stands where the record has it", () => {
  const bars = [0, 2].map((start) => ({ start, end: start + 2, beats: [start, start + 1], section: 0, number: 1, pass: 1, firstBeat: 1 }));
  const note = { part: "bass", grid: 3, onset: 3.1, end: 3.5, pitch: 40, velocity: 90, rings: false, index: 0 };
  const song = songInRecord({ notes: [note], bars, length: 4, clicks: {} }, [0, 2, 4], [1, 2, 6], 30);
  assert.deepEqual([song.bars[1].start, song.bars[1].end, song.bars[1].beats], [2, 6, [2, 4]]);
  assert.deepEqual([song.notes[0].grid, song.notes[0].index, song.length], [4, 0, 30]);
});

/** @param {(time: number) => number} wave */
function stretched(wave, share, seconds = 4) {
  const samples = Float32Array.from({ length: 6 * RATE }, (_, index) => wave(index / RATE));
  const stretch = new Stretch({ length: samples.length, sampleRate: RATE, numberOfChannels: 1, getChannelData: () => samples });
  const run = stretch.from(1, share);
  const out = new Float32Array((seconds + 1) * RATE);
  for (let at = 0; at < seconds * RATE; at += Math.round(run.pieceSec * RATE)) run.next()[0].forEach((value, index) => (out[at + index] += value));
  return out.subarray(0, seconds * RATE);
}

for (const share of [0.4, 0.5, 0.75, 1.3]) {
  test(`a low E keeps its pitch and its level at ${share}`, () => {
    // 41.2 Hz: equal temperament from A = 440 Hz.
    const out = stretched((time) => 0.5 * Math.sin(2 * Math.PI * 41.2034 * time), share, 3);
    const rises = [];
    for (let at = 1; at < out.length; at += 1) if (out[at - 1] < 0 && out[at] >= 0) rises.push(at / RATE);
    const hertz = (rises.length - 1) / (rises[rises.length - 1] - rises[0]);
    assert.ok(Math.abs(1200 * Math.log2(hertz / 41.2034)) < 3, `${hertz} Hz`);
    const turn = Math.round(RATE / 41.2034);
    for (let start = turn; start < out.length - 5 * turn; start += 4410) {
      const square = out.subarray(start, start + 4 * turn).reduce((sum, value) => sum + value ** 2, 0) / (4 * turn);
      assert.ok(Math.abs(Math.sqrt(2 * square) - 0.5) < 0.01, `${Math.sqrt(2 * square)} at ${start / RATE}`);
    }
  });
}

test("what is beyond the ends of the sound is silent", () => {
  const samples = new Float32Array(RATE).fill(0.5);
  const stretch = new Stretch({ length: RATE, sampleRate: RATE, numberOfChannels: 1, getChannelData: () => samples });
  const run = stretch.from(0.9, 0.5);
  const pieces = Array.from({ length: 4 }, () => run.next()[0]);
  assert.ok(pieces.every((piece) => piece.every(Number.isFinite)));
  assert.ok(pieces[3].every((value) => value === 0));
});
