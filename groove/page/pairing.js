// Which onset is which note: arithmetic alone.
//
// Notes are due at times of the audio clock; what is heard comes later, by the way out of the
// speaker, through the air and in. That delay is found first, then each note has a window of its own
// round its time, none wider than half of the way to the next note: so no two notes can be taken for
// one another.

/** @typedef {{note: number, time: number, pitch: number, ghost: boolean, slurred: boolean, bar: number}} Due */
/** @typedef {{time: number, strength: number, pitch: number, sure: number}} Heard */
/** @typedef {{due: number, heard: number}} Pair by index */
/** @typedef {{at: number, sec: number}} Step from which note on, and by how much later */

export const LONGEST_DELAY_SEC = 0.45;
const [EARLIEST_SEC, STEP_SEC, KERNEL_SEC] = [-0.06, 0.002, 0.02];
const USUAL_DELAY_SEC = 0.12;
const [WIDEST_SEC, WINDOW_SHARE] = [0.12, 0.5];
const SURE_PITCH = 0.6;
export const HALF_A_TONE = 0.6;
const FULL_STRENGTH_DB = 6;
const [LEAST_WORTH, SOFT_LEAST_WORTH] = [0.05, 0.02];
const NEAR_NOTES = 8;
const [LEAST_STEP_SEC, STEP_NOTES, STEP_ERRORS] = [0.018, 6, 5];
const MOST_STEPS = 3;
const SLOPE_SHARE = 0.9;
const [STICK_RISE_DB, STICK_WITHIN_SEC] = [4, 0.0035];

/** @param {number[]} values */
export function medianOf(values) {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length === 0 ? 0 : sorted.length % 2 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
}

/**
 * How far two pitches are apart, octaves aside: -6 to 6 semitones.
 * @param {number} pitch
 * @param {number} other
 */
export function apartOf(pitch, other) {
  return ((((pitch - other + 6) % 12) + 12) % 12) - 6;
}

/**
 * Whether a note is plucked and sounds: a ghost and a note that is slurred to hardly begin.
 * @param {Due} due
 */
export function isPlucked({ ghost, slurred }) {
  return !ghost && !slurred;
}

/**
 * How well an onset fits a note by its pitch: 1, less where it is not known, least where it is another.
 * @param {Due} due
 * @param {Heard} heard
 */
function pitchFit(due, heard) {
  if (due.ghost || !(heard.sure >= SURE_PITCH) || Number.isNaN(due.pitch)) return 0.7;
  return Math.abs(apartOf(heard.pitch, due.pitch)) <= HALF_A_TONE ? 1 : 0.35;
}

/** @param {Heard} heard */
function strengthOf(heard) {
  return Math.min(1, heard.strength / FULL_STRENGTH_DB);
}

/**
 * How much later than due the whole pass is heard, in seconds: where most notes find an onset.
 * @param {Due[]} dues
 * @param {Heard[]} heards in the order of time
 * @param {number | null} near where it is known to be, to a tenth of a second
 */
export function passDelay(dues, heards, near) {
  const [from, to] = near === null ? [EARLIEST_SEC, LONGEST_DELAY_SEC] : [near - 0.1, near + 0.1];
  const cells = new Float64Array(Math.round((to - from) / STEP_SEC) + 1);
  const reach = Math.round(KERNEL_SEC / STEP_SEC);
  let first = 0;
  for (const due of dues) {
    while (first < heards.length && heards[first].time < due.time + from) first += 1;
    for (let index = first; index < heards.length && heards[index].time <= due.time + to; index += 1) {
      const worth = strengthOf(heards[index]) * pitchFit(due, heards[index]) * (isPlucked(due) ? 1 : 0.3);
      const cell = Math.round((heards[index].time - due.time - from) / STEP_SEC);
      for (let at = Math.max(0, cell - reach); at <= Math.min(cells.length - 1, cell + reach); at += 1) {
        cells[at] += worth * (1 - Math.abs(at - cell) / (reach + 1));
      }
    }
  }
  let best = 0;
  // Of two that explain as much, the one that is nearer to what such a way usually takes.
  const value = (/** @type {number} */ at) => cells[at] * (1 - 0.4 * Math.min(1, Math.abs(from + at * STEP_SEC - (near ?? USUAL_DELAY_SEC)) / LONGEST_DELAY_SEC));
  for (let at = 1; at < cells.length; at += 1) if (value(at) > value(best)) best = at;
  return from + best * STEP_SEC;
}

/**
 * How far from its time each note may be heard.
 * @param {Due[]} dues
 */
export function windowsOf(dues) {
  return dues.map((due, index) => {
    const before = index > 0 ? due.time - dues[index - 1].time : Infinity;
    const after = index + 1 < dues.length ? dues[index + 1].time - due.time : Infinity;
    return Math.min(WIDEST_SEC, WINDOW_SHARE * Math.min(before, after));
  });
}

/**
 * The best onset of each note in its window.
 * @param {Due[]} dues
 * @param {Heard[]} heards in the order of time
 * @param {(index: number) => number} delayAt of a note, in seconds
 * @returns {Pair[]}
 */
export function pairsOf(dues, heards, delayAt) {
  const windows = windowsOf(dues);
  /** @type {Pair[]} */
  const pairs = [];
  let first = 0;
  dues.forEach((due, index) => {
    const time = due.time + delayAt(index);
    while (first < heards.length && heards[first].time < time - windows[index] - WIDEST_SEC) first += 1;
    let [best, worth] = [-1, isPlucked(due) ? LEAST_WORTH : SOFT_LEAST_WORTH];
    for (let at = first; at < heards.length && heards[at].time <= time + windows[index]; at += 1) {
      const away = Math.abs(heards[at].time - time) / windows[index];
      if (away > 1) continue;
      const each = strengthOf(heards[at]) * pitchFit(due, heards[at]) * (1 - 0.7 * away * away);
      if (each > worth) [best, worth] = [at, each];
    }
    if (best >= 0) pairs.push({ due: index, heard: best });
  });
  return pairs;
}

/**
 * The delay of each note, the way that it wanders followed: the median of the notes near it.
 * @param {Due[]} dues
 * @param {Heard[]} heards
 * @param {Pair[]} pairs
 * @param {number} delay
 */
export function wanderingDelay(dues, heards, pairs, delay) {
  const plain = pairs.filter((pair) => isPlucked(dues[pair.due]));
  const apart = plain.map((pair) => heards[pair.heard].time - dues[pair.due].time);
  /** @type {number[]} */
  const delays = [];
  let at = 0;
  dues.forEach((_, index) => {
    while (at < plain.length && plain[at].due < index) at += 1;
    const near = apart.slice(Math.max(0, at - NEAR_NOTES), at + NEAR_NOTES);
    delays.push(near.length < NEAR_NOTES ? delay : medianOf(near));
  });
  return (/** @type {number} */ index) => delays[index];
}

/**
 * The steps of a delay in mid-pass: all later notes are later, or earlier, by the same at once.
 * @param {number[]} lateSec of the notes that were heard, in order
 * @returns {Step[]}
 */
export function stepsOf(lateSec) {
  /** @type {Step[]} */
  const steps = [];
  for (let round = 0; round < MOST_STEPS; round += 1) {
    const step = largestStep(withoutSteps(lateSec, steps));
    if (!step) break;
    steps.push(step);
    steps.sort((a, b) => a.at - b.at);
  }
  return steps;
}

/**
 * @param {number[]} lateSec
 * @param {Step[]} steps
 */
export function withoutSteps(lateSec, steps) {
  return lateSec.map((late, index) => late - steps.reduce((sum, { at, sec }) => sum + (index >= at ? sec : 0), 0));
}

/**
 * A step is abrupt: a tempo that drifts moves as much over many notes, and explains itself better by
 * a slope.
 * @param {number[]} late
 * @returns {Step | null}
 */
function largestStep(late) {
  let [best, most] = [-1, 0];
  for (let at = STEP_NOTES; at <= late.length - STEP_NOTES; at += 1) {
    const size = Math.abs(medianOf(late.slice(at, at + STEP_NOTES)) - medianOf(late.slice(at - STEP_NOTES, at)));
    if (size > most) [best, most] = [at, size];
  }
  if (best < 0 || most < LEAST_STEP_SEC) return null;
  const near = 4 * STEP_NOTES;
  const first = Math.max(0, best - near);
  let [cut, least] = [best, Infinity];
  // The place itself: where two levels leave least.
  for (let at = Math.max(first + 3, best - STEP_NOTES); at <= Math.min(late.length - 3, best + STEP_NOTES); at += 1) {
    const rest = spread(late.slice(first, at)) + spread(late.slice(at, best + near));
    if (rest < least) [cut, least] = [at, rest];
  }
  const [before, after] = [late.slice(first, cut), late.slice(cut, best + near)];
  const sec = medianOf(after) - medianOf(before);
  const rest = least / (before.length + after.length);
  const isSure = Math.abs(sec) >= LEAST_STEP_SEC && Math.abs(sec) > (STEP_ERRORS * rest) / Math.sqrt(Math.min(before.length, after.length));
  return isSure && least < SLOPE_SHARE * slopeRest([...before, ...after]) ? { at: cut, sec } : null;
}

/** @param {number[]} values */
function spread(values) {
  const middle = medianOf(values);
  return values.reduce((sum, value) => sum + Math.abs(value - middle), 0);
}

/**
 * What a straight line leaves.
 * @param {number[]} values
 */
function slopeRest(values) {
  const line = lineOf(values.map((_, index) => index), values);
  return values.reduce((sum, value, index) => sum + Math.abs(value - line.start - line.slope * index), 0);
}

/**
 * The straight line through values, and how sure its slope is.
 * @param {number[]} places
 * @param {number[]} values
 */
export function lineOf(places, values) {
  const count = values.length;
  const mean = (/** @type {number[]} */ all) => all.reduce((sum, each) => sum + each, 0) / Math.max(1, count);
  const [middle, level] = [mean(places), mean(values)];
  const width = places.reduce((sum, place) => sum + (place - middle) ** 2, 0);
  const slope = width > 0 ? places.reduce((sum, place, index) => sum + (place - middle) * (values[index] - level), 0) / width : 0;
  const start = level - slope * middle;
  const rest = places.reduce((sum, place, index) => sum + (values[index] - start - slope * place) ** 2, 0);
  const error = count > 2 && width > 0 ? Math.sqrt(rest / (count - 2) / width) : Infinity;
  return { start, slope, error };
}

/**
 * The delay of the sticks of the count-in, in seconds, null where they are not heard: all but one of
 * them come after the same time, to within what no hand can.
 * @param {number[]} times at which they were played
 * @param {(Heard & {bright: number})[]} heards
 */
export function stickDelay(times, heards) {
  const bright = heards.filter((heard) => heard.bright >= STICK_RISE_DB);
  let best = null;
  let most = Math.max(2, times.length - 2);
  for (const first of times.slice(0, 2)) {
    for (const heard of bright) {
      const delay = heard.time - first;
      if (delay < 0 || delay > LONGEST_DELAY_SEC) continue;
      const found = times.flatMap((time) => bright.filter((each) => Math.abs(each.time - time - delay) < STICK_WITHIN_SEC).slice(0, 1).map((each) => each.time - time));
      if (found.length > most) [best, most] = [medianOf(found), found.length];
    }
  }
  return best;
}

