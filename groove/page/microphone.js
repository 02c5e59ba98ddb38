// The microphone: its samples in blocks on the audio clock, and what is wrong where there are none.
//
// The sound goes into the page's own arithmetic and nowhere else: it is not kept, not sent, not
// played. A script processor needs no script from elsewhere, so the page's policy stays as it is; its
// blocks come without stamps, and are counted.

import { soundKind } from "./mixer.js";

/** @typedef {{from: number, to: number}} Gap in seconds of the audio clock */

const BLOCK = 2048;
const RECENT = 32;
const ASKED = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };

/** When each of some blocks began, by counting them; the clock is read late, and never early. */
export class BlockClock {
  /** @param {number} blockSec */
  constructor(blockSec) {
    this.blockSec = blockSec;
    this.count = 0;
    this.offset = Infinity;
    /** @type {number[]} how late the last ones were handed over */
    this.late = [];
  }

  /**
   * A block is handed over; returns how many were lost before it, and whether it came so late that
   * newer samples may stand in it.
   * @param {number} now in seconds of the audio clock
   */
  push(now) {
    this.count += 1;
    const start = now - this.count * this.blockSec;
    this.offset = Math.min(this.offset, start);
    this.late.push(start - this.offset);
    if (this.late.length > RECENT) this.late.shift();
    const always = this.late.length < RECENT ? 0 : Math.min(...this.late);
    const lost = Math.floor(always / this.blockSec + 0.2);
    if (lost > 0) {
      this.count += lost;
      this.late = [];
    }
    return { lost, isSpoilt: start - this.offset > this.blockSec };
  }

  /** The time until which there are samples. */
  get until() {
    return this.offset + this.count * this.blockSec;
  }
}

export class Microphone {
  /**
   * @param {AudioContext} context
   * @param {(samples: Float32Array) => void} onBlock
   */
  constructor(context, onBlock) {
    this.context = context;
    this.onBlock = onBlock;
    this.clock = new BlockClock(BLOCK / context.sampleRate);
    /** @type {Gap[]} */
    this.gaps = [];
    /** @type {MediaStream | null} */
    this.stream = null;
    /** @type {AudioNode[]} */
    this.nodes = [];
    /** What the browser does to the sound though it was asked not to. @type {string[]} */
    this.changed = [];
  }

  /** Ask for the microphone; rejects where there is none or it is not allowed. */
  async open() {
    const { context } = this;
    soundKind("play-and-record");
    this.stream = await navigator.mediaDevices.getUserMedia({ audio: ASKED });
    const settings = /** @type {Record<string, unknown>} */ (this.stream.getAudioTracks()[0].getSettings());
    this.changed = Object.keys(ASKED).filter((name) => settings[name] === true);
    const source = context.createMediaStreamSource(this.stream);
    const processor = context.createScriptProcessor(BLOCK, 1, 1);
    processor.onaudioprocess = (event) => this.take(event.inputBuffer.getChannelData(0));
    // It runs only where it leads to the speaker; nothing is written to its way out.
    source.connect(processor).connect(context.destination);
    this.nodes = [source, processor];
  }

  /** @param {Float32Array} samples */
  take(samples) {
    const before = this.clock.until;
    const { lost, isSpoilt } = this.clock.push(this.context.currentTime);
    for (let block = 0; block < lost; block += 1) this.onBlock(new Float32Array(samples.length));
    // That one was lost is known when all of the last ones came late: any of them may have been it.
    if (lost || isSpoilt) this.gaps.push({ from: before - (lost ? RECENT * this.clock.blockSec : 0), to: this.clock.until });
    this.onBlock(samples);
  }

  close() {
    for (const node of this.nodes) node.disconnect();
    for (const track of this.stream?.getTracks() ?? []) track.stop();
    soundKind("playback");
    this.nodes = [];
    this.stream = null;
  }
}

/**
 * Why there is no microphone, and what to do.
 * @param {unknown} error
 */
export function whyNot(error) {
  const name = error instanceof Error ? error.name : "";
  if (!navigator.mediaDevices) return "This browser gives no microphone to a file on disk. Open the page in another browser.";
  if (name === "NotAllowedError") return "The browser did not allow the microphone. Allow it beside the address, then ask again.";
  if (name === "NotFoundError") return "No microphone was found. Plug one in, or an interface with the bass, then ask again.";
  if (name === "NotReadableError") return "Another program holds the microphone. Close it, then ask again.";
  return "The microphone did not start. Ask again, or open the page in another browser.";
}
