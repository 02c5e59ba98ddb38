// Plays a record by the chart's bars: the player of the band, in seconds of the record.

import { Player } from "./player.js";
import { spanEnd } from "./timing.js";

/** @typedef {import("./player.js").Song} Song */
/** @typedef {import("./player.js").Row} Row */
/** @typedef {import("./player.js").Voice} Voice */
/** @typedef {import("./stretch.js").Stretch} Stretch */
/** @typedef {import("./stretch.js").Stretched} Stretched */
/** @typedef {import("./timing.js").Span} Span */
/** @typedef {{time: number, run: Stretched | null}} Laid up to which time of a span the record is scheduled */

const JOINED_SEC = 0.004;
export const RECORD = "record";

export class RecordPlayer extends Player {
  /**
   * @param {BaseAudioContext} context
   * @param {Song} song in seconds of the record
   * @param {Map<string, Row>} rows
   * @param {Map<string, AudioNode>} outputs
   * @param {{buffer: AudioBuffer, stretch: Stretch}} file the record
   */
  constructor(context, song, rows, outputs, { buffer, stretch }) {
    super(context, song, rows, outputs);
    this.buffer = buffer;
    this.stretch = stretch;
    /** @type {WeakMap<Span, Laid>} */
    this.laid = new WeakMap();
    /** @type {Voice[]} of the record alone */
    this.pieces = [];
  }

  /**
   * Of the band the count and the click are heard; its notes say when they are due.
   * @param {Span} span
   * @param {import("./timing.js").Note} note
   */
  sounds(span, note) {
    return (span.counts || note.part === "click") && super.sounds(span, note);
  }

  /** @param {number} until */
  pump(until) {
    const now = this.context.currentTime;
    this.pieces = this.pieces.filter((piece) => piece.until > now);
    super.pump(until);
  }

  /**
   * @param {Span} span
   * @param {number} until
   * @param {number} now
   */
  pumpSpan(span, until, now) {
    super.pumpSpan(span, until, now);
    if (!span.counts) this.lay(span, Math.min(until, spanEnd(span)), now);
  }

  /**
   * Schedule the record in a span up to a time: at its own tempo in one go, else by pieces.
   * @param {Span} span
   * @param {number} until
   * @param {number} now
   */
  lay(span, until, now) {
    const laid = this.laid.get(span) ?? { time: span.time, run: null };
    this.laid.set(span, laid);
    while (laid.time < until) {
      if (laid.time < now) Object.assign(laid, { time: now, run: null });
      const from = span.from + (laid.time - span.time) * span.share;
      if (span.share === 1) {
        this.sound(this.buffer, laid.time, from, spanEnd(span));
        laid.time = Infinity;
        return;
      }
      laid.run ??= this.stretch.from(from, span.share);
      this.sound(this.bufferOf(laid.run.next()), laid.time, 0, spanEnd(span));
      laid.time += laid.run.pieceSec;
    }
  }

  /** @param {Float32Array[]} rows */
  bufferOf(rows) {
    const buffer = this.context.createBuffer(rows.length, rows[0].length, this.buffer.sampleRate);
    rows.forEach((row, channel) => buffer.getChannelData(channel).set(row));
    return buffer;
  }

  /**
   * @param {AudioBuffer} buffer
   * @param {number} time
   * @param {number} offset
   * @param {number} end the time of the span's end: what follows comes in as this goes out
   */
  sound(buffer, time, offset, end) {
    const output = this.outputs.get(RECORD);
    if (!output) return;
    const source = this.context.createBufferSource();
    const gain = this.context.createGain();
    source.buffer = buffer;
    const until = Math.min(end + JOINED_SEC, time + Math.max(0, buffer.duration - offset));
    if (buffer === this.buffer) {
      gain.gain.setValueAtTime(0, time);
      gain.gain.linearRampToValueAtTime(1, time + JOINED_SEC);
    }
    if (until > end) {
      gain.gain.setValueAtTime(1, Math.max(end, time));
      gain.gain.linearRampToValueAtTime(0, until);
    }
    source.connect(gain).connect(output);
    source.start(time, offset);
    source.stop(until);
    source.onended = () => gain.disconnect();
    this.pieces.push({ time, until, source, gain });
  }

  /** @param {number} time */
  stop(time) {
    super.stop(time);
    this.cutPieces(time);
  }

  /** @param {number} time */
  dropAfter(time) {
    super.dropAfter(time);
    this.cutPieces(time);
  }

  /**
   * The record ends at a time, whatever of it was scheduled.
   * @param {number} time
   */
  cutPieces(time) {
    for (const piece of this.pieces) {
      if (piece.time > time) this.silence(piece, time);
      else if (piece.until > time) {
        piece.gain.gain.cancelScheduledValues(time);
        piece.gain.gain.setValueAtTime(1, time);
        piece.gain.gain.linearRampToValueAtTime(0, time + JOINED_SEC);
        piece.source.stop(time + JOINED_SEC);
      }
    }
    this.pieces = [];
  }
}
