// The page as it was left: its loop and place by the names of bars, its log, and forgetting all of it.

import { SETTINGS } from "./controls.js";
import { byId, make, setText } from "./dom.js";
import { barLogs, barNamed, emptyLog, logName, logWords } from "./log.js";
import { forget, keep, recall, remember, songName } from "./memory.js";
import { toBar } from "./moves.js";
import { broughtLog } from "./saved.js";
import { placeWords } from "./words.js";

/** @typedef {import("./page.js").Page} Page */
/** @typedef {import("./memory.js").Kept} Kept */

/**
 * Set the controls and the log as they were left, and return what else was kept.
 * @param {Page} page
 */
export function recalled(page) {
  const kept = recall(page.data.title, SETTINGS);
  page.log = kept.log ?? broughtLog() ?? page.log;
  return kept;
}

/**
 * Set the loop that was left; the place is offered, and gone to where the page was only opened anew.
 * @param {Page} page
 * @param {Kept} kept
 */
export function goWhereLeft(page, kept) {
  const { bars } = page.shown;
  const [first, last, place] = [...(kept.span ?? ["", ""]), kept.bar ?? ""].map((name) => barNamed(page.shown, name));
  if (first >= 0 && last >= first) page.setLoop([first, last], loopChoice(page, first, last));
  page.left = place;
  if (kept.reopens && place >= 0 && page.inLoop(bars[place].start)) page.goTo(bars[place].start);
  showLog(page);
}

/**
 * What the list of loops calls some bars.
 * @param {Page} page
 * @param {number} first
 * @param {number} last
 */
function loopChoice({ shown }, first, last) {
  const section = shown.sections.findIndex((each) => each.first === first && each.bars === last + 1 - first);
  if (first === 0 && last === shown.bars.length - 1) return "song";
  return section < 0 ? "bars" : String(section);
}

/**
 * @param {Page} page
 * @param {Record<string, boolean>} more what else is to be kept until a control changes
 */
export function keepPage(page, more) {
  if (page.forgets) return;
  const nameOf = (/** @type {number} */ bar) => logName(page.shown, bar);
  const span = page.loop?.map(nameOf) ?? null;
  remember(page.data.title, SETTINGS, { share: page.share, span, bar: nameOf(page.bar), log: page.log, reopens: false, ...more });
}

/** @param {Page} page */
export function showLog(page) {
  setText(byId("log-says"), logWords(page.log));
  const lines = barLogs(page.shown, page.log);
  byId("log-bars").hidden = lines.length === 0;
  byId("log-bars").children[1].replaceChildren(...lines.map((line) => make("li", {}, line)));
  byId("go-on").hidden = page.left < 0;
  if (page.left >= 0) setText(byId("go-on"), `Go on where I was: ${placeWords(page.shown, page.left)}`);
}

/** @param {Page} page */
export function goOn(page) {
  toBar(page, page.left);
}

/**
 * Open the page anew, at the bar where it is.
 * @param {Page} page
 */
export function reopen(page) {
  keepPage(page, { reopens: true });
  location.reload();
}

/**
 * Forget everything that this device keeps of the song, and its own settings.
 * @param {Page} page
 */
export function forgetAll(page) {
  page.forgets = true;
  forget(page.data.title);
  // The file has its log for good: that it is to be forgotten has to be known.
  if (broughtLog()) keep(songName(page.data.title), { log: emptyLog() });
  location.reload();
}
