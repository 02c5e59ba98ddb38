// The practice page: reads its data, makes the sound, follows the controls, draws.

import { clampShare, clockOf, parseBars, placeAt, spanEnd, tappedBpm, tickToSec } from "./timing.js";
import { Player } from "./player.js";
import { FormRow, LeadView, NeckView, SheetView, bassAt, byId, make, setText, shownOf } from "./view.js";

/** @typedef {import("./timing.js").Note} Note */
/** @typedef {import("./player.js").Row} Row */
/** @typedef {import("./player.js").Song} Song */

const PARTS = ["bass", "drums", "keys", "click"];
const AHEAD_SEC = 0.5;
const AHEAD_HIDDEN_SEC = 2.5;
const TICK_MS = 50;
const SOON_SEC = 0.06;
const LIMITER_SEC = 0.006;
const MARKER_SEC = 0.02;
const DECODE_RATE = 48000;
const BREAK_SEC = 20 * 60;
const KEYS_PAN = -0.19;
const WIDE_SCREEN = "(min-width: 44.01rem)";

/** @param {string} id */
function input(id) {
  return /** @type {HTMLInputElement} */ (byId(id));
}

/** @param {string} id */
function bytesOf(id) {
  const text = atob(byId(id).textContent ?? "");
  const bytes = new Uint8Array(text.length);
  for (let index = 0; index < text.length; index += 1) bytes[index] = text.charCodeAt(index);
  return bytes;
}

/** @param {string} id */
async function unzipped(id) {
  const stream = new Blob([bytesOf(id)]).stream().pipeThrough(new DecompressionStream("gzip"));
  return (await new Response(stream).text()).split("\0");
}

/**
 * How much later than meant a row begins, by the marker at its head.
 * @param {AudioBuffer} buffer
 */
function delayOf(buffer) {
  const samples = buffer.getChannelData(0).subarray(0, Math.round(0.09 * buffer.sampleRate));
  let loudest = 0;
  samples.forEach((value, index) => {
    if (Math.abs(value) > Math.abs(samples[loudest])) loudest = index;
  });
  return loudest / buffer.sampleRate - MARKER_SEC;
}

/**
 * @param {string} part
 * @param {{gain: number, samples: number[][]}} told
 * @returns {Promise<Row>}
 */
async function decoded(part, told) {
  const context = new OfflineAudioContext(1, 1, DECODE_RATE);
  const buffer = await context.decodeAudioData(bytesOf(`sound-${part}`).buffer);
  const delay = delayOf(buffer);
  const samples = told.samples.map(([pitch, velocity, offset, length]) => ({ pitch, velocity, offset: Math.max(0, offset + delay), length }));
  return { buffer, gain: told.gain, samples };
}

const data = JSON.parse(byId("data").textContent ?? "");
const clock = clockOf(data.tempo);
const shown = shownOf(data, clock);

/** @returns {Note[]} */
function allNotes() {
  const sec = (/** @type {number} */ tick) => tickToSec(clock, tick);
  /** @type {Note[]} */
  const notes = [];
  for (const part of ["bass", "drums", "keys"]) {
    data[part].forEach((/** @type {number[]} */ row, /** @type {number} */ index) => {
      const [grid, shift, length, pitch, velocity] = row;
      const onset = grid + shift;
      notes.push({ part, grid: sec(grid), onset: sec(onset), end: sec(onset + length), pitch, velocity, rings: length === 0, index });
    });
  }
  shown.bars.forEach((bar) => {
    bar.beats.forEach((beat, index) => {
      const [pitch, velocity] = index === 0 ? data.click.accent : data.click.other;
      notes.push({ part: "click", grid: beat, onset: beat, end: beat + 0.1, pitch, velocity, rings: true, index });
    });
  });
  return notes;
}

/** @type {Song} */
const song = { notes: allNotes(), bars: shown.bars, length: shown.length, clicks: data.click };

/** Everything between the controls and the player. */
class Page {
  /** @param {Map<string, Row>} rows */
  constructor(rows) {
    this.rows = rows;
    /** @type {AudioContext | null} */
    this.context = null;
    /** @type {Map<string, GainNode>} */
    this.gains = new Map();
    /** @type {Player | null} */
    this.player = null;
    /** @type {[number, number] | null} */
    this.loop = null;
    this.share = 1;
    this.position = 0;
    this.firstBar = -1;
    /** @type {number[]} */
    this.taps = [];
    this.playedSec = 0;
    this.lastTime = 0;
    /** @type {any} */
    this.lock = null;
    this.form = new FormRow(shown, (section) => this.goTo(shown.bars[shown.sections[section].first].start));
    this.lead = new LeadView(shown);
    this.neck = new NeckView(shown);
    /** @type {Record<string, SheetView>} */
    this.sheets = {};
    for (const name of Object.keys(data.sheets)) this.sheets[name] = new SheetView({ drawings: [], rows: data.sheets[name] }, shown, (bar) => this.chooseBar(bar));
    /** @type {SheetView | null} */
    this.sheet = null;
  }

  /**
   * The graph of sound; the limiter keeps a full mix from clipping.
   * @param {BaseAudioContext} context
   * @param {AudioNode} output
   */
  outputs(context, output) {
    /** @type {Map<string, AudioNode>} */
    const outputs = new Map();
    const gains = new Map();
    for (const part of [...PARTS, "count"]) {
      const gain = context.createGain();
      gains.set(part, gain);
      outputs.set(part, gain);
      if (part === "keys") gain.connect(new StereoPannerNode(context, { pan: KEYS_PAN })).connect(output);
      else gain.connect(output);
    }
    return { outputs, gains };
  }

  makeSound() {
    if (this.context) return;
    this.context = new AudioContext({ latencyHint: "interactive" });
    const limiter = new DynamicsCompressorNode(this.context, { threshold: -6, knee: 6, ratio: 12, attack: 0.003, release: 0.15 });
    limiter.connect(this.context.destination);
    const master = this.context.createGain();
    master.connect(limiter);
    const { outputs, gains } = this.outputs(this.context, master);
    this.gains = gains;
    this.gains.set("all", master);
    this.player = new Player(this.context, song, this.rows, outputs);
    this.setLevels();
  }

  get now() {
    return this.context ? this.context.currentTime : 0;
  }

  /** The time that is heard now: what was scheduled takes a while to come out. */
  get heardTime() {
    if (!this.context) return 0;
    const latency = this.context.outputLatency || this.context.baseLatency || 0;
    return this.now - latency - LIMITER_SEC - Number(input("offset").value) / 1000;
  }

  async play() {
    this.makeSound();
    if (!this.context || !this.player) return;
    await this.context.resume();
    this.player.wishes = this.wishes();
    this.player.start(this.now + SOON_SEC, this.position);
    this.pump();
    setText(byId("play"), "Stop");
    this.lastTime = this.now;
    this.keepAwake();
    requestAnimationFrame(() => this.frame());
  }

  stop() {
    this.player?.stop(this.now);
    setText(byId("play"), "Play");
    this.lock?.release?.().catch(() => undefined);
    this.lock = null;
  }

  keepAwake() {
    const { wakeLock } = /** @type {any} */ (navigator);
    wakeLock?.request("screen").then((/** @type {any} */ lock) => (this.lock = lock)).catch(() => undefined);
  }

  toggle() {
    if (this.player?.isPlaying) this.stop();
    else this.play();
  }

  wishes() {
    const percent = (/** @type {string} */ id) => Number(input(id).value) / 100;
    const ladder = { start: percent("ladder-start"), step: percent("ladder-step"), top: percent("ladder-top"), passes: Number(input("ladder-passes").value) || 1 };
    return {
      share: this.share,
      loop: this.loop,
      countsIn: input("counts-in").checked,
      clickOut: Number(input("click-out").value),
      clickOf: Number(input("click-of").value),
      takesTurns: input("turns").checked,
      ladder: input("ladder-on").checked ? ladder : null,
      transpose: Number(input("transpose").value),
    };
  }

  /** Something that is planned ahead has changed. */
  replan() {
    if (!this.player) return;
    this.player.wishes = this.wishes();
    if (!this.player.isPlaying) return;
    this.player.replan(this.now + SOON_SEC);
    this.pump();
  }

  pump() {
    if (!this.player?.isPlaying) return;
    const ahead = document.hidden ? AHEAD_HIDDEN_SEC : AHEAD_SEC;
    this.player.pump(this.now + ahead);
    const passed = this.now - this.lastTime;
    this.lastTime = this.now;
    const before = this.playedSec;
    this.playedSec += passed;
    if (before < BREAK_SEC && this.playedSec >= BREAK_SEC) setText(byId("message"), "Twenty minutes of play: a good time for a break for hands and ears.");
    if (this.now > this.player.endTime + 0.3) {
      this.stop();
      this.position = this.loop ? shown.bars[this.loop[0]].start : 0;
      this.draw();
    }
  }

  frame() {
    if (!this.player?.isPlaying) return;
    this.draw();
    requestAnimationFrame(() => this.frame());
  }

  draw() {
    let counting = "";
    const place = this.player ? placeAt(this.player.spans, this.heardTime) : null;
    let counts = false;
    if (place) {
      const { span, position } = place;
      counts = span.counts;
      this.position = counts ? span.to : Math.min(position, span.to - 1e-6);
      if (counts) counting = this.countWords(span, position);
      if (!counts && this.player?.wishes.ladder) this.showShare(span.share);
    }
    const bar = Math.max(0, shown.bars.findLastIndex((each) => each.start <= this.position + 1e-6));
    const { sounds, follows } = bassAt(shown.bass, this.position);
    const note = place && !counts ? sounds : -1;
    this.form.show(shown.bars[bar].section);
    this.lead.show(this.position, bar, this.loop, counting);
    this.sheet?.show(bar, note);
    this.neck.show(note, note < 0 && sounds >= 0 ? sounds : follows);
  }

  /**
   * @param {import("./timing.js").Span} span
   * @param {number} position
   */
  countWords(span, position) {
    const beat = span.notes.filter((note) => note.onset <= position + 1e-6).length;
    return `count-in ${Math.max(1, beat)} of ${span.notes.length}`;
  }

  /** @param {number} position */
  goTo(position) {
    this.position = position;
    if (this.loop && (position < shown.bars[this.loop[0]].start || position >= shown.bars[this.loop[1]].end)) this.setLoop(null, "once");
    if (this.player?.isPlaying) {
      this.player.wishes = this.wishes();
      this.player.seek(this.now + SOON_SEC, position);
      this.pump();
    }
    this.draw();
  }

  /** @param {number} share */
  setShare(share) {
    this.share = clampShare(share);
    this.showShare(this.share);
    this.replan();
    this.remember();
  }

  /** @param {number} share */
  showShare(share) {
    const bpm = data.beat_bpm * share;
    setText(byId("tempo-shown"), `${data.beat_symbol} = ${Math.round(bpm)}, ${Math.round(share * 100)}%`);
    if (document.activeElement !== byId("share")) input("share").value = String(Math.round(share * 100));
    if (document.activeElement !== byId("bpm")) input("bpm").value = String(Math.round(bpm));
  }

  /** @param {number} bar */
  chooseBar(bar) {
    if (this.firstBar < 0) {
      this.firstBar = bar;
      setText(byId("message"), `Loop from bar ${shown.bars[bar].number}: now press the last bar.`);
      return;
    }
    const loop = /** @type {[number, number]} */ ([Math.min(this.firstBar, bar), Math.max(this.firstBar, bar)]);
    this.firstBar = -1;
    this.setLoop(loop, "bars");
  }

  /**
   * @param {[number, number] | null} loop
   * @param {string} choice
   */
  setLoop(loop, choice) {
    this.loop = loop;
    this.firstBar = -1;
    const select = /** @type {HTMLSelectElement} */ (byId("loop"));
    select.value = choice;
    const words = loop ? `${shown.bars[loop[0]].number}-${shown.bars[loop[1]].number}` : "";
    if (document.activeElement !== byId("bars")) input("bars").value = words;
    setText(byId("message"), loop ? `Looping bars ${shown.bars[loop[0]].number} to ${shown.bars[loop[1]].number}.` : "Playing through once.");
    for (const sheet of Object.values(this.sheets)) sheet.setLoop(loop);
    this.form.showLoop(shown, loop);
    if (loop && (this.position < shown.bars[loop[0]].start || this.position >= shown.bars[loop[1]].end)) this.position = shown.bars[loop[0]].start;
    this.replan();
    this.draw();
    this.remember();
  }

  /** @param {string} choice */
  chooseLoop(choice) {
    if (choice === "once") this.setLoop(null, choice);
    else if (choice === "song") this.setLoop([0, shown.bars.length - 1], choice);
    else if (choice === "bars") byId("bars").focus();
    else {
      const { first, bars } = shown.sections[Number(choice)];
      this.setLoop([first, first + bars - 1], choice);
    }
  }

  typeBars() {
    const text = input("bars").value;
    const found = parseBars(text, shown.bars);
    input("bars").setAttribute("aria-invalid", String(!found && text.trim() !== ""));
    if (found) this.setLoop(found, "bars");
    else if (text.trim() === "") this.setLoop(null, "once");
    else setText(byId("message"), `Bars are typed as 5-8, from ${shown.bars[0].number} to ${shown.bars[shown.bars.length - 1].number}.`);
  }

  tap() {
    this.taps.push(performance.now());
    const bpm = tappedBpm(this.taps);
    if (bpm > 0) this.setShare(bpm / data.beat_bpm);
  }

  setLevels() {
    if (!this.context) return;
    const square = (/** @type {string} */ id) => (Number(input(id).value) / 100) ** 2;
    for (const part of PARTS) this.gains.get(part)?.gain.setTargetAtTime(input(`${part}-on`).checked ? square(`level-${part}`) : 0, this.now, 0.01);
    this.gains.get("count")?.gain.setTargetAtTime(square("level-click"), this.now, 0.01);
    this.gains.get("all")?.gain.setTargetAtTime(square("level-all"), this.now, 0.01);
  }

  chooseSheet() {
    const name = matchMedia(WIDE_SCREEN).matches ? "wide" : "narrow";
    if (this.sheet === this.sheets[name]) return;
    byId("sheet").replaceChildren();
    this.sheet = this.sheets[name] ?? null;
    if (this.sheet) {
      this.sheet.figures.clear();
      this.sheet.bar = -1;
      this.sheet.note = -1;
    }
    this.draw();
  }

  chooseView() {
    const isCard = input("view").value === "card";
    byId("practice").hidden = isCard;
    byId("card").hidden = !isCard;
    document.body.classList.toggle("card-view", isCard);
  }

  chooseKey() {
    const semitones = Number(input("transpose").value);
    this.lead.transpose = semitones;
    const told = semitones ? `Sounds in ${data.key_names[String(semitones)]}; sheet, neck and card show ${data.key_names["0"]}.` : "";
    setText(byId("message"), told);
    this.replan();
    this.draw();
  }

  fillPrint() {
    const sheet = this.sheets.wide;
    if (sheet) byId("print").replaceChildren(...sheet.sheet.drawings.map((_, index) => sheet.drawing(index)));
  }

  // --- what is remembered ---

  get memoryKey() {
    return `practice ${data.page}`;
  }

  remember() {
    /** @type {Record<string, string | boolean>} */
    const kept = { share: String(this.share), loop: input("loop").value, bars: this.loop ? input("bars").value : "" };
    for (const id of SETTINGS) kept[id] = input(id).type === "checkbox" ? input(id).checked : input(id).value;
    try {
      localStorage.setItem(this.memoryKey, JSON.stringify(kept));
    } catch {
      // A private window keeps nothing; the page works without.
    }
  }

  recall() {
    let kept = null;
    try {
      kept = JSON.parse(localStorage.getItem(this.memoryKey) ?? "null");
    } catch {
      kept = null;
    }
    if (!kept || typeof kept !== "object") return;
    for (const id of SETTINGS) {
      const value = kept[id];
      if (typeof value === "boolean") input(id).checked = value;
      else if (typeof value === "string") input(id).value = value;
    }
    this.share = clampShare(Number(kept.share) || 1);
    const loop = parseBars(String(kept.bars ?? ""), shown.bars);
    if (loop) this.setLoop(loop, String(kept.loop));
  }

  forget() {
    try {
      localStorage.removeItem(this.memoryKey);
    } catch {
      // Nothing was kept.
    }
    setText(byId("message"), "Forgotten. Open the page anew to begin with its first settings.");
  }
}

const PLANNED = ["counts-in", "click-out", "click-of", "turns", "ladder-on", "ladder-start", "ladder-step", "ladder-top", "ladder-passes"];
const LEVELS = ["level-all", "level-bass", "level-drums", "level-keys", "level-click", "bass-on", "drums-on", "keys-on", "click-on"];
const SETTINGS = [...PLANNED, ...LEVELS, "transpose", "view", "left-handed", "offset", "letters", "card-hides"];

function fillChoices() {
  const option = (/** @type {string} */ value, /** @type {string} */ text) => make("option", { value }, text);
  byId("loop").append(option("once", "through once"), option("song", "the whole song, again and again"));
  shown.sections.forEach((section, index) => byId("loop").append(option(String(index), section.label)));
  byId("loop").append(option("bars", "the bars typed here"));
  for (let semitones = 6; semitones >= -6; semitones -= 1) {
    const sign = semitones > 0 ? `+${semitones}` : String(semitones);
    byId("transpose").append(option(String(semitones), `${data.key_names[String(semitones)]} (${sign})`));
  }
  input("transpose").value = "0";
}

/** @param {Page} page */
function listen(page) {
  const on = (/** @type {string} */ id, /** @type {string} */ event, /** @type {() => void} */ act) => byId(id).addEventListener(event, act);
  on("play", "click", () => page.toggle());
  on("slower", "click", () => page.setShare(page.share - 0.05));
  on("faster", "click", () => page.setShare(page.share + 0.05));
  on("share", "input", () => page.setShare(Number(input("share").value) / 100));
  on("bpm", "change", () => page.setShare((Number(input("bpm").value) || data.beat_bpm) / data.beat_bpm));
  on("tap", "click", () => page.tap());
  on("loop", "change", () => page.chooseLoop(input("loop").value));
  on("bars", "change", () => page.typeBars());
  on("transpose", "change", () => page.chooseKey());
  on("view", "change", () => page.chooseView());
  on("left-handed", "change", () => page.neck.mirror(input("left-handed").checked));
  on("card-hides", "change", () => byId("card").classList.toggle("hides", input("card-hides").checked));
  on("print-it", "click", () => window.print());
  on("forget", "click", () => page.forget());
  for (const id of PLANNED) on(id, "change", () => page.replan());
  for (const id of LEVELS) on(id, "input", () => page.setLevels());
  for (const id of SETTINGS) on(id, "change", () => page.remember());
  document.addEventListener("keydown", (event) => pressed(page, event));
  document.addEventListener("visibilitychange", () => page.pump());
  addEventListener("beforeprint", () => page.fillPrint());
  addEventListener("afterprint", () => byId("print").replaceChildren());
  matchMedia(WIDE_SCREEN).addEventListener("change", () => page.chooseSheet());
}

/**
 * @param {Page} page
 * @param {KeyboardEvent} event
 */
function pressed(page, event) {
  const target = /** @type {HTMLElement} */ (event.target);
  const typing = ["INPUT", "SELECT", "TEXTAREA"].includes(target.tagName);
  if (!input("letters").checked || typing || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === " " && target.tagName !== "BUTTON") {
    event.preventDefault();
    page.toggle();
  } else if (event.key === "s") page.setShare(page.share - 0.05);
  else if (event.key === "f") page.setShare(page.share + 0.05);
  else if (event.key === "b") input("bass-on").click();
  else if (event.key === "l") page.chooseLoop(page.loop ? "once" : String(Math.max(0, page.form.current)));
}

async function open() {
  fillChoices();
  const parts = Object.keys(data.sounds);
  const [rows, ...sheets] = await Promise.all([
    Promise.all(parts.map((part) => decoded(part, data.sounds[part]))),
    ...Object.keys(data.sheets).map((name) => unzipped(`sheet-${name}`)),
  ]);
  const page = new Page(new Map(parts.map((part, index) => [part, rows[index]])));
  Object.keys(data.sheets).forEach((name, index) => (page.sheets[name].sheet.drawings = sheets[index]));
  page.recall();
  page.showShare(page.share);
  page.chooseSheet();
  page.chooseView();
  page.lead.transpose = Number(input("transpose").value);
  page.neck.mirror(input("left-handed").checked);
  byId("card").classList.toggle("hides", input("card-hides").checked);
  page.draw();
  listen(page);
  setInterval(() => page.pump(), TICK_MS);
  // For the tests: the page and what it is made of.
  Object.assign(globalThis, { practicePage: { page, Player, song, shown, spanEnd } });
  document.body.dataset.ready = "yes";
}

open();
