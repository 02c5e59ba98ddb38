// The graph of sound: a level for each part, one for all, and a limiter.

import { input } from "./dom.js";

const PARTS = ["bass", "drums", "keys", "click"];
const KEYS_PAN = -0.19;
const LIMITER_SEC = 0.006;
const FADE_SEC = 0.01;

export class Mixer {
  constructor() {
    // Where the browser knows kinds of sound, music is heard with the silent switch on.
    const { audioSession } = /** @type {any} */ (navigator);
    if (audioSession) audioSession.type = "playback";
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
    if (part === "keys") gain.connect(new StereoPannerNode(this.context, { pan: KEYS_PAN })).connect(this.all);
    else gain.connect(this.all);
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
    const square = (/** @type {string} */ id) => (Number(input(id).value) / 100) ** 2;
    const set = (/** @type {GainNode | undefined} */ node, /** @type {number} */ level) => node?.gain.setTargetAtTime(level, this.now, FADE_SEC);
    for (const part of PARTS) set(this.outputs.get(part), input(`${part}-on`).checked ? square(`level-${part}`) : 0);
    set(this.outputs.get("count"), square("level-click"));
    set(this.all, square("level-all"));
  }
}
