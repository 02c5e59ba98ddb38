// The graph of sound: a level for each part, one for all, and a limiter.

import { byId, input, setText } from "./dom.js";

const PARTS = ["bass", "drums", "keys", "click"];
const SILENT_DB = -40;
/** What a level is called, from the softest: common practice, no source. */
const LEVEL_WORDS = [[-24, "very quiet"], [-12, "quiet"], [-6, "middling"], [-1, "nearly full"], [0, "full"], [Infinity, "raised"]];
const LIMITER_SEC = 0.006;
const FADE_SEC = 0.01;

/**
 * Say what the sound is for, where the browser knows kinds of it: music is heard with the silent
 * switch on, and a microphone is heard only beside "play-and-record" (W3C, Audio Session).
 * @param {"playback" | "play-and-record"} kind
 */
export function soundKind(kind) {
  const { audioSession } = /** @type {any} */ (navigator);
  if (audioSession) audioSession.type = kind;
}

export class Mixer {
  constructor() {
    soundKind("playback");
    this.context = new AudioContext({ latencyHint: "interactive" });
    // The limiter keeps a full mix from clipping.
    const limiter = new DynamicsCompressorNode(this.context, { threshold: -6, knee: 6, ratio: 12, attack: 0.003, release: 0.15 });
    limiter.connect(this.context.destination);
    this.all = this.context.createGain();
    this.all.connect(limiter);
    /** @type {Map<string, GainNode>} */
    this.outputs = new Map();
    for (const part of [...PARTS, "count"]) this.outputs.set(part, this.output(part));
    this.setLevels();
  }

  /** @param {string} part */
  output(part) {
    const gain = this.context.createGain();
    gain.connect(this.all);
    return gain;
  }

  get now() {
    return this.context.currentTime;
  }

  /** The time that is heard now: what was scheduled takes a while to come out. */
  get heardTime() {
    const latency = this.context.outputLatency || this.context.baseLatency || 0;
    return this.now - latency - LIMITER_SEC - Number(input("offset").value) / 1000;
  }

  setLevels() {
    const set = (/** @type {GainNode | undefined} */ node, /** @type {number} */ level) => node?.gain.setTargetAtTime(level, this.now, FADE_SEC);
    for (const part of PARTS) set(this.outputs.get(part), input(`${part}-on`).checked ? levelOf(`level-${part}`) : 0);
    set(this.outputs.get("count"), levelOf("level-click"));
    set(this.all, levelOf("level-all"));
  }
}

/**
 * What a level multiplies by: decibels of amplitude, silent at the bottom.
 * @param {string} id
 */
function levelOf(id) {
  const decibels = Number(input(id).value);
  return decibels <= SILENT_DB ? 0 : 10 ** (decibels / 20);
}

/**
 * Whether a level lets anything through.
 * @param {string} id
 */
export function isLoud(id) {
  return levelOf(id) > 0;
}

/** Tell every level in decibels and words. */
export function showLevels() {
  for (const part of ["all", ...PARTS]) {
    const slider = input(`level-${part}`);
    const decibels = Number(slider.value);
    const words = /** @type {string} */ (LEVEL_WORDS.find(([most]) => decibels <= Number(most))?.[1]);
    const told = decibels <= SILENT_DB ? "silent" : `${decibels > 0 ? "+" : ""}${decibels} dB, ${words}`.replace("-", "−");
    setText(byId(`told-${part}`), told);
    slider.setAttribute("aria-valuetext", told);
  }
}
