// The part as tab alone, in the key that sounds: drawn by the page, since the sheet is engraved in
// the written key.  Numbers stand where their beats are; beats are counted under the strings.

import { makeSvg } from "./dom.js";
import { lastAtOrBefore } from "./timing.js";

/** @typedef {import("./shown.js").Shown} Shown */
/** @typedef {import("./neck.js").Place} Place */

const [LEFT, RIGHT, PAD] = [28, 6, 13];
const [CHORDS_Y, TOP, STRING, UNDER] = [18, 36, 15, 26];
const [NUMBER_SIZE, CHORD_SIZE, BEAT_SIZE] = [13, 15, 10];
const OCTAVE = 12;

/** @param {number} strings */
export function tabHeight(strings) {
  return TOP + STRING * (strings - 1) + UNDER;
}

/**
 * A line of tab: the drawing, and its row as of an engraved line.
 * @param {Shown} shown
 * @param {import("./sheet.js").Moved} moved
 * @param {number[]} row first bar and count of bars
 * @param {number} width
 */
export function tabLine(shown, { places, names, semitones }, [first, count], width) {
  const bars = shown.bars.slice(first, first + count);
  const [start, end] = [bars[0].start, bars[count - 1].end];
  const scale = (width - LEFT - RIGHT) / (end - start);
  const x = (/** @type {number} */ position) => LEFT + (position - start) * scale;
  const at = (/** @type {number} */ position) => {
    const bar = bars[Math.max(0, lastAtOrBefore(bars, position + 1e-6, (each) => each.start))];
    return x(bar.start) + PAD + ((position - bar.start) / (bar.end - bar.start)) * (x(bar.end) - x(bar.start) - PAD);
  };
  const isHere = (/** @type {number} */ position) => position >= start - 1e-6 && position < end - 1e-6;
  const edges = [...bars.map((bar) => x(bar.start)), x(end)];
  const group = makeSvg("g", { transform: "translate(0, 0)" });
  group.append(...stringLines(shown.strings, edges, width));
  for (const bar of bars) bar.beats.forEach((beat, index) => group.append(beatNumber(at(beat), bar.firstBeat + index, shown.strings.length)));
  for (const [position, name] of shown.chords) if (isHere(position)) group.append(chordName(at(position), names[name]));
  shown.bass.forEach(({ grid }, index) => {
    if (isHere(grid)) group.append(fretNumber(shown, index, places[index], semitones, at(grid)));
  });
  const drawing = /** @type {SVGElement} */ (makeSvg("svg", { viewBox: `0 0 ${width} ${tabHeight(shown.strings.length)}` }));
  drawing.append(group);
  return { drawing, lines: edges.map((edge) => (1e4 * edge) / width) };
}

/**
 * The strings with their names, and the bar lines over them.
 * @param {string[]} strings
 * @param {number[]} edges of the bars
 * @param {number} width
 */
function stringLines(strings, edges, width) {
  const bottom = TOP + STRING * (strings.length - 1);
  const lines = strings.flatMap((name, index) => {
    const y = TOP + STRING * index;
    return [stroke(LEFT, y, width - RIGHT, y), makeSvg("text", { x: 13, y: y + 4, "font-size": BEAT_SIZE + 1, "text-anchor": "middle" }, name)];
  });
  return [...lines, ...edges.map((edge) => stroke(edge, TOP, edge, bottom))];
}

/**
 * @param {number} x
 * @param {number} beat
 * @param {number} strings
 */
function beatNumber(x, beat, strings) {
  return makeSvg("text", { class: "beat", x, y: tabHeight(strings) - 5, "font-size": BEAT_SIZE, "text-anchor": "middle" }, String(beat));
}

/**
 * @param {number} x
 * @param {string} name
 */
function chordName(x, name) {
  return makeSvg("text", { x: x - 4, y: CHORDS_Y, "font-size": CHORD_SIZE, "font-weight": "bold" }, name);
}

/**
 * @param {number} x1
 * @param {number} y1
 * @param {number} x2
 * @param {number} y2
 */
function stroke(x1, y1, x2, y2) {
  return makeSvg("path", { d: `M${x1} ${y1}L${x2} ${y2}`, "stroke-width": 1 });
}

/**
 * A note below the lowest string stands an octave higher, in brackets.
 * @param {Shown} shown
 * @param {number} index
 * @param {Place | null} place
 * @param {number} semitones by which the part is moved
 * @param {number} x
 */
function fretNumber({ bass, open }, index, place, semitones, x) {
  const { ghost, lowest } = { ghost: bass[index].ghost, lowest: open.length };
  const string = place ? place.string : lowest;
  const text = ghost ? "x" : place ? String(place.fret) : `(${bass[index].pitch + semitones + OCTAVE - open[lowest - 1]})`;
  const group = makeSvg("g", { "data-note": index });
  const y = TOP + STRING * (string - 1) + 0.34 * NUMBER_SIZE;
  group.append(makeSvg("text", { class: "fret", x, y, "font-size": NUMBER_SIZE, "text-anchor": "middle" }, text));
  return group;
}
