// Bars in words, by the numbers that the chart, the sheet and the tab use.

/** @typedef {import("./shown.js").Shown} Shown */

const PASSES = ["", "", "second pass", "third pass", "fourth pass"];

/**
 * The section of a bar, and which pass of its repeat after the first.
 * @param {Shown} shown
 * @param {number} bar
 */
function sectionWords({ bars, sections }, bar) {
  const { section, pass } = bars[bar];
  const { label } = sections[section];
  return pass > 1 ? `${label}, ${PASSES[pass] ?? `pass ${pass}`}` : label;
}

/**
 * Where a bar is: its section, its number, and how far into the section it lies.
 * @param {Shown} shown
 * @param {number} bar
 */
export function placeWords(shown, bar) {
  const { section, number } = shown.bars[bar];
  const { first, bars: count } = shown.sections[section];
  if (number === 0) return sectionWords(shown, bar);
  return `${sectionWords(shown, bar)}, bar ${number}  ·  ${bar - first + 1} of ${count}`;
}

/** @param {{number: number}} bar */
export function barName({ number }) {
  return number === 0 ? "pickup" : `bar ${number}`;
}

/**
 * Bars by number alone, as short as it goes.
 * @param {Shown} shown
 * @param {number} first
 * @param {number} last
 */
export function barNumbers({ bars }, first, last) {
  return first === last ? String(bars[first].number) : `${bars[first].number}–${bars[last].number}`;
}

/**
 * Bars by number, and by section where the song comes to them more than once.
 * @param {Shown} shown
 * @param {number} first
 * @param {number} last
 */
export function barWords(shown, first, last) {
  const { bars, sections } = shown;
  const chosen = bars.slice(first, last + 1);
  const from = barName(bars[first]);
  const numbers = first === last ? from : bars[first].number ? `bars ${bars[first].number} to ${bars[last].number}` : `${from} to ${barName(bars[last])}`;
  const outside = [...bars.slice(0, first), ...bars.slice(last + 1)];
  if (!outside.some(({ number }) => chosen.some((bar) => bar.number === number))) return numbers;
  if (chosen.some(({ section }) => section !== bars[first].section)) {
    return `${numbers}, ${sectionWords(shown, first)} to ${sectionWords(shown, last)}`;
  }
  const isOnePass = chosen.every(({ pass }) => pass === bars[first].pass);
  return `${numbers} (${isOnePass ? sectionWords(shown, first) : sections[bars[first].section].label})`;
}

/**
 * The beat that sounds at a position, counted from 1; a pickup has the last ones of a bar.
 * @param {import("./timing.js").Bar} bar
 * @param {number} position
 */
export function beatAt({ beats, firstBeat }, position) {
  return firstBeat + Math.max(0, beats.filter((beat) => beat <= position + 1e-3).length - 1);
}
