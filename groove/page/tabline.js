// The part as tab alone, drawn by the page: in every key that sounds, and as large as there is room.
// Numbers stand where their beats are; beats are counted under the strings.

import { makeSvg } from "./dom.js";
import { lastAtOrBefore } from "./timing.js";

/** @typedef {import("./shown.js").Shown} Shown */
/** @typedef {import("./neck.js").Place} Place */
/** @typedef {{places: Place[], names: string[], semitones: number}} Tab what the numbers are and in which key */
/** @typedef {{width: number, size: number, perLine: number}} Measures in px; a size of 1 has numbers of 13 px */

const [LEFT, RIGHT, PAD] = [28, 6, 13];
const [CHORDS_Y, TOP, STRING, UNDER] = [16, 32, 15, 22];
const [NUMBER_SIZE, CHORD_SIZE, BEAT_SIZE] = [13, 15, 10];
const [LEAST_SIZE, MOST_SIZE, MOST_BARS] = [0.75, 2.4, 4];
const STROKE_PX = 17;

/** @param {number} strings */
export function tabHeight(strings) {
  return TOP + STRING * (strings - 1) + UNDER;
}

/**
 * How large a line can be in a room, and how many bars it has then: as many as keep its strokes apart.
 * @param {Shown} shown
 * @param {number} width
 * @param {number} height
 * @returns {Measures}
 */
export function tabMeasures(shown, width, height) {
  const size = Math.min(MOST_SIZE, Math.max(LEAST_SIZE, height / tabHeight(shown.strings.length)));
  const strokes = mostStrokes(shown);
  const room = (/** @type {number} */ bars) => (width / size - LEFT - RIGHT) / bars - PAD;
  let perLine = MOST_BARS;
  while (perLine > 1 && room(perLine) < strokes * STROKE_PX) perLine >>= 1;
  const widest = width / (LEFT + RIGHT + PAD + strokes * STROKE_PX);
  return { width, size: Math.max(LEAST_SIZE, Math.min(size, perLine === 1 ? widest : size)), perLine };
}

/**
 * Into how many strokes a bar is cut by the two that follow each other closest, in the densest bar.
 * @param {Shown} shown
 */
function mostStrokes({ bars, bass }) {
  let most = 4;
  bass.forEach(({ grid }, index) => {
    const gap = index ? grid - bass[index - 1].grid : 0;
    if (gap < 1e-3) return;
    const bar = bars[Math.max(0, lastAtOrBefore(bars, grid + 1e-6, (each) => each.start))];
    most = Math.max(most, Math.min(24, (bar.end - bar.start) / gap));
  });
  return Math.round(most);
}

/**
 * First bar and count of bars of every line: a section begins one.
 * @param {Shown} shown
 * @param {number} perLine
 */
export function tabRows({ bars: all, sections }, perLine) {
  return sections.flatMap((section, index) => {
    // A pickup stands before the first bar, on its line.
    const isPickup = (/** @type {number} */ number) => number === 0 && sections.length > 1 && all[0].number === 0;
    if (isPickup(index)) return [];
    const [first, bars] = isPickup(index - 1) ? [0, section.bars + section.first] : [section.first, section.bars];
    const rows = [];
    for (let bar = 0; bar < bars; bar += perLine) rows.push([first + bar, Math.min(perLine, bars - bar)]);
    return rows;
  });
}

/**
 * A line of tab: the drawing, and its bar lines in ten-thousandths of the width.
 * @param {Shown} shown
 * @param {Tab} tab
 * @param {number[]} row first bar and count of bars
 * @param {Measures} measures
 */
export function tabLine(shown, { places, names }, [first, count], measures) {
  const width = measures.width / measures.size;
  const bars = shown.bars.slice(first, first + count);
  const [start, end] = [bars[0].start, bars[count - 1].end];
  const barWidth = (width - LEFT - RIGHT) / measures.perLine;
  const edges = Array.from({ length: count + 1 }, (_, index) => LEFT + index * barWidth);
  const at = (/** @type {number} */ position) => {
    const index = Math.max(0, lastAtOrBefore(bars, position + 1e-6, (each) => each.start));
    return edges[index] + PAD + ((position - bars[index].start) / (bars[index].end - bars[index].start)) * (barWidth - PAD);
  };
  const isHere = (/** @type {number} */ position) => position >= start - 1e-6 && position < end - 1e-6;
  const group = makeSvg("g", { transform: "translate(0, 0)" });
  group.append(...stringLines(shown.strings, edges));
  for (const bar of bars) bar.beats.forEach((beat, index) => group.append(beatNumber(at(beat), bar.firstBeat + index, shown.strings.length)));
  const chords = shown.chords.filter(([position]) => isHere(position));
  chords.forEach(([position, name], index) => {
    const next = chords[index + 1];
    group.append(chordName(at(position), names[name], (next ? at(next[0]) : edges[count]) - at(position)));
  });
  shown.bass.forEach(({ grid }, index) => {
    if (isHere(grid)) group.append(fretNumber(shown, index, places[index], at(grid)));
  });
  const drawing = /** @type {SVGElement} */ (makeSvg("svg", { viewBox: `0 0 ${width} ${tabHeight(shown.strings.length)}` }));
  drawing.append(group);
  return { drawing, lines: edges.map((edge) => (1e4 * edge) / width) };
}

/**
 * The strings with their names, and the bar lines over them.
 * @param {string[]} strings
 * @param {number[]} edges of the bars
 */
function stringLines(strings, edges) {
  const bottom = TOP + STRING * (strings.length - 1);
  const lines = strings.flatMap((name, index) => {
    const y = TOP + STRING * index;
    return [stroke(LEFT, y, edges[edges.length - 1], y), makeSvg("text", { x: 13, y: y + 4, "font-size": BEAT_SIZE + 1, "text-anchor": "middle" }, name)];
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
 * A chord's name, as small as keeps it before the next one.
 * @param {number} x
 * @param {string} name
 * @param {number} room
 */
function chordName(x, name, room) {
  const size = Math.min(CHORD_SIZE, Math.max(6, room / (0.62 * name.length)));
  return makeSvg("text", { x: x - 4, y: CHORDS_Y, "font-size": size.toFixed(1), "font-weight": "bold" }, name);
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
 * @param {Shown} shown
 * @param {number} index
 * @param {Place} place
 * @param {number} x
 */
function fretNumber({ bass }, index, { string, fret }, x) {
  const group = makeSvg("g", { "data-note": index });
  const y = TOP + STRING * (string - 1) + 0.34 * NUMBER_SIZE;
  group.append(makeSvg("text", { class: "fret", x, y, "font-size": NUMBER_SIZE, "text-anchor": "middle" }, bass[index].ghost ? "x" : String(fret)));
  return group;
}
