// A sound slower or faster at its own pitch, by pieces that are laid over each other where they fit.
//
// Waveform similarity overlap-add (W. Verhelst and M. Roelands, ICASSP 1993): frames are taken from
// the sound at the wished tempo, each moved by as little as makes it go on from the one before.  The
// search reaches over one turn of a low E (41 Hz, 24 ms), and no frame is farther off than half that.

const [HALF_SEC, REACH_SEC, JOIN_SEC] = [0.015, 0.0125, 0.003];
const [THIN, PIECE_HALVES] = [4, 16];
/** What of a cosine a place at one end of the search must be better by than one in its middle. */
const NEARNESS = 0.2;

/** @typedef {{length: number, sampleRate: number, numberOfChannels: number, getChannelData: (channel: number) => Float32Array}} Sound */

export class Stretch {
  /** @param {Sound} sound */
  constructor(sound) {
    this.rate = sound.sampleRate;
    this.half = THIN * Math.round((HALF_SEC * this.rate) / THIN);
    this.reach = THIN * Math.round((REACH_SEC * this.rate) / THIN);
    this.channels = Array.from({ length: sound.numberOfChannels }, (_, channel) => sound.getChannelData(channel));
    this.thin = thinned(this.channels);
    this.window = Float32Array.from({ length: 2 * this.half }, (_, index) => Math.sin((Math.PI * (index + 0.5)) / (2 * this.half)) ** 2);
  }

  /**
   * The sound from a second on, at a share of its tempo.
   * @param {number} sec
   * @param {number} share
   */
  from(sec, share) {
    return new Stretched(this, sec * this.rate, share);
  }

  /**
   * How far from its place a frame is best taken, in samples, to go on from a sample.
   * @param {number} place
   * @param {number} goesOn
   */
  offset(place, goesOn) {
    const [reach, length] = [this.reach / THIN, (2 * this.half) / THIN];
    const thinAt = (/** @type {number} */ sample) => Math.round(sample / THIN);
    const coarse = THIN * fittest(this.thin, thinAt(place) - reach, 2 * reach, thinAt(goesOn), length, reach) - this.reach;
    const first = place + Math.max(-this.reach, coarse - THIN);
    const last = place + Math.min(this.reach, coarse + THIN);
    return first - place + fittest(this.channels[0], first, last - first, goesOn, 2 * this.half, place + coarse - first);
  }
}

/** One run of a stretched sound, given out in pieces. */
export class Stretched {
  /**
   * @param {Stretch} stretch
   * @param {number} from in samples
   * @param {number} share
   */
  constructor(stretch, from, share) {
    this.stretch = stretch;
    this.from = from;
    this.share = share;
    this.frame = -1;
    // The frame before the first, so that the run begins at its full level.
    this.start = Math.round(from) - stretch.half;
    this.tails = stretch.channels.map(() => new Float32Array(stretch.half));
    this.add(this.tails, -stretch.half, this.start);
  }

  /** How long a piece lasts up to the next one's beginning, in seconds. */
  get pieceSec() {
    return (PIECE_HALVES * this.stretch.half) / this.stretch.rate;
  }

  /**
   * The next piece, a row of samples a channel: it begins and ends in a fade, over which the next
   * one is laid.
   */
  next() {
    const { half, rate } = this.stretch;
    const join = Math.round(JOIN_SEC * rate);
    const rows = this.tails.map((tail) => {
      const row = new Float32Array((PIECE_HALVES + 1) * half);
      row.set(tail);
      return row;
    });
    for (let index = 0; index < PIECE_HALVES; index += 1) {
      this.frame += 1;
      const place = Math.round(this.from + (this.frame + 1) * half * this.share) - half;
      this.start = place + this.stretch.offset(place, this.start + half);
      this.add(rows, index * half, this.start);
    }
    this.tails = rows.map((row) => row.slice(PIECE_HALVES * half));
    return rows.map((row) => faded(row.subarray(0, PIECE_HALVES * half + join), join));
  }

  /**
   * Lay a frame of the sound over rows, through the window.
   * @param {Float32Array[]} rows
   * @param {number} at
   * @param {number} start
   */
  add(rows, at, start) {
    const { window, channels } = this.stretch;
    rows.forEach((row, channel) => {
      const sound = channels[channel];
      const first = Math.max(0, -at, -start);
      const end = Math.min(window.length, row.length - at, sound.length - start);
      for (let index = first; index < end; index += 1) row[at + index] += window[index] * sound[start + index];
    });
  }
}

/**
 * Which of the stretches that begin from a sample on is most like another, as cosine of their angle;
 * of those that are nearly as like, the one that is nearest to the place that is asked for.
 * @param {Float32Array} sound
 * @param {number} first
 * @param {number} reach how many after the first are looked at
 * @param {number} like
 * @param {number} length
 * @param {number} wished counted from the first
 */
function fittest(sound, first, reach, like, length, wished) {
  const model = cutOut(sound, like, length);
  const heard = cutOut(sound, first, length + reach);
  let [energy, wanted] = [0, 0];
  for (let index = 0; index < length; index += 1) {
    energy += heard[index] ** 2;
    wanted += model[index] ** 2;
  }
  let [best, bestAt] = [-Infinity, wished];
  for (let offset = 0; offset <= reach; offset += 1) {
    let sum = 0;
    for (let index = 0; index < length; index += 1) sum += model[index] * heard[offset + index];
    const fit = sum / Math.sqrt(Math.max(1e-12, energy * wanted)) - (NEARNESS * Math.abs(offset - wished)) / (reach + 1);
    if (fit > best) [best, bestAt] = [fit, offset];
    energy += (heard[offset + length] ?? 0) ** 2 - heard[offset] ** 2;
  }
  return bestAt;
}

/**
 * A stretch of a sound, silent beyond its ends.
 * @param {Float32Array} sound
 * @param {number} start
 * @param {number} length
 */
function cutOut(sound, start, length) {
  if (start >= 0 && start + length <= sound.length) return sound.subarray(start, start + length);
  const cut = new Float32Array(length);
  const [from, to] = [Math.min(sound.length, Math.max(0, start)), Math.max(0, Math.min(sound.length, start + length))];
  if (to > from) cut.set(sound.subarray(from, to), from - start);
  return cut;
}

/**
 * The channels as one, at a part of their rate.
 * @param {Float32Array[]} channels
 */
function thinned(channels) {
  const thin = new Float32Array(Math.floor(channels[0].length / THIN));
  for (const channel of channels) {
    for (let index = 0; index < thin.length; index += 1) {
      for (let of = 0; of < THIN; of += 1) thin[index] += channel[THIN * index + of];
    }
  }
  return thin;
}

/**
 * @param {Float32Array} row
 * @param {number} join samples over which it comes and goes
 */
function faded(row, join) {
  for (let index = 0; index < join; index += 1) {
    row[index] *= (index + 0.5) / join;
    row[row.length - 1 - index] *= (index + 0.5) / join;
  }
  return row;
}
