// Moving about in the song: by bars, by sections, to the start.

import { barAt } from "./shown.js";

/** @typedef {import("./page.js").Page} Page */

/** @param {Page} page */
const barOf = (page) => barAt(page.shown.bars, page.position);

/**
 * @param {Page} page
 * @param {number} bar index, as played
 */
export function toBar(page, bar) {
  const { bars } = page.shown;
  page.goTo(bars[Math.min(bars.length - 1, Math.max(0, bar))].start);
  page.told.place();
}

/**
 * Some bars on or back; in a loop round its seam. Back from within a bar is its own start, as on a
 * player's counter.
 * @param {Page} page
 * @param {number} by
 */
export function byBars(page, by) {
  const { loop, position, shown } = page;
  const bar = barOf(page);
  const isInside = !page.player?.isPlaying && position > shown.bars[bar].start + 1e-3;
  const wanted = by < 0 && isInside ? bar : bar + by;
  if (!loop || !page.inLoop(position)) toBar(page, wanted);
  else toBar(page, wanted > loop[1] ? loop[0] : wanted < loop[0] ? loop[1] : wanted);
}

/**
 * The start of the section some sections on or back; back from within a section is its own start.
 * @param {Page} page
 * @param {number} by
 */
export function bySections(page, by) {
  const { bars, sections } = page.shown;
  const bar = barOf(page);
  const { section } = bars[bar];
  const isInside = bar > sections[section].first;
  toSection(page, section + (by < 0 && isInside ? by + 1 : by));
}

/**
 * @param {Page} page
 * @param {number} section the nearest one that there is
 */
export function toSection(page, section) {
  const { sections } = page.shown;
  toBar(page, sections[Math.min(sections.length - 1, Math.max(0, section))].first);
}

/**
 * The section that a player calls by a number: a pickup has none.
 * @param {Page} page
 * @param {number} number from 1
 */
export function toNumbered(page, number) {
  const { bars, sections } = page.shown;
  toSection(page, number - (bars[0].number === 0 && sections.length > 1 ? 0 : 1));
}

/**
 * The start of the loop, else of the song.
 * @param {Page} page
 */
export function toStart(page) {
  toBar(page, page.loop ? page.loop[0] : 0);
}
