// What a microphone hears of a bass: where notes begin, how strongly, and at what pitch.
//
// Samples come in blocks and are forgotten again: what is kept is a few numbers a note. Onsets are
// rises of the level in bands over the loudest of the moments before, so that neither a gain nor the
// periods of a low string count as one (spectral flux: S. Dixon, "Onset Detection Revisited", DAFx
// 2006, from memory); the place is then found in the signal itself. Seconds count the samples.

/** @typedef {{sec: number, strength: number, bright: number, level: number, pitch: number, sure: number}} Onset */

const WORKING_HZ = 24000;
const FILTER_TAPS = 31;
const WINDOW = 512;
const HOP = 128;
const [LOWEST_BAND_HZ, HIGHEST_BAND_HZ, BANDS] = [110, 6000, 24];
const BRIGHT_FROM_HZ = 2500;
const RANGE_DB = 50;
const NOISE_MARGIN_DB = 3;
// A level is held against the loudest of some hops, but the last ones, in which it rises itself.
const [MEMORY_HOPS, RISING_HOPS] = [5, 2];
const PEAK_HOPS = 4;
const LEAST_RISE_DB = 0.3;
// What the window's shape adds, by plucked strings whose first sample is known.
const BIAS_SEC = 0.003;
const RING_SEC = 1.5;
/** The sound that the pitch of a note is heard in, after its onset. */
export const PITCH_FROM_SEC = 0.015;
export const PITCH_SEC = 0.14;
const SHORTEST_PITCH_SEC = 0.05;
const [LOWEST_HZ, HIGHEST_HZ] = [28, 420];
const PITCH_STEP = 4;
const GOOD_DIP = 0.15;
const LEVEL_SEC = 0.08;

/** A complex transform of a fixed length, in place. */
export class Transform {
  /** @param {number} size a power of two */
  constructor(size) {
    this.size = size;
    this.cosines = Float32Array.from({ length: size / 2 }, (_, index) => Math.cos((2 * Math.PI * index) / size));
    this.sines = Float32Array.from({ length: size / 2 }, (_, index) => -Math.sin((2 * Math.PI * index) / size));
    const bits = Math.log2(size);
    this.places = Uint32Array.from({ length: size }, (_, index) => {
      let place = 0;
      for (let bit = 0; bit < bits; bit += 1) if (index & (1 << bit)) place |= 1 << (bits - 1 - bit);
      return place;
    });
  }

  /**
   * @param {Float32Array} real
   * @param {Float32Array} imaginary
   */
  run(real, imaginary) {
    const { size, places, cosines, sines } = this;
    for (let index = 0; index < size; index += 1) {
      const place = places[index];
      if (place <= index) continue;
      [real[index], real[place]] = [real[place], real[index]];
      [imaginary[index], imaginary[place]] = [imaginary[place], imaginary[index]];
    }
    for (let half = 1; half < size; half *= 2) {
      const stride = size / (2 * half);
      for (let start = 0; start < size; start += 2 * half) {
        for (let step = 0, turn = 0; step < half; step += 1, turn += stride) {
          const [here, there] = [start + step, start + step + half];
          const re = real[there] * cosines[turn] - imaginary[there] * sines[turn];
          const im = real[there] * sines[turn] + imaginary[there] * cosines[turn];
          real[there] = real[here] - re;
          imaginary[there] = imaginary[here] - im;
          real[here] += re;
          imaginary[here] += im;
        }
      }
    }
  }
}

/** Every so many samples, of what lies under half of the new rate (a windowed sinc). */
class Thinner {
  /** @param {number} factor */
  constructor(factor) {
    this.factor = factor;
    const middle = (FILTER_TAPS - 1) / 2;
    const taps = Float32Array.from({ length: FILTER_TAPS }, (_, index) => {
      const x = ((index - middle) * 0.9) / factor;
      const sinc = x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
      return sinc * (0.54 + 0.46 * Math.cos((Math.PI * (index - middle)) / middle));
    });
    const sum = taps.reduce((all, tap) => all + tap, 0);
    this.taps = taps.map((tap) => tap / sum);
    this.rest = new Float32Array(factor > 1 ? FILTER_TAPS - 1 : 0);
  }

  /**
   * @param {Float32Array} samples
   * @returns {Float32Array}
   */
  push(samples) {
    if (this.factor === 1) return samples;
    const all = new Float32Array(this.rest.length + samples.length);
    all.set(this.rest);
    all.set(samples, this.rest.length);
    const count = Math.floor((all.length - FILTER_TAPS) / this.factor) + 1;
    const thin = new Float32Array(Math.max(0, count));
    for (let index = 0; index < count; index += 1) {
      let sum = 0;
      for (let tap = 0, at = index * this.factor; tap < FILTER_TAPS; tap += 1, at += 1) sum += this.taps[tap] * all[at];
      thin[index] = sum;
    }
    this.rest = all.slice(Math.max(0, count) * this.factor);
    return thin;
  }

  /** How many samples of the source lie before the first thin one. */
  get delay() {
    return this.factor > 1 ? (FILTER_TAPS - 1) / 2 - (FILTER_TAPS - 1) : 0;
  }
}

/** The level of each band in a window of samples; two windows at once, one in each half of a transform. */
class Bands {
  /** @param {number} rate */
  constructor(rate) {
    this.transform = new Transform(WINDOW);
    this.window = Float32Array.from({ length: WINDOW }, (_, index) => 0.5 - 0.5 * Math.cos((2 * Math.PI * (index + 0.5)) / WINDOW));
    this.real = new Float32Array(WINDOW);
    this.imaginary = new Float32Array(WINDOW);
    const bins = Array.from({ length: BANDS + 1 }, (_, band) => {
      const hertz = LOWEST_BAND_HZ * (HIGHEST_BAND_HZ / LOWEST_BAND_HZ) ** (band / BANDS);
      return Math.round((hertz * WINDOW) / rate);
    });
    this.edges = [...new Set(bins)];
    this.count = this.edges.length - 1;
  }

  /**
   * @param {Float32Array} ring
   * @param {number} first of the first window in the ring
   * @param {Float32Array} levels of both, in dB
   */
  measure(ring, first, levels) {
    const { real, imaginary, window, edges, count } = this;
    const mask = ring.length - 1;
    for (let index = 0; index < WINDOW; index += 1) {
      real[index] = ring[(first + index) & mask] * window[index];
      imaginary[index] = ring[(first + HOP + index) & mask] * window[index];
    }
    this.transform.run(real, imaginary);
    for (let band = 0; band < count; band += 1) {
      let [one, two] = [1e-9, 1e-9];
      for (let bin = edges[band]; bin < edges[band + 1]; bin += 1) {
        const other = WINDOW - bin;
        const [re, im] = [real[bin] + real[other], imaginary[bin] - imaginary[other]];
        const [re2, im2] = [imaginary[bin] + imaginary[other], real[other] - real[bin]];
        one += re * re + im * im;
        two += re2 * re2 + im2 * im2;
      }
      const width = edges[band + 1] - edges[band];
      levels[band] = 10 * Math.log10(one / width);
      levels[count + band] = 10 * Math.log10(two / width);
    }
  }
}

/** The rise of the level over some bands, hop by hop, and where it is the largest of its neighbourhood. */
class Rises {
  constructor() {
    /** @type {number[]} of the last hops, in dB */
    this.last = [];
  }

  /**
   * Take the rise of a hop; returns the place of a peak, in hops before this one, or null.
   * @param {number} rise
   */
  push(rise) {
    const { last } = this;
    last.push(rise);
    if (last.length > 2 * PEAK_HOPS + 1) last.shift();
    const peak = last[PEAK_HOPS];
    if (last.length <= 2 * PEAK_HOPS || peak < LEAST_RISE_DB) return null;
    for (let hop = 0; hop < last.length; hop += 1) {
      if (last[hop] > peak || (last[hop] === peak && hop < PEAK_HOPS)) return null;
    }
    const [before, after] = [last[PEAK_HOPS - 1], last[PEAK_HOPS + 1]];
    const bend = before - 2 * peak + after;
    return { strength: peak, hopsAgo: PEAK_HOPS - (bend < 0 ? (0.5 * (before - after)) / bend : 0) };
  }
}

/** Hears onsets in samples that come in blocks. */
export class Hearing {
  /** @param {number} rate of the samples, a second */
  constructor(rate) {
    this.thinner = new Thinner(Math.max(1, Math.round(rate / WORKING_HZ)));
    this.rate = rate / this.thinner.factor;
    this.delaySec = this.thinner.delay / rate;
    this.bands = new Bands(this.rate);
    const band = (/** @type {number} */ hertz) => this.bands.edges.findIndex((bin) => bin >= (hertz * WINDOW) / this.rate);
    this.brightBand = band(BRIGHT_FROM_HZ);
    this.ring = new Float32Array(2 ** Math.ceil(Math.log2(RING_SEC * this.rate)));
    this.count = 0;
    this.hops = 0;
    this.past = Array.from({ length: MEMORY_HOPS + RISING_HOPS }, () => new Float32Array(this.bands.count).fill(-200));
    this.top = -200;
    this.floors = new Float32Array(this.bands.count);
    this.levels = new Float32Array(2 * this.bands.count);
    this.rises = new Rises();
    /** @type {number[]} the bright bands' rises of the last hops */
    this.bright = [];
    /** @type {Onset[]} in the order of time */
    this.onsets = [];
    /** @type {Onset[]} those whose pitch is not known yet */
    this.waiting = [];
    this.peak = 0;
  }

  /** How far it has heard, in seconds of the samples. */
  get heardSec() {
    return this.count / this.rate;
  }

  /** @param {Float32Array} samples */
  push(samples) {
    const mask = this.ring.length - 1;
    for (const sample of this.thinner.push(samples)) {
      this.ring[this.count & mask] = sample;
      this.count += 1;
      this.peak = Math.max(this.peak * 0.99999, Math.abs(sample));
      if (this.count >= (this.hops + 1) * HOP + WINDOW) this.hopTwice();
    }
    this.hearPitches();
  }

  hopTwice() {
    const { bands, levels } = this;
    bands.measure(this.ring, this.hops * HOP, levels);
    this.hop(levels.subarray(0, bands.count));
    this.hop(levels.subarray(bands.count));
  }

  /** @param {Float32Array} levels */
  hop(levels) {
    const { past, floors, top } = this;
    const kept = new Float32Array(levels.length);
    let [bright, all, loudest] = [0, 0, -200];
    for (let band = 0; band < levels.length; band += 1) {
      const level = levels[band];
      loudest = Math.max(loudest, level);
      // The noise: sinks at once, rises by 6 dB a second.
      floors[band] = this.hops ? Math.min(level, floors[band] + (6 * HOP) / this.rate) : level;
      kept[band] = Math.max(level, floors[band] + NOISE_MARGIN_DB, top - RANGE_DB);
      let before = -200;
      for (let hop = 0; hop < MEMORY_HOPS; hop += 1) before = Math.max(before, past[hop][band]);
      const rise = this.hops ? Math.max(0, kept[band] - before) : 0;
      all += rise;
      if (band >= this.brightBand) bright += rise;
    }
    past.shift();
    past.push(kept);
    this.top = Math.max(loudest, top - (3 * HOP) / this.rate);
    this.hops += 1;
    this.bright.push(bright / (levels.length - this.brightBand));
    if (this.bright.length > 2 * PEAK_HOPS + 1) this.bright.shift();
    this.tell(this.rises.push(all / levels.length));
  }

  /**
   * @param {{strength: number, hopsAgo: number} | null} peak
   */
  tell(peak) {
    if (!peak) return;
    const sample = (this.hops - 1 - peak.hopsAgo) * HOP + WINDOW / 2;
    const sec = sample / this.rate + this.delaySec - BIAS_SEC;
    const bright = Math.max(...this.bright.slice(PEAK_HOPS - 1, PEAK_HOPS + 2));
    const onset = { sec, strength: peak.strength, bright, level: 0, pitch: NaN, sure: 0 };
    this.onsets.push(onset);
    this.waiting.push(onset);
  }

  /** Give onsets their level and pitch once enough of them has been heard. */
  hearPitches() {
    const late = (/** @type {Onset} */ onset) => this.heardSec < onset.sec + PITCH_FROM_SEC + PITCH_SEC + 0.005;
    for (const onset of this.waiting) if (!late(onset)) this.hearPitch(onset);
    this.waiting = this.waiting.filter(late);
  }

  /** @param {Onset} onset */
  hearPitch(onset) {
    const next = this.onsets.find((each) => each.sec > onset.sec && each.strength > onset.strength / 3);
    const ends = Math.min(onset.sec + PITCH_FROM_SEC + PITCH_SEC, next ? next.sec - 0.005 : Infinity);
    onset.level = 20 * Math.log10(1e-9 + rootMean(this.cut(onset.sec, onset.sec + LEVEL_SEC)));
    const from = onset.sec + PITCH_FROM_SEC;
    if (ends - from < SHORTEST_PITCH_SEC) return;
    [onset.pitch, onset.sure] = heardPitch(this.cut(from, ends), this.rate);
  }

  /**
   * Samples of the last second and a half.
   * @param {number} from in seconds
   * @param {number} to
   */
  cut(from, to) {
    const first = Math.max(0, Math.round((from - this.delaySec) * this.rate));
    const length = Math.max(0, Math.round((to - from) * this.rate));
    const mask = this.ring.length - 1;
    return Float32Array.from({ length }, (_, index) => this.ring[(first + index) & mask]);
  }
}

/** @param {Float32Array} samples */
function rootMean(samples) {
  let sum = 0;
  for (const sample of samples) sum += sample * sample;
  return Math.sqrt(sum / Math.max(1, samples.length));
}

/**
 * The pitch (a MIDI number with its fraction) and how sure it is (0 to 1); NaN where there is none.
 *
 * The difference function of A. de Cheveigné and H. Kawahara, "YIN", JASA 111(4), 2002 (from
 * memory): overtones alone have the period of a fundamental that a small microphone does not hear.
 * @param {Float32Array} samples
 * @param {number} rate
 * @returns {[number, number]}
 */
export function heardPitch(samples, rate) {
  const part = new Float32Array(Math.floor(samples.length / PITCH_STEP));
  for (let index = 0; index < part.length; index += 1) {
    for (let step = 0; step < PITCH_STEP; step += 1) part[index] += samples[index * PITCH_STEP + step];
  }
  const stepRate = rate / PITCH_STEP;
  const shortest = Math.floor(stepRate / HIGHEST_HZ);
  const longest = Math.min(Math.floor(stepRate / LOWEST_HZ), Math.floor(part.length * 0.6));
  if (longest <= shortest + 2) return [NaN, 0];
  const unlike = unlikeness(part, longest);
  let lag = shortest;
  for (let each = shortest; each < longest; each += 1) if (unlike[each] < unlike[lag]) lag = each;
  for (let each = shortest; each < longest; each += 1) {
    if (unlike[each] < GOOD_DIP && unlike[each] <= unlike[each + 1]) {
      lag = each;
      break;
    }
  }
  const [before, dip, after] = [unlike[lag - 1], unlike[lag], unlike[lag + 1]];
  const bend = before - 2 * dip + after;
  const exact = lag + (bend > 0 ? (0.5 * (before - after)) / bend : 0);
  return [69 + 12 * Math.log2(stepRate / exact / 440), Math.max(0, 1 - dip)];
}

/**
 * The difference of a sound from itself, shifted by each lag, over its mean up to there.
 * @param {Float32Array} part
 * @param {number} longest
 */
function unlikeness(part, longest) {
  const unlike = new Float32Array(longest + 1).fill(1);
  const width = part.length - longest;
  let sum = 0;
  for (let lag = 1; lag <= longest; lag += 1) {
    let difference = 0;
    for (let index = 0; index < width; index += 1) {
      const apart = part[index] - part[index + lag];
      difference += apart * apart;
    }
    sum += difference;
    unlike[lag] = sum > 0 ? (difference * lag) / sum : 1;
  }
  return unlike;
}
