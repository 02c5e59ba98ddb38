// The part as tab alone, in the key that sounds: drawn by the page, since the sheet is engraved in
// the written key.  Numbers stand where their beats are; beats are counted under the strings.

import { draw } from "./dom.js";
import { lastAtOrBefore } from "./timing.js";

/** @typedef {import("./shown.js").Shown} Shown */
/** @typedef {import("./neck.js").Place} Place */

const [LEFT, RIGHT, PAD] = [28, 6, 13];
const [CHORDS_Y, TOP, STRING, UNDER] = [18, 36, 15, 20];
const [NUMBER_SIZE, CHORD_SIZE, BEAT_SIZE] = [13, 15, 10];
const OCTAVE = 12;

/** @param {number} strings */
export function tabHeight(strings) {
  return TOP + STRING * (strings - 1) + UNDER;
}

/**
 * A line of tab: the drawing, and its row as of an engraved line.
 * @param {Shown} shown
 * @param {(Place | null)[]} places
 * @param {string[]} names of the chords
 * @param {number[]} row first bar and count of bars
 * @param {number} width
 */
export function tabLine(shown, places, names, [first, count], width) {
  const { strings } = shown;
  const bars = shown.bars.slice(first, first + count);
  const bottom = TOP + STRING * (strings.length - 1);
  const height = tabHeight(strings.length);
  const group = draw("g", { transform: "translate(0, 0)" });
  const [start, end] = [bars[0].start, bars[count - 1].end];
  const scale = (width - LEFT - RIGHT) / (end - start);
  const line = (/** @type {number} */ position) => LEFT + (position - start) * scale;
  const edges = [...bars.map((bar) => line(bar.start)), line(end)];
  const at = (/** @type {number} */ position) => {
    const bar = bars[Math.max(0, lastAtOrBefore(bars, position + 1e-6, (each) => each.start))];
    const room = line(bar.end) - line(bar.start);
    return line(bar.start) + PAD + ((position - bar.start) / (bar.end - bar.start)) * (room - PAD);
  };
  strings.forEach((name, index) => {
    const y = TOP + STRING * index;
    group.append(stroke(LEFT, y, width - RIGHT, y));
    group.append(draw("text", { x: 13, y: y + 4, "font-size": BEAT_SIZE + 1, "text-anchor": "middle" }, name));
  });
  for (const edge of edges) group.append(stroke(edge, TOP, edge, bottom));
  for (const bar of bars) {
    bar.beats.forEach((beat, index) => {
      group.append(draw("text", { class: "beat", x: at(beat), y: height - 5, "font-size": BEAT_SIZE, "text-anchor": "middle" }, String(bar.firstBeat + index)));
    });
  }
  for (const [position, name] of shown.chords) {
    if (position < start - 1e-6 || position >= end - 1e-6) continue;
    group.append(draw("text", { x: at(position) - 4, y: CHORDS_Y, "font-size": CHORD_SIZE, "font-weight": "bold" }, names[name]));
  }
  shown.bass.forEach(({ grid }, index) => {
    if (grid >= start - 1e-6 && grid < end - 1e-6) group.append(fretNumber(shown, index, places[index], at(grid)));
  });
  const drawing = /** @type {SVGElement} */ (draw("svg", { viewBox: `0 0 ${width} ${height}` }));
  drawing.append(group);
  return { drawing, lines: edges.map((edge) => (1e4 * edge) / width) };
}

/**
 * @param {number} x1
 * @param {number} y1
 * @param {number} x2
 * @param {number} y2
 */
function stroke(x1, y1, x2, y2) {
  return draw("path", { d: `M${x1} ${y1}L${x2} ${y2}`, "stroke-width": 1 });
}

/**
 * A note below the lowest string stands an octave higher, in brackets.
 * @param {Shown} shown
 * @param {number} index
 * @param {Place | null} place
 * @param {number} x
 */
function fretNumber({ bass, open }, index, place, x) {
  const { ghost, lowest } = { ghost: bass[index].ghost, lowest: open.length };
  const string = place ? place.string : lowest;
  const text = ghost ? "x" : place ? String(place.fret) : `(${bass[index].pitch + OCTAVE - open[lowest - 1]})`;
  const group = draw("g", { "data-note": index });
  const y = TOP + STRING * (string - 1) + 0.34 * NUMBER_SIZE;
  group.append(draw("text", { class: "fret", x, y, "font-size": NUMBER_SIZE, "text-anchor": "middle" }, text));
  return group;
}
