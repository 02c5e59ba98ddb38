// Marks under the tab: each note of the last pass early, on, late, not heard or at another pitch.
//
// Told apart by shape: an arrow to the left is early, to the right late, a dot on, a ring not heard;
// another pitch is named.

import { makeSvg } from "./dom.js";

/** @typedef {import("./judging.js").Mark} Mark */
/** @typedef {{figure: HTMLElement, marks: SVGElement, spots: Map<number, {x: number, y: number, r: number}[]>}} Line */

/**
 * Draw the marks of a line anew.
 * @param {Line} line
 * @param {Map<number, Mark>} marks by note
 * @param {(pitch: number) => string} name
 */
export function drawMarks(line, marks, name) {
  line.figure.querySelector(".heard")?.remove();
  const spots = [...line.spots].filter(([note]) => marks.has(note));
  if (spots.length === 0) return;
  const layer = /** @type {SVGElement} */ (line.marks.cloneNode(false));
  layer.classList.add("heard");
  const drawn = /** @type {SVGGraphicsElement} */ (line.figure.querySelector("svg"));
  const low = lowest(drawn, line.marks);
  // Tab alone has its beats under it, and the marks between.
  const [up, size] = line.figure.dataset.tab ? [1.55, 0.75] : [0.3, 1];
  for (const [note, places] of spots) {
    const { x, r } = places[places.length - 1];
    layer.append(markAt(/** @type {Mark} */ (marks.get(note)), x, low - up * r, size * r, name));
  }
  line.marks.after(layer);
}

/**
 * How far down the drawing goes, in the units of its innermost group.
 * @param {SVGGraphicsElement} drawn
 * @param {SVGElement} marks
 */
function lowest(drawn, marks) {
  const box = drawn.getBoundingClientRect();
  const matrix = /** @type {SVGGraphicsElement} */ (marks).getScreenCTM?.();
  if (!matrix) return 0;
  return new DOMPoint(0, box.bottom).matrixTransform(matrix.inverse()).y;
}

/**
 * @param {Mark} mark
 * @param {number} x
 * @param {number} y
 * @param {number} r
 * @param {(pitch: number) => string} name
 */
function markAt({ kind, pitch }, x, y, r, name) {
  const half = 0.7 * r;
  const side = kind === "early" ? -1 : 1;
  const common = { class: `mark ${kind.replace(" ", "-")}`, "data-mark": kind };
  if (kind === "other") return makeSvg("text", { ...common, x, y: y + half, "font-size": 2.2 * r, "text-anchor": "middle" }, name(pitch));
  if (kind === "not heard") return makeSvg("circle", { ...common, cx: x, cy: y, r: 0.8 * half, "stroke-width": 0.35 * r });
  if (kind === "on") return makeSvg("circle", { ...common, cx: x, cy: y, r: 0.35 * half });
  return makeSvg("path", { ...common, d: `M${x + side * half} ${y}l${-2 * side * half} ${-half}v${2 * half}z` });
}
