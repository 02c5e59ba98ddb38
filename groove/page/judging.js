// What is said of a pass: by the table of verdicts that the page carries, in its words.
//
// A deviation is in milliseconds, late is positive: against the count-in where the microphone heard
// its sticks, else against the median of the pass itself.

import { PITCH_FROM_SEC, PITCH_SEC } from "./hearing.js";
import { apartOf, passDelay, HALF_A_TONE, isPlucked, lineOf, medianOf, pairsOf, stepsOf, wanderingDelay, windowsOf, withoutSteps } from "./pairing.js";

/** @typedef {import("./pairing.js").Due} Due */
/** @typedef {import("./pairing.js").Heard} Heard */
/** @typedef {{limits: Record<string, number>, words: Record<string, string>, steadiness: Record<string, string>, cautions: string[]}} Rules */
/** @typedef {{kind: "early" | "on" | "late" | "not heard" | "other" | "", ms: number, pitch: number}} Mark */
/** @typedef {{bar: number, ms: number, rootMs: number, notes: number, named: number}} BarFigures */
/** @typedef {{head: string, points: string[]}} Block */
/** @typedef {{dues: Due[], heards: Heard[], stickDelay: number | null, near: number | null, gaps: [number, number][], isLine: boolean}} Pass */
/**
 * @typedef {{isHeard: boolean, marks: Map<number, Mark>, bars: BarFigures[], deviations: number[], meanMs: number,
 *   sdMs: number, delaySec: number, isAbsolute: boolean, driftMs: number | null, steps: {bar: number, ms: number}[],
 *   steadiness: string | null, workOn: number[], isClean: boolean, plain: number, plainHeard: number, ghosts: number,
 *   ghostsHeard: number, extras: number, unjudged: number, pass: Pass}} Judged
 */

const SURE_OTHER_PITCH = 0.85;
const [SOUNDING_SEC, GAP_MARGIN_SEC] = [PITCH_FROM_SEC + PITCH_SEC, 0.05];
const LEAST_EXTRA_DB = 3;
const AGREEING_SHARE = 0.5;

/**
 * The table as the page carries it.
 * @param {any} data
 * @returns {Rules}
 */
export function rulesOf(data) {
  const limits = Object.entries(data.limits).map(([name, { value }]) => [name, value]);
  return { limits: Object.fromEntries(limits), words: data.words, steadiness: data.steadiness, cautions: data.cautions };
}

/**
 * How far a note may lie from its place and be tight.
 * @param {Rules} rules
 * @param {number} intervalMs
 */
export function tightLimitMs({ limits }, intervalMs) {
  return Math.min(limits.heard_ms, Math.max(limits.tight_ms, limits.tight_share * intervalMs));
}

/**
 * How even a pass is, in one word; null for too few notes.
 * @param {Rules} rules
 * @param {number} sdMs
 * @param {number} intervalMs
 * @param {number} notes
 */
export function steadinessOf(rules, sdMs, intervalMs, notes) {
  const { limits } = rules;
  if (notes < limits.notes_for_verdict) return null;
  if (sdMs <= tightLimitMs(rules, intervalMs)) return "steady";
  if (2 * sdMs <= limits.heard_ms) return "fairly steady";
  return sdMs <= limits.heard_ms ? "a little uneven" : "not steady yet";
}

/**
 * Whether the sound at an onset, or that which its pitch is heard in, is not whole.
 * @param {number} time
 * @param {[number, number][]} gaps
 * @param {number} margin by how much the onset may lie elsewhere
 */
export function isTorn(time, gaps, margin = GAP_MARGIN_SEC) {
  return gaps.some(([from, to]) => from < time + SOUNDING_SEC + margin && to > time - margin);
}

/**
 * What was heard whole.  Where the page was too busy to take every block in time, something newer may
 * stand in its place: of a note whose sound reaches into that nothing is believed.
 * @template {{time: number}} T
 * @param {T[]} heards
 * @param {[number, number][]} gaps
 * @returns {T[]}
 */
export function wholeOf(heards, gaps) {
  return heards.filter(({ time }) => !isTorn(time, gaps, 0));
}

/**
 * Judge a pass.
 * @param {Rules} rules
 * @param {Pass} pass
 * @returns {Judged}
 */
export function judged(rules, pass) {
  const { dues } = pass;
  const heards = wholeOf(pass.heards, pass.gaps);
  const delay = passDelay(dues, heards, pass.stickDelay ?? pass.near);
  const roughly = pairsOf(dues, heards, () => delay);
  const pairs = pairsOf(dues, heards, wanderingDelay(dues, heards, roughly, delay));
  const heardBy = new Map(pairs.map((pair) => [pair.due, heards[pair.heard]]));
  const plain = dues.flatMap((due, index) => (isPlucked(due) ? [index] : []));
  const sounding = plain.filter((index) => heardBy.has(index));
  const raw = sounding.map((index) => /** @type {Heard} */ (heardBy.get(index)).time - dues[index].time);
  const steps = stepsOf(raw);
  const straight = withoutSteps(raw, steps);
  const zero = pass.stickDelay ?? medianOf(straight);
  const deviations = straight.map((late) => 1000 * (late - zero));
  const inGap = (/** @type {number} */ index) => isTorn(dues[index].time + zero, pass.gaps);
  const marks = marksOf(rules, pass, plain, heardBy, new Map(sounding.map((index, at) => [index, deviations[at]])), inGap);
  const bars = barsOf(rules, pass, sounding, deviations, marks);
  const meanMs = medianOf(deviations);
  const sdMs = Math.sqrt(deviations.reduce((sum, each) => sum + (each - meanMs) ** 2, 0) / Math.max(1, deviations.length - 1));
  const interval = 2000 * medianOf(windowsOf(dues));
  const named = plain.filter((index) => ["early", "late", "not heard", "other"].includes(marks.get(index)?.kind ?? ""));
  const ghosts = dues.flatMap((due, index) => (due.ghost ? [index] : []));
  const found = new Set(pairs.map((pair) => pair.heard));
  const unjudged = plain.filter((index) => !heardBy.has(index) && inGap(index)).length;
  return {
    isHeard: hearsABass(rules, { ...pass, heards }, plain, heardBy, unjudged),
    marks: new Map([...marks].map(([index, mark]) => [dues[index].note, mark])),
    bars,
    deviations,
    meanMs,
    sdMs,
    delaySec: zero,
    isAbsolute: pass.stickDelay !== null,
    driftMs: driftOf(rules, pass, sounding, deviations),
    steps: steps.map(({ at, sec }) => ({ bar: dues[sounding[at]].bar, ms: 1000 * sec })),
    steadiness: steadinessOf(rules, sdMs, interval, deviations.length),
    workOn: toWorkOn(rules, bars, sdMs, interval),
    isClean: named.length + unjudged <= (1 - rules.limits.clean_share) * plain.length + 1e-9,
    plain: plain.length,
    plainHeard: sounding.length,
    ghosts: ghosts.length,
    ghostsHeard: ghosts.filter((index) => heardBy.has(index)).length,
    extras: extrasOf({ ...pass, heards }, found, zero),
    unjudged,
    pass,
  };
}

/**
 * Whether it is a bass that is heard: half of the notes that are judged, and of those with a pitch
 * half at theirs.
 * @param {Rules} rules
 * @param {Pass} pass
 * @param {number[]} plain
 * @param {Map<number, Heard>} heardBy
 * @param {number} unjudged
 */
function hearsABass({ limits }, { dues, isLine, heards }, plain, heardBy, unjudged) {
  if (!isLine) return heards.filter((heard) => heard.sure >= SURE_OTHER_PITCH).length >= limits.notes_for_bar;
  const found = plain.filter((index) => heardBy.has(index));
  const pitched = found.filter((index) => /** @type {Heard} */ (heardBy.get(index)).sure >= SURE_OTHER_PITCH);
  const agreeing = pitched.filter((index) => !isOtherPitch(dues[index], /** @type {Heard} */ (heardBy.get(index))));
  const isEnough = found.length >= Math.max(1, limits.heard_share * (plain.length - unjudged));
  return isEnough && agreeing.length >= AGREEING_SHARE * Math.max(1, pitched.length) && pitched.length >= AGREEING_SHARE * AGREEING_SHARE * found.length;
}

/**
 * Whether a note was heard at another pitch, for sure; an octave is the same.
 * @param {Due} due
 * @param {Heard} heard
 */
export function isOtherPitch(due, heard) {
  return !Number.isNaN(due.pitch) && heard.sure >= SURE_OTHER_PITCH && Math.abs(apartOf(heard.pitch, due.pitch)) > HALF_A_TONE;
}

/**
 * @param {Rules} rules
 * @param {Pass} pass
 * @param {number[]} plain
 * @param {Map<number, Heard>} heardBy
 * @param {Map<number, number>} deviations by due
 * @param {(index: number) => boolean} inGap
 */
function marksOf({ limits }, { dues, isLine }, plain, heardBy, deviations, inGap) {
  /** @type {Map<number, Mark>} */
  const marks = new Map();
  for (const index of plain) {
    const heard = heardBy.get(index);
    if (!heard) {
      if (isLine && !inGap(index)) marks.set(index, { kind: "not heard", ms: 0, pitch: NaN });
      continue;
    }
    const ms = deviations.get(index) ?? 0;
    const timed = ms > limits.heard_ms ? "late" : ms < -limits.heard_ms ? "early" : "on";
    marks.set(index, { kind: isOtherPitch(dues[index], heard) ? "other" : timed, ms, pitch: heard.pitch });
  }
  return marks;
}

/**
 * @param {Rules} rules
 * @param {Pass} pass
 * @param {number[]} sounding
 * @param {number[]} deviations
 * @param {Map<number, Mark>} marks
 * @returns {BarFigures[]}
 */
function barsOf(rules, { dues }, sounding, deviations, marks) {
  const numbers = [...new Set(dues.map((due) => due.bar))];
  return numbers.map((bar) => {
    const own = deviations.filter((_, at) => dues[sounding[at]].bar === bar);
    const named = [...marks].filter(([index, mark]) => dues[index].bar === bar && mark.kind !== "on").length;
    const rootMs = Math.sqrt(own.reduce((sum, ms) => sum + ms * ms, 0) / Math.max(1, own.length));
    return { bar, ms: own.length >= rules.limits.notes_for_bar ? medianOf(own) : NaN, rootMs, notes: own.length, named };
  });
}

/**
 * How much later the pass ends than it begins, as far as that is sure; null for too few notes.
 * @param {Rules} rules
 * @param {Pass} pass
 * @param {number[]} sounding
 * @param {number[]} deviations
 */
function driftOf({ limits }, { dues }, sounding, deviations) {
  if (deviations.length < limits.notes_for_drift) return null;
  const times = sounding.map((index) => dues[index].time);
  const { slope, error } = lineOf(times, deviations);
  const change = slope * (times[times.length - 1] - times[0]);
  return Math.abs(slope) > 2 * error && Math.abs(change) > limits.mean_ms ? change : 0;
}

/**
 * The bars to work on, the first one first: most notes that are named, then those that stray most.
 * @param {Rules} rules
 * @param {BarFigures[]} bars
 * @param {number} sdMs
 * @param {number} interval
 */
function toWorkOn(rules, bars, sdMs, interval) {
  const least = Math.max(1.25 * sdMs, tightLimitMs(rules, interval));
  return bars
    .filter(({ named, rootMs, notes }) => named > 0 || (notes >= rules.limits.notes_for_bar && rootMs > least))
    .sort((a, b) => b.named - a.named || b.rootMs - a.rootMs)
    .slice(0, rules.limits.bars_to_work_on)
    .map(({ bar }) => bar);
}

/**
 * Onsets that no note is due for, told gently: strong ones alone, with a pitch, between the first and
 * the last note.
 * @param {Pass} pass
 * @param {Set<number>} found
 * @param {number} zero
 */
function extrasOf({ dues, heards, isLine }, found, zero) {
  if (!isLine || dues.length === 0) return 0;
  const [first, last] = [dues[0].time + zero, dues[dues.length - 1].time + zero];
  return heards.filter(({ time, strength, sure }, index) => !found.has(index) && time > first && time < last && strength >= LEAST_EXTRA_DB && sure >= SURE_OTHER_PITCH).length;
}

/**
 * Fill the fields of words.
 * @param {string} words
 * @param {Record<string, string | number>} fields
 */
export function filled(words, fields) {
  return words.replace(/\{(\w+)\}/g, (whole, name) => String(fields[name] ?? whole));
}

/**
 * What is told of a pass, what held first.
 * @param {Rules} rules
 * @param {Judged} found
 * @param {{bars: (bars: number[]) => string, note: (pitch: number) => string}} names
 * @returns {Block[]}
 */
export function blocksOf(rules, found, names) {
  const { words } = rules;
  if (!found.isHeard) return [{ head: "", points: [words.unheard] }];
  return [
    { head: "", points: headline(rules, found) },
    { head: words["head held"], points: heldPoints(rules, found, names) },
    { head: words["head moved"], points: movedPoints(rules, found, names) },
    { head: words["head heard"], points: heardPoints(rules, found, names) },
  ].filter(({ points }) => points.length > 0);
}

/**
 * @param {Rules} rules
 * @param {Judged} found
 */
function headline({ limits, words, steadiness }, found) {
  const count = found.pass.isLine ? filled(words.count, { heard: found.plainHeard, notes: found.plain }) : filled(words["count on grid"], { heard: found.plainHeard });
  if (!found.steadiness) return [`${count} ${filled(words["too few"], { least: limits.notes_for_verdict })}`];
  return [steadiness[found.steadiness], `${filled(words.spread, { ms: Math.round(found.sdMs) })} ${count}`];
}

/**
 * @param {Rules} rules
 * @param {Judged} found
 * @param {{bars: (bars: number[]) => string}} names
 */
function heldPoints(rules, found, names) {
  const { words, limits } = rules;
  const kinds = new Set([...found.marks.values()].map(({ kind }) => kind));
  const points = [];
  if (found.pass.isLine && !kinds.has("not heard") && !kinds.has("other") && !found.unjudged) points.push(words["every note"]);
  if (!kinds.has("early") && !kinds.has("late")) points.push(words["all on"]);
  const interval = 2000 * medianOf(windowsOf(found.pass.dues));
  const tight = found.bars.filter(({ notes, rootMs, named }) => !named && notes >= limits.notes_for_bar && rootMs <= tightLimitMs(rules, interval));
  if (tight.length) points.push(filled(words["tight bars"], { bars: names.bars(tight.map(({ bar }) => bar)) }));
  if (found.driftMs === 0) points.push(words["no drift"]);
  const full = found.bars.filter(({ notes }) => notes > 0);
  if (!points.length && full.length) {
    const best = full.reduce((one, other) => (other.rootMs < one.rootMs ? other : one));
    points.push(filled(words.steadiest, { bars: names.bars([best.bar]) }));
  }
  return points;
}

/**
 * @param {Rules} rules
 * @param {Judged} found
 * @param {{bars: (bars: number[]) => string}} names
 */
function movedPoints({ words, limits }, found, names) {
  const points = [];
  const say = (/** @type {string} */ what, /** @type {number} */ ms, /** @type {Record<string, string>} */ fields = {}) =>
    points.push(filled(words[`${what} ${ms < 0 ? "early" : "late"}`], { ms: Math.abs(Math.round(ms)), ...fields }));
  if (found.isAbsolute && found.steadiness && Math.abs(found.meanMs) > limits.mean_ms) say("lean", found.meanMs);
  if (found.driftMs) say("drift", found.driftMs);
  for (const { bar, ms } of namedBars(limits, found)) say("bar", ms, { bars: names.bars([bar]) });
  for (const { bar, ms } of found.steps) {
    points.push(filled(words.step, { bars: names.bars([bar]), ms: Math.round(Math.abs(ms)), side: ms < 0 ? words.earlier : words.later }));
  }
  for (const kind of /** @type {const} */ (["early", "late"])) {
    const places = placesOf(found, kind);
    if (places.length) points.push(filled(words[`named ${kind}`], { ms: limits.heard_ms, places: names.bars(places) }));
  }
  return points;
}

/**
 * The bars whose median is named.
 * @param {Record<string, number>} limits
 * @param {Judged} found
 */
export function namedBars(limits, found) {
  return found.bars.filter(({ ms }) => Math.abs(ms) >= limits.mean_ms);
}

/**
 * The bars, in order, with a mark of a kind.
 * @param {Judged} found
 * @param {string} kind
 */
function placesOf(found, kind) {
  const barOf = new Map(found.pass.dues.map(({ note, bar }) => [note, bar]));
  return [...found.marks].filter(([, mark]) => mark.kind === kind).map(([note]) => barOf.get(note) ?? 0);
}

/**
 * @param {Rules} rules
 * @param {Judged} found
 * @param {{bars: (bars: number[]) => string, note: (pitch: number) => string}} names
 */
function heardPoints({ words }, found, names) {
  const points = [];
  const unheard = placesOf(found, "not heard");
  if (unheard.length) points.push(filled(words["not heard"], { places: names.bars(unheard) }));
  /** @type {Map<string, number[]>} */
  const others = new Map();
  for (const { note, pitch, bar } of found.pass.dues) {
    const mark = found.marks.get(note);
    if (mark?.kind !== "other") continue;
    const pair = filled(words["other pitch"], { heard: names.note(mark.pitch), written: names.note(pitch) });
    others.set(pair, [...(others.get(pair) ?? []), bar]);
  }
  for (const [pair, bars] of others) points.push(filled(pair, { places: names.bars(bars) }));
  if (found.ghosts && found.pass.isLine) points.push(filled(words.ghosts, { heard: found.ghostsHeard, notes: found.ghosts }));
  if (found.extras) points.push(filled(words.extra, { count: found.extras }));
  if (found.unjudged) points.push(filled(words.gap, { count: found.unjudged }));
  return points;
}
