// The page listens: passes are followed, what is heard is judged, and shown where it was played.

import { input, make } from "./dom.js";
import { drawMarks } from "./earmarks.js";
import { EarPanel } from "./earpanel.js";
import { Hearing } from "./hearing.js";
import { blocksOf, filled, isOtherPitch, isTorn, judged, namedBars, rulesOf, wholeOf } from "./judging.js";
import { logClean, logName } from "./log.js";
import { isLoud } from "./mixer.js";
import { Microphone, whyNot } from "./microphone.js";
import { isPlucked, pairsOf, stickDelay } from "./pairing.js";
import { duesOf, gridDues } from "./passes.js";
import { clampShare, spanEnd, timeIn } from "./timing.js";
import { barWords } from "./words.js";

/** @typedef {import("./judging.js").Judged} Judged */
/** @typedef {import("./judging.js").Mark} Mark */
/** @typedef {import("./page.js").Page} Page */
/** @typedef {import("./pairing.js").Due} Due */
/** @typedef {import("./timing.js").Span} Span */
/** @typedef {{spans: Span[], end: number | null, bassOn: boolean}} Listened spans of one pass; when it ended */

const [BEFORE_SEC, AFTER_SEC, JUDGED_AFTER_SEC] = [0.1, 0.55, 0.75];
const [LIVE_SEC, STICKS_SEC] = [4, 2];
const LEAST_PEAK = 0.003;
const STATE_MS = 500;

export class Ear {
  /** @param {Page} page */
  constructor(page) {
    this.page = page;
    this.rules = rulesOf(page.data.verdict);
    /** @type {Microphone | null} */
    this.microphone = null;
    /** @type {Hearing | null} */
    this.hearing = null;
    /** @type {Listened | null} */
    this.pass = null;
    /** @type {Listened[]} passes that are over and not judged yet */
    this.over = [];
    /** @type {Span | null} */
    this.count = null;
    /** @type {number | null} of the sticks of the count-in, in seconds */
    this.sticks = null;
    this.countedIn = false;
    /** @type {number | null} the delay of the pass before */
    this.near = null;
    /** @type {Judged | null} */
    this.found = null;
    /** @type {Map<number, Mark>} */
    this.marks = new Map();
    this.version = 0;
    this.stateAt = 0;
    /** @type {[number, number] | null} the bars that are worked on */
    this.work = null;
    this.panel = new EarPanel({ turn: (on) => this.turn(on), choose: () => this.forgetMarks(), work: (bar) => this.workOn(bar) });
  }

  /**
   * Begin to listen, or end.
   * @param {boolean} on
   */
  async turn(on) {
    if (!on) {
      this.microphone?.close();
      this.microphone = null;
      this.hearing = null;
      this.pass = null;
      this.over = [];
      this.panel.state("");
      return;
    }
    this.page.makeSound();
    const context = this.page.mixer?.context;
    if (!context) return;
    this.panel.state("Asking the browser for the microphone.");
    const microphone = new Microphone(context, (samples) => this.hearing?.push(samples));
    this.hearing = new Hearing(context.sampleRate);
    try {
      await context.resume();
      await microphone.open();
      this.microphone = microphone;
    } catch (error) {
      microphone.close();
      input("ear-on").checked = false;
      this.hearing = null;
      this.panel.state(whyNot(error));
    }
  }

  /** Look what plays, and judge what is over; asked some forty times a second. */
  tick() {
    this.redraw();
    if (!this.microphone || !this.hearing) return;
    this.follow();
    this.measureSticks();
    while (this.over.length && this.microphone.clock.until > /** @type {number} */ (this.over[0].end) + JUDGED_AFTER_SEC) this.judge(/** @type {Listened} */ (this.over.shift()));
    if (input("ear-live").checked && this.pass) this.showLive(this.pass);
    this.tellState();
  }

  follow() {
    const { player, now } = this.page;
    if (!player?.isPlaying) {
      this.endPass(now);
      return;
    }
    for (const span of player.spans) {
      if (span.time > now || this.pass?.spans.includes(span) || this.count === span) continue;
      if (span.counts) this.startCount(span);
      else this.addSpan(span);
    }
  }

  /** @param {Span} span */
  startCount(span) {
    this.endPass(span.time);
    this.count = span;
    // Sticks that are turned down are heard by nobody, and nothing follows from that.
    this.countedIn = isLoud("level-all") && isLoud("level-click");
    this.sticks = null;
  }

  /** @param {Span} span */
  addSpan(span) {
    const last = this.pass?.spans[this.pass.spans.length - 1];
    if (last && last.time > span.time) return;
    if (last && last.pass === span.pass && Math.abs(last.to - span.from) < 1e-3) {
      this.pass?.spans.push(span);
      return;
    }
    this.endPass(span.time);
    const isCounted = this.count !== null && Math.abs(spanEnd(this.count) - span.time) < 1e-3;
    if (!last && !isCounted) [this.countedIn, this.sticks] = [false, null];
    this.pass = { spans: [span], end: null, bassOn: input("bass-on").checked };
  }

  /** @param {number} time */
  endPass(time) {
    if (!this.pass) return;
    this.pass.end = Math.min(time, spanEnd(this.pass.spans[this.pass.spans.length - 1]));
    this.over.push(this.pass);
    this.pass = null;
  }

  /**
   * What was heard from one time to another, on the audio clock.
   * @param {number} from
   * @param {number} to
   */
  heardBetween(from, to) {
    const offset = this.microphone?.clock.offset ?? 0;
    return (this.hearing?.onsets ?? []).map((onset) => ({ ...onset, time: onset.sec + offset })).filter(({ time }) => time >= from && time <= to);
  }

  /** @returns {[number, number][]} where blocks of the microphone were lost or came too late */
  get gaps() {
    return (this.microphone?.gaps ?? []).map(({ from, to }) => [from, to]);
  }

  /**
   * The notes that are due in a pass, as far as it was played.
   * @param {Listened} pass
   * @param {number} until
   * @returns {Due[]}
   */
  duesUntil({ spans }, until) {
    const { player, shown, semitones } = this.page;
    const { bars, notes } = player?.song ?? this.page.song;
    return this.isLine ? duesOf(spans, shown.bass, semitones, until, (grid) => this.barOf(grid)) : gridDues(spans, bars, notes, until);
  }

  /** @param {number} grid */
  barOf(grid) {
    return /** @type {import("./player.js").Player} */ (this.page.player).barIndex(grid);
  }

  get isLine() {
    return input("ear-what").value === "line";
  }

  /** Hear the sticks of the count-in as soon as they have come. */
  measureSticks() {
    const { count } = this;
    const until = this.microphone?.clock.until ?? 0;
    if (!count || this.sticks !== null || until > spanEnd(count) + STICKS_SEC) return;
    const times = count.notes.map((note) => timeIn(count, note.onset));
    this.sticks = stickDelay(times, wholeOf(this.heardBetween(times[0], times[times.length - 1] + AFTER_SEC), this.gaps));
  }

  /** @param {Listened} listened */
  judge(listened) {
    const end = /** @type {number} */ (listened.end);
    const start = listened.spans[0].time;
    const dues = this.duesUntil(listened, end);
    if (dues.length < this.rules.limits.notes_for_bar) return;
    const heards = this.heardBetween(start - BEFORE_SEC, end + AFTER_SEC);
    const found = judged(this.rules, { dues, heards, stickDelay: this.sticks, near: this.near, gaps: this.gaps, isLine: this.isLine });
    this.found = found;
    if (found.isHeard) this.near = found.delaySec;
    this.setMarks(found.isHeard ? found.marks : new Map());
    this.forgetHeard(end);
    this.show(found, listened);
  }

  /**
   * Only what later passes need is kept.
   * @param {number} before
   */
  forgetHeard(before) {
    const offset = this.microphone?.clock.offset ?? 0;
    if (this.hearing) this.hearing.onsets = this.hearing.onsets.filter(({ sec }) => sec + offset > before - BEFORE_SEC);
    if (this.microphone) this.microphone.gaps = this.microphone.gaps.filter(({ to }) => to > before);
  }

  /**
   * @param {Judged} found
   * @param {Listened} listened
   */
  show(found, listened) {
    const { words, cautions } = this.rules;
    const blocks = blocksOf(this.rules, found, this.names);
    const notes = found.isHeard ? [this.againstWords(found), this.aloudWords(listened), ...cautionsOf(found, cautions)].filter(Boolean) : [];
    const raised = found.isHeard ? this.raise(found, listened) : "";
    const choices = found.workOn.map((bar) => ({ bar, words: filled(words["work on it"], { bars: this.names.bars([bar]) }) }));
    this.panel.show({ blocks, notes, choices: found.isHeard ? choices : [], raised });
    // The line over the sheet is short on a phone: the rest stands in the panel.
    const count = filled(words.count, { heard: found.plainHeard, notes: found.plain });
    this.page.say(found.isHeard && found.pass.isLine ? `${count} ${raised}`.trim() : blocks[0].points[0]);
  }

  /** @param {Judged} found */
  againstWords({ isAbsolute, delaySec }) {
    const { words } = this.rules;
    return isAbsolute ? filled(words["against sticks"], { ms: Math.round(1000 * delaySec) }) : words["against own"];
  }

  /** @param {Listened} listened */
  aloudWords({ bassOn }) {
    const { words } = this.rules;
    if (this.sticks !== null) return bassOn ? `${words.aloud} ${words["bass aloud"]}` : words.aloud;
    return this.countedIn ? words["in headphones"] : words["not known"];
  }

  get names() {
    const { shown, data, semitones } = this.page;
    const pitchNames = data.pitch_names[String(semitones)];
    return {
      bars: (/** @type {number[]} */ bars) => runsOf(bars).map(([first, last]) => barWords(shown, first, last)).join(", "),
      note: (/** @type {number} */ pitch) => pitchNames[((Math.round(pitch) % 12) + 12) % 12],
    };
  }

  // --- bars to work on ---

  /**
   * Loop a bar with the one before it, at its last clean tempo or slowly.
   * @param {number} bar
   */
  workOn(bar) {
    const { page } = this;
    const first = Math.max(0, bar - 1);
    this.work = [first, bar];
    page.setLoop([first, bar], "bars");
    page.setShare(page.log.bars[logName(page.shown, bar)]?.clean ?? this.rules.limits.work_share);
    page.goTo(page.shown.bars[first].start);
  }

  /**
   * Up only when a pass was clean, from the time after the one that plays already.
   * @param {Judged} found
   * @param {Listened} listened
   */
  raise(found, listened) {
    const { page, rules, work } = this;
    const { loop } = page;
    const share = listened.spans[listened.spans.length - 1].share;
    if (found.isClean) {
      for (const { bar } of found.bars) logClean(page.log, logName(page.shown, bar), share);
      page.remember();
    }
    if (!work || !loop || loop[0] !== work[0] || loop[1] !== work[1]) return "";
    if (!found.isClean) return rules.words["not clean"];
    const next = Math.min(1, clampShare(share + rules.limits.work_step));
    if (next <= page.share || !page.player) return rules.words.clean;
    page.share = next;
    page.player.wishes = page.wishes();
    return `${rules.words.clean} ${filled(rules.words["next tempo"], { percent: Math.round(100 * next) })}`;
  }

  // --- marks ---

  /** @param {Map<number, Mark>} marks */
  setMarks(marks) {
    this.marks = marks;
    this.version += 1;
  }

  forgetMarks() {
    this.found = null;
    this.setMarks(new Map());
  }

  redraw() {
    const { sheet } = this.page;
    for (const line of sheet?.lines ?? []) {
      if (line.figure.dataset.heard === String(this.version)) continue;
      line.figure.dataset.heard = String(this.version);
      drawMarks(line, this.marks, this.names.note);
      this.nameBars(line.figure);
    }
  }

  /**
   * The medians that are named, beside the bars' numbers.
   * @param {Element} figure
   */
  nameBars(figure) {
    for (const each of figure.querySelectorAll(".median")) each.remove();
    if (!this.found?.isHeard) return;
    const { words, limits } = this.rules;
    for (const { bar, ms } of namedBars(limits, this.found)) {
      const text = ` ${Math.abs(Math.round(ms))} ms ${ms < 0 ? words.early : words.late}`;
      figure.querySelector(`button[data-bar="${bar}"]`)?.append(make("span", { class: "median" }, text));
    }
  }

  /**
   * Marks while the pass goes on: a note as soon as it is heard, or its window has closed.
   * @param {Listened} pass
   */
  showLive(pass) {
    const now = this.microphone?.clock.until ?? 0;
    const delay = this.sticks ?? this.near;
    if (delay === null || !this.isLine) return;
    const dues = this.duesUntil(pass, now - delay - 0.05).filter(({ time }) => time > now - LIVE_SEC);
    const heards = wholeOf(this.heardBetween(now - LIVE_SEC, now), this.gaps);
    const pairs = new Map(pairsOf(dues, heards, () => delay).map(({ due, heard }) => [due, heards[heard]]));
    const { limits } = this.rules;
    const marks = new Map(this.marks);
    dues.forEach((due, index) => {
      const heard = pairs.get(index);
      if (!isPlucked(due)) return;
      const ms = heard ? 1000 * (heard.time - due.time - delay) : 0;
      const isOver = now > due.time + delay + 0.15 && !isTorn(due.time + delay, this.gaps);
      const timed = ms > limits.heard_ms ? "late" : ms < -limits.heard_ms ? "early" : "on";
      /** @type {Mark["kind"]} */
      const kind = heard ? (isOtherPitch(due, heard) ? "other" : timed) : isOver ? "not heard" : "";
      if (kind) marks.set(due.note, { kind, ms, pitch: heard?.pitch ?? NaN });
    });
    if ([...marks].some(([note, { kind }]) => this.marks.get(note)?.kind !== kind)) this.setMarks(marks);
  }

  tellState() {
    const now = performance.now();
    if (!this.microphone || !this.hearing || now - this.stateAt < STATE_MS) return;
    this.stateAt = now;
    const changed = this.microphone.changed.length ? " The browser changes the sound though it was asked not to: less sure." : "";
    this.panel.state(this.hearing.peak < LEAST_PEAK ? `Listening, and nothing is heard: is the bass plugged in?${changed}` : `Listening: the microphone hears you.${changed}`);
  }
}

/**
 * What a reader must not forget, where it is told of.
 * @param {Judged} found
 * @param {string[]} cautions
 */
function cautionsOf(found, [style, unheard, possible]) {
  const kinds = [...found.marks.values()].map(({ kind }) => kind);
  return [
    found.isAbsolute && found.meanMs > 0 && kinds.includes("late") ? style : "",
    kinds.includes("not heard") ? unheard : "",
    found.extras ? possible : "",
  ].map((words) => (words ? `${words[0].toUpperCase()}${words.slice(1)}.` : ""));
}

/**
 * Runs of numbers that follow one another.
 * @param {number[]} numbers
 */
function runsOf(numbers) {
  /** @type {[number, number][]} */
  const runs = [];
  for (const number of [...new Set(numbers)].sort((a, b) => a - b)) {
    const last = runs[runs.length - 1];
    if (last && last[1] === number - 1) last[1] = number;
    else runs.push([number, number]);
  }
  return runs;
}
