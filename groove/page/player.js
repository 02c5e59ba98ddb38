// Plays the song on the audio clock: every note is one sample, scheduled ahead of its time.

import { bassSounds, clickSounds, ladderShare, lastAtOrBefore, momentAt, notesBetween, spanEnd, timeIn } from "./timing.js";

/** @typedef {import("./timing.js").Note} Note */
/** @typedef {import("./timing.js").Bar} Bar */
/** @typedef {import("./timing.js").Span} Span */
/** @typedef {import("./timing.js").Ladder} Ladder */
/** @typedef {{pitch: number, velocity: number, offset: number, length: number, left: number, right: number}} Sample left and right as shares of what the row has */
/** @typedef {{buffer: AudioBuffer, gain: number, samples: Sample[]}} Row */
/** @typedef {{notes: Note[], bars: Bar[], length: number, clicks: {accent: number[], other: number[], count: {part: string, pitch: number, velocities: number[], bars: number}}}} Song */
/** @typedef {{time: number, until: number, source: AudioBufferSourceNode, gain: GainNode}} Voice */
/** @typedef {{share: number, loop: [number, number] | null, countsIn: boolean, clickOut: number, clickOf: number, takesTurns: boolean, ladder: Ladder | null, transpose: number, bassMoves: number[] | null}} Wishes bassMoves by how much each bass note is moved */

const RELEASE_SEC = 0.05;
const CUT_SEC = 0.015;
const LOUD_FROM = 72;
const PITCHED = ["bass", "keys"];
const LATEST_SEC = 0.05;

/**
 * A count-in before another position, its strokes at their times.
 * @param {Span} span
 * @param {number} position
 * @returns {Span}
 */
function movedTo(span, position) {
  const by = position - span.to;
  const notes = span.notes.map((note) => ({ ...note, grid: note.grid + by, onset: note.onset + by, end: note.end + by }));
  return { ...span, start: span.start + by, from: span.from + by, to: position, notes };
}

export class Player {
  /**
   * @param {BaseAudioContext} context
   * @param {Song} song
   * @param {Map<string, Row>} rows
   * @param {Map<string, AudioNode>} outputs where each part goes; "count" is the count-in's
   */
  constructor(context, song, rows, outputs) {
    this.context = context;
    this.song = song;
    this.rows = rows;
    this.outputs = outputs;
    /** @type {Wishes} */
    this.wishes = { share: 1, loop: null, countsIn: true, clickOut: 0, clickOf: 0, takesTurns: false, ladder: null, transpose: 0, bassMoves: null };
    /** @type {Span[]} */
    this.spans = [];
    /** @type {Voice[]} */
    this.voices = [];
    /** @type {Map<string, AudioNode>} */
    this.sides = new Map();
    this.late = 0;
    this.dropped = 0;
    /** @type {{key: string, notes: Note[]}} */
    this.cut = { key: "", notes: [] };
  }

  get isPlaying() {
    return this.spans.length > 0;
  }

  /**
   * Begin at a time, from a position on.
   * @param {number} time
   * @param {number} position
   */
  start(time, position) {
    this.stop(time);
    const inside = this.inLoop(position);
    const share = this.wishes.ladder ? ladderShare(this.wishes.ladder, 1) : this.wishes.share;
    if (this.wishes.countsIn) {
      const count = this.countSpan(time, inside, share);
      this.spans.push(count);
      this.spans.push(this.passSpan(spanEnd(count), inside, inside, share, 1, 0));
    } else {
      this.spans.push(this.passSpan(time, inside, inside, share, 1, 0));
    }
  }

  /**
   * Go on from another position, without counting in.
   * @param {number} time
   * @param {number} position
   */
  seek(time, position) {
    const share = this.shareAt(time);
    this.stop(time);
    const inside = this.inLoop(position);
    this.spans.push(this.passSpan(time, inside, inside, share, 1, 0));
  }

  /**
   * Stop what sounds, and forget what was to come.
   * @param {number} time
   */
  stop(time) {
    this.spans = [];
    for (const voice of this.voices) this.silence(voice, time);
    this.voices = [];
  }

  /**
   * What is wished for has changed: from a time on, no earlier than it begins, all is planned anew.
   * @param {number} wished
   */
  replan(wished) {
    const time = Math.max(wished, this.spans[0]?.time ?? wished);
    const moment = momentAt(this.spans, time);
    if (!moment) return;
    const { span, position } = moment;
    const [start, end] = this.bounds();
    if (!span.counts && this.wishes.loop && (position < start || position >= end)) {
      this.seek(time, start);
      return;
    }
    const kept = this.spans.filter((each) => each.time <= time);
    this.dropAfter(time);
    if (span.counts) {
      // The count goes on as it was begun; what follows is planned anew, from the loop's start if
      // what was counted in lies outside it.
      this.spans = [...kept.slice(0, -1), movedTo(span, this.inLoop(span.to))];
      return;
    }
    const share = this.wishes.ladder ? ladderShare(this.wishes.ladder, span.pass) : this.wishes.share;
    const goesOn = this.passSpan(time, span.start, position, share, span.pass, span.barsBefore);
    goesOn.next = goesOn.notes.findIndex((note) => timeIn(span, note.onset) > time);
    if (goesOn.next < 0) goesOn.next = goesOn.notes.length;
    kept[kept.length - 1].to = position;
    this.spans = [...kept, goesOn];
  }

  /**
   * Schedule everything that sounds before a time.
   * @param {number} until
   */
  pump(until) {
    const now = this.context.currentTime;
    this.voices = this.voices.filter((voice) => voice.until > now);
    for (let index = 0; index < this.spans.length; index += 1) {
      const span = this.spans[index];
      if (span.time > until) return;
      this.pumpSpan(span, until, now);
      if (index === this.spans.length - 1 && spanEnd(span) <= until) this.addSpan(span);
    }
    if (this.spans.length > 8) this.forget(now);
  }

  /** @param {number} now */
  forget(now) {
    const current = lastAtOrBefore(this.spans, now, (span) => span.time);
    if (current > 2) this.spans.splice(0, current - 2);
  }

  /**
   * @param {Span} span
   * @param {number} until
   * @param {number} now
   */
  pumpSpan(span, until, now) {
    while (span.next < span.notes.length) {
      const note = span.notes[span.next];
      const time = timeIn(span, note.onset);
      if (time >= until || note.onset >= span.to) return;
      span.next += 1;
      if (!this.sounds(span, note)) continue;
      if (time < now) this.late += 1;
      // After a sleep the notes that were missed are left out, not played in a heap.
      if (time < now - LATEST_SEC) this.dropped += 1;
      else this.play(note, Math.max(time, now), span.share, span.counts);
    }
  }

  /** @param {Span} span */
  addSpan(span) {
    if (span.counts) {
      this.spans.push(this.passSpan(spanEnd(span), span.to, span.to, span.share, 1, 0));
      return;
    }
    if (!this.wishes.loop) return;
    const [start] = this.bounds();
    const pass = span.pass + 1;
    const share = this.wishes.ladder ? ladderShare(this.wishes.ladder, pass) : this.wishes.share;
    const bars = this.barIndex(span.to - 1e-5) - this.barIndex(span.start) + 1;
    this.spans.push(this.passSpan(spanEnd(span), start, start, share, pass, span.barsBefore + bars));
  }

  /** When the last note has been played and nothing follows; Infinity while something does. */
  get endTime() {
    const last = this.spans[this.spans.length - 1];
    return !last || last.counts || this.wishes.loop ? Infinity : spanEnd(last);
  }

  /**
   * @param {Span} span
   * @param {Note} note
   */
  sounds(span, note) {
    if (note.part === "bass") return bassSounds(this.wishes.takesTurns, span.pass);
    if (note.part !== "click" || span.counts) return true;
    const bar = span.barsBefore + this.barIndex(note.grid) - this.barIndex(span.start);
    return clickSounds(bar, this.wishes.clickOut, this.wishes.clickOf);
  }

  /** @param {number} position */
  barIndex(position) {
    return Math.max(0, lastAtOrBefore(this.song.bars, position + 1e-6, (bar) => bar.start));
  }

  /** @returns {[number, number]} */
  bounds() {
    const { loop } = this.wishes;
    if (!loop) return [0, this.song.length];
    return [this.song.bars[loop[0]].start, this.song.bars[loop[1]].end];
  }

  /** @param {number} position */
  inLoop(position) {
    const [start, end] = this.bounds();
    return position < start || position >= end - 1e-6 ? start : position;
  }

  /** @param {number} time */
  shareAt(time) {
    const moment = momentAt(this.spans, time);
    return moment ? moment.span.share : this.wishes.share;
  }

  /**
   * One pass, or the rest of one.
   * @param {number} time
   * @param {number} start where its music is cut
   * @param {number} from where it begins to be played
   * @param {number} share
   * @param {number} pass
   * @param {number} barsBefore
   * @returns {Span}
   */
  passSpan(time, start, from, share, pass, barsBefore) {
    const end = this.bounds()[1];
    const key = `${start} ${end}`;
    if (this.cut.key !== key) this.cut = { key, notes: notesBetween(this.song.notes, start, end) };
    return { time, start, from, to: end, share, pass, counts: false, barsBefore, notes: this.cut.notes, next: 0 };
  }

  /**
   * A count that ends at a position: the song's bars of it, one where nobody counts it in, and as
   * much of the next as has gone by where the music comes in, so that bar lines fall on a counted
   * one (common practice, no source).
   * @param {number} time
   * @param {number} position
   * @param {number} share
   * @returns {Span}
   */
  countSpan(time, position, share) {
    const { bars, clicks } = this.song;
    const bar = bars[this.barIndex(position)];
    const model = bar.number === 0 && bars.length > 1 ? bars[1] : bar;
    const full = model.end - model.start;
    const gone = Math.max(0, full - (bar.end - bar.start)) + position - bar.start;
    const { part, pitch, velocities, bars: counted } = clicks.count;
    const whole = full * Math.max(1, counted);
    const from = position - whole - gone;
    const starts = Array.from({ length: Math.max(1, counted) + 1 }, (_, index) => index * full);
    const strokes = starts.flatMap((start) => model.beats.map((beat, index) => ({ at: start + beat - model.start, index })));
    const notes = strokes.filter(({ at }) => at < whole + gone - 1e-6).map(({ at, index }) => {
      const velocity = velocities[index === 0 ? 0 : 1];
      return { part, grid: from + at, onset: from + at, end: from + at + 0.1, pitch, velocity, rings: part === "click", index };
    });
    return { time, start: from, from, to: position, share, pass: 0, counts: true, barsBefore: 0, notes, next: 0 };
  }

  /**
   * Where a sound goes so that it stands left and right as it was rendered.
   * @param {AudioNode} output
   * @param {string} name of the output
   * @param {Sample} sample
   * @returns {AudioNode}
   */
  placed(output, name, { left, right }) {
    const key = `${name} ${left.toFixed(2)} ${right.toFixed(2)}`;
    const known = this.sides.get(key);
    if (known) return known;
    const place = this.context.createGain();
    const merger = this.context.createChannelMerger(2);
    [left, right].forEach((level, channel) => {
      const side = this.context.createGain();
      side.gain.value = level;
      place.connect(side).connect(merger, 0, channel);
    });
    merger.connect(output);
    this.sides.set(key, place);
    return place;
  }

  /**
   * The sample that is nearest in pitch, in the note's own layer where it has one.
   * @param {Row} row
   * @param {number} pitch
   * @param {number} velocity
   * @returns {Sample}
   */
  sampleFor(row, pitch, velocity) {
    const loud = velocity >= LOUD_FROM;
    const distance = (/** @type {Sample} */ sample) =>
      Math.abs(sample.pitch - pitch) + (sample.velocity >= LOUD_FROM === loud ? 0 : 0.5);
    return row.samples.reduce((best, sample) => (distance(sample) < distance(best) ? sample : best));
  }

  /**
   * @param {Note} note
   * @param {number} time
   * @param {number} share
   * @param {boolean} counts
   */
  play(note, time, share, counts) {
    const row = this.rows.get(note.part);
    const output = this.outputs.get(counts ? "count" : note.part);
    if (!row || !output) return;
    const { transpose, bassMoves } = this.wishes;
    const by = (note.part === "bass" && bassMoves?.[note.index]) || transpose;
    const pitch = note.pitch + (PITCHED.includes(note.part) ? by : 0);
    const sample = this.sampleFor(row, pitch, note.velocity);
    const speed = PITCHED.includes(note.part) ? 2 ** ((pitch - sample.pitch) / 12) : 1;
    const level = row.gain * (note.velocity / sample.velocity) ** 2;
    const source = this.context.createBufferSource();
    const gain = this.context.createGain();
    source.buffer = row.buffer;
    source.playbackRate.value = speed;
    gain.gain.setValueAtTime(level, time);
    let until = time + sample.length / speed;
    const stops = time + (note.end - note.onset) / share;
    if (!note.rings && stops < until) {
      gain.gain.setValueAtTime(level, stops);
      gain.gain.linearRampToValueAtTime(0, stops + RELEASE_SEC);
      until = stops + RELEASE_SEC;
    }
    source.connect(gain).connect(this.placed(output, counts ? "count" : note.part, sample));
    source.start(time, sample.offset, sample.length);
    source.stop(until);
    source.onended = () => gain.disconnect();
    this.voices.push({ time, until, source, gain });
  }

  /**
   * Take back what was scheduled for after a time.
   * @param {number} time
   */
  dropAfter(time) {
    for (const voice of this.voices) if (voice.time > time) this.silence(voice, time);
    this.voices = this.voices.filter((voice) => voice.time <= time);
  }

  /**
   * @param {Voice} voice
   * @param {number} time
   */
  silence(voice, time) {
    if (voice.time > time) {
      voice.source.stop(0);
      voice.gain.disconnect();
      return;
    }
    if (voice.until <= time) return;
    voice.gain.gain.cancelScheduledValues(time);
    voice.gain.gain.setTargetAtTime(0, time, CUT_SEC / 3);
    voice.source.stop(time + CUT_SEC);
  }
}

