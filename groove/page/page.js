// The practice page: between the controls, the player, and what is shown.

import { AheadView } from "./ahead.js";
import { Awake } from "./awake.js";
import { byId, input, make, setText } from "./dom.js";
import { FittedText } from "./fitted.js";
import { FormLine } from "./form.js";
import { showKey } from "./key.js";
import { LeadView } from "./lead.js";
import { goWhereLeft, keepPage, recalled, showLog } from "./kept.js";
import { emptyLog, logName, logPlayed } from "./log.js";
import { Mixer, showLevels } from "./mixer.js";
import { toBar } from "./moves.js";
import { NeckView } from "./neck.js";
import { Player } from "./player.js";
import { SheetView } from "./sheet.js";
import { bassAt, barAt } from "./shown.js";
import { Sources } from "./source.js";
import { lookForSound, NO_SOUND, oneAtATime, showTrouble, soundStarts } from "./sound.js";
import { showTempo } from "./tempo.js";
import { Told } from "./told.js";
import { clampShare, FASTEST, ladderShare, parseBars, SLOWEST, tappedBpm } from "./timing.js";
import { showWhy } from "./why.js";
import { barNumbers, barWords, beatAt } from "./words.js";

/** @typedef {import("./player.js").Row} Row */
/** @typedef {import("./player.js").Song} Song */
/** @typedef {import("./sheet.js").Sheet} Sheet */
/** @typedef {import("./shown.js").Shown} Shown */
/** @typedef {{data: any, shown: Shown, song: Song, rows: Map<string, Row>, sounds: Promise<unknown>, sheets: Record<string, Sheet>, cards: string[], moved: import("./neck.js").MovedLines}} Contents */

const AHEAD_SEC = 0.5;
const AHEAD_HIDDEN_SEC = 2.5;
const SOON_SEC = 0.06;
const BREAK_SEC = 20 * 60;
const SAID_MS = 8000;
const TAIL_SEC = 0.3;
const SMALL_SCREEN = "(max-width: 44rem), (max-height: 32rem)";
const SIDE_SCREEN = "(min-width: 36rem) and (max-height: 32rem)";
const LEAST_PANEL_PX = 150;
const TITLE_PX = 20;

export class Page {
  /** @param {Contents} contents */
  constructor({ data, shown, song, rows, sounds, sheets, cards, moved }) {
    this.data = data;
    this.shown = shown;
    this.song = song;
    this.rows = rows;
    this.sounds = sounds;
    this.cards = cards;
    /** @type {Mixer | null} */
    this.mixer = null;
    /** @type {Player | null} */
    this.player = null;
    /** @type {[number, number] | null} */
    this.loop = null;
    this.share = 1;
    this.position = 0;
    this.bar = 0;
    /** @type {number[]} */
    this.taps = [];
    this.playedSec = 0;
    this.lastTime = 0;
    this.sayTimer = 0;
    this.isStarting = false;
    this.forgets = false;
    this.left = -1;
    this.log = emptyLog();
    this.awake = new Awake();
    this.told = new Told(this);
    this.sources = new Sources(this);
    const presses = {
      press: (/** @type {number} */ bar) => toBar(this, bar),
      draw: (/** @type {number} */ first, /** @type {number} */ last) => this.setLoop([first, last], "bars"),
      hold: (/** @type {number} */ bar) => this.chooseLoop(String(shown.bars[bar].section)),
    };
    this.title = new FittedText(byId("title"), TITLE_PX);
    this.title.show(byId("title").textContent ?? "");
    this.form = new FormLine(shown, presses);
    this.lead = new LeadView(shown);
    this.ahead = new AheadView(shown, presses);
    this.moved = moved;
    this.neck = new NeckView(shown, moved);
    this.sheet = new SheetView(sheets, shown, presses);
    this.tellOthers = oneAtATime(this);
  }

  /** Show the page as it was left, or as it comes. */
  begin() {
    const kept = recalled(this);
    this.share = clampShare(Number(kept.share) || 1);
    this.showView();
    this.showKey();
    this.hideChords();
    showLevels();
    showWhy(this);
    goWhereLeft(this, kept);
    this.neck.mirror(input("left-handed").checked);
    const sizes = new ResizeObserver(() => this.fit());
    for (const id of ["sheet", "hand", "lead", "form", "front", "key-says"]) sizes.observe(byId(id));
    matchMedia(SMALL_SCREEN).addEventListener("change", () => this.chooseView());
    this.fit();
  }

  /** Give everything the size that its place has now. */
  fit() {
    this.title.fit();
    const { top } = byId("practice").getBoundingClientRect();
    const under = matchMedia(SIDE_SCREEN).matches ? top : byId("lead").getBoundingClientRect().bottom;
    const room = byId("controls").getBoundingClientRect().top - (byId("practice").hidden ? 0 : under);
    byId("panels").style.setProperty("--panel", `${Math.max(LEAST_PANEL_PX, Math.floor(room) - 4)}px`);
    if (byId("practice").hidden) return;
    this.form.fit();
    this.lead.fit();
    this.ahead.fit();
    this.neck.fit(this.view === "neck");
    this.sheet.fit();
  }

  // --- play ---

  makeSound() {
    if (this.mixer) return;
    this.mixer = new Mixer();
    this.mixer.context.addEventListener("statechange", () => lookForSound(this));
    this.player = this.sources.wired(new Player(this.mixer.context, this.song, this.rows, this.mixer.outputs));
  }

  /** Leave a sound that does not start: the next press makes a new one. */
  dropSound() {
    this.mixer?.context.close().catch(() => undefined);
    this.mixer = null;
    this.player = null;
  }

  get now() {
    return this.mixer ? this.mixer.now : 0;
  }

  async play() {
    if (this.isStarting) return;
    this.makeSound();
    if (!this.mixer || !this.player) return;
    this.isStarting = true;
    // Until they are unpacked there is nothing to play; the device's clock is started by the press.
    if (this.rows.size < Object.keys(this.data.sounds).length) this.say("The sounds are being unpacked.");
    const [starts] = await Promise.all([soundStarts(this.mixer.context), this.sounds]);
    this.isStarting = false;
    this.say("");
    showTrouble(starts ? "" : NO_SOUND);
    if (!starts) {
      this.dropSound();
      return;
    }
    this.tellOthers();
    this.player.wishes = this.wishes();
    // What is counted in begins with its bar, wherever in it the page was paused.
    if (this.player.wishes.countsIn) this.position = this.shown.bars[barAt(this.shown.bars, this.position)].start;
    this.player.start(this.now + SOON_SEC, this.sources.played(this.position));
    this.lastTime = this.now;
    this.pump();
    setText(byId("play"), "Pause");
    this.awake.hold();
  }

  stop() {
    this.player?.stop(this.now);
    this.sources.letGo(this.now);
    setText(byId("play"), "Play");
    this.draw();
    this.remember();
    showLog(this);
    this.awake.letGo();
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
      ladder: input("ladder-on").checked && this.loop ? ladder : null,
      transpose: this.semitones,
      bassMoves: this.moved[String(this.semitones)]?.map(([by]) => by) ?? null,
    };
  }

  /** Something that is planned ahead has changed. */
  replan() {
    showWhy(this);
    this.showTempo();
    if (!this.player) return;
    this.player.wishes = this.wishes();
    if (!this.player.isPlaying) return;
    this.player.replan(this.now + SOON_SEC);
    this.pump();
  }

  pump() {
    lookForSound(this);
    if (!this.player?.isPlaying) return;
    this.player.pump(this.now + (document.hidden ? AHEAD_HIDDEN_SEC : AHEAD_SEC));
    this.countPlay();
    if (this.now <= this.player.endTime + TAIL_SEC) return;
    this.stop();
    this.position = this.loopStart;
    this.draw();
  }

  countPlay() {
    const before = this.playedSec;
    const passed = this.now - this.lastTime;
    this.playedSec += passed;
    this.lastTime = this.now;
    if (this.now > (this.player?.spans.find((span) => !span.counts)?.time ?? Infinity)) logPlayed(this.log, logName(this.shown, this.bar), passed);
    if (before < BREAK_SEC && this.playedSec >= BREAK_SEC) this.say("Twenty minutes of play: a good time for a break for hands and ears.", true);
  }

  /** @param {number} position */
  goTo(position) {
    this.position = position;
    if (this.loop && !this.inLoop(position)) this.setLoop(null, "once");
    if (this.player?.isPlaying) {
      this.player.wishes = this.wishes();
      this.sources.letGo(this.now);
      this.player.seek(this.now + SOON_SEC, this.sources.played(position));
      this.pump();
    }
    this.draw();
  }

  // --- what is shown ---

  /**
   * Say something above the play button, for a while or until something else is said.
   * @param {string} text
   * @param {boolean} stays
   */
  say(text, stays = false) {
    setText(byId("message"), text);
    clearTimeout(this.sayTimer);
    if (!stays) this.sayTimer = setTimeout(() => setText(byId("message"), ""), SAID_MS);
  }

  /** What is done some forty times a second; a frame is made only where something has changed. */
  tick() {
    this.pump();
    if (this.player?.isPlaying) this.draw();
  }

  draw() {
    const moment = this.sources.moment();
    const counts = moment !== null && moment.span.counts;
    if (moment) this.position = moment.place;
    this.showTempo(moment?.span.share);
    const bar = barAt(this.shown.bars, this.position);
    this.bar = bar;
    const { sounds, follows } = bassAt(this.shown, this.position, this.loop);
    const note = moment && !counts ? sounds : -1;
    this.form.show(bar);
    const beat = moment ? this.beatOf(moment, bar) : 0;
    byId("beats").style.visibility = beat ? "visible" : "hidden";
    this.lead.show(this.position, bar, this.loop, beat, counts);
    this.ahead.show(bar, this.loop, beat && !counts ? beat - this.shown.bars[bar].firstBeat : -1);
    this.sheet.show(bar, note);
    this.neck.show(note, note < 0 && sounds >= 0 ? sounds : follows);
    if (moment && !counts) this.told.inPlay();
  }

  /**
   * The beat that is heard, from 1, in the count-in too.
   * @param {import("./source.js").Moment} moment
   * @param {number} bar
   */
  beatOf({ span, position, place }, bar) {
    if (!span.counts) return beatAt(this.shown.bars[bar], place);
    const counted = span.notes.filter((note) => note.onset <= position + 1e-3);
    return 1 + (counted[counted.length - 1]?.index ?? 0);
  }

  /** What is shown: on a small screen one thing alone. */
  get view() {
    const wanted = input("view").value;
    return wanted === "practice" && matchMedia(SMALL_SCREEN).matches ? "tab" : wanted;
  }

  chooseView() {
    this.showView();
    if (!byId("practice").hidden) this.showKey();
  }

  showView() {
    const isSmall = matchMedia(SMALL_SCREEN).matches;
    setText(byId("view").children[0], isSmall ? "Tab, as it fits" : "Notes and neck");
    const isCard = this.view === "card";
    byId("practice").hidden = isCard;
    byId("card").hidden = !isCard;
    document.body.dataset.view = this.view;
    document.body.classList.toggle("card-view", isCard);
  }

  hideChords() {
    byId("card").classList.toggle("hides", input("card-hides").checked);
  }

  fillPrint() {
    byId("print").replaceChildren(make("p", {}, byId("key-says").textContent ?? ""), ...this.sheet.printed());
    byId("print").toggleAttribute("data-tab", this.semitones !== 0);
  }

  // --- tempo ---

  /** @param {number} share */
  setShare(share) {
    this.share = clampShare(share);
    if (this.share !== Math.round(share * 1000) / 1000) this.say(`From ${100 * SLOWEST} to ${100 * FASTEST} percent: put to ${Math.round(100 * this.share)}.`);
    if (this.wishes().ladder) {
      input("ladder-on").checked = false;
      this.say("The ladder is off: the tempo is yours again.");
    }
    this.replan();
    this.remember();
  }

  /** @param {number} bpm none for the song's own */
  setBpm(bpm) {
    this.setShare((bpm || this.sources.bpm) / this.sources.bpm);
    // The field has the focus, but a tempo that cannot be played must not stay in it.
    input("bpm").value = String(Math.round(this.sources.bpm * this.share));
  }

  /** @param {number} share what plays, else what begins */
  showTempo(share = this.firstShare) {
    showTempo(this, share);
  }

  /** The share at which a pass begins. */
  get firstShare() {
    const { ladder, share } = this.wishes();
    return ladder ? ladderShare(ladder, 1) : share;
  }

  tap() {
    this.taps.push(performance.now());
    const bpm = tappedBpm(this.taps);
    if (bpm > 0) this.setBpm(bpm);
  }

  // --- loop ---

  get loopStart() {
    return this.loop ? this.shown.bars[this.loop[0]].start : 0;
  }

  /** @param {number} position */
  inLoop(position) {
    return this.loop === null || (position >= this.loopStart && position < this.shown.bars[this.loop[1]].end);
  }

  /** @param {string} choice */
  chooseLoop(choice) {
    if (choice === "once") this.setLoop(null, choice);
    else if (choice === "song") this.setLoop([0, this.shown.bars.length - 1], choice);
    else if (choice === "bars") byId("bars").focus();
    else {
      const { first, bars } = this.shown.sections[Number(choice)];
      this.setLoop([first, first + bars - 1], choice);
    }
  }

  typeBars() {
    const { bars } = this.shown;
    const text = input("bars").value;
    const found = parseBars(text, bars, barAt(bars, this.position));
    input("bars").setAttribute("aria-invalid", String(!found && text.trim() !== ""));
    if (found) this.setLoop(found, "bars");
    else if (text.trim() === "") this.setLoop(null, "once");
    else this.say(`Bars are typed as 5-8, from 1 to ${Math.max(...bars.map(({ number }) => number))}, as the chart counts them.`, true);
  }

  /**
   * @param {[number, number] | null} loop first and last bar
   * @param {string} choice
   */
  setLoop(loop, choice) {
    this.loop = loop;
    const numbers = (loop ?? []).map((bar) => this.shown.bars[bar].number);
    input("loop").value = choice;
    if (document.activeElement !== byId("bars")) input("bars").value = numbers.join("-");
    this.say(loop ? `Looping ${barWords(this.shown, ...loop)}.` : "Playing through once.");
    this.sheet.setLoop(loop);
    this.form.showLoop(loop);
    setText(byId("loop-opens"), loop ? `Loop ${barNumbers(this.shown, ...loop)}` : "Loop");
    byId("loop-opens").classList.toggle("set", loop !== null);
    if (!this.inLoop(this.position)) this.position = this.loopStart;
    this.replan();
    this.draw();
    this.remember();
  }

  // --- key ---

  get semitones() {
    return Number(input("transpose").value);
  }

  chooseKey() {
    this.showKey();
    this.replan();
  }

  showKey() {
    showKey(this);
    this.fit();
    this.draw();
  }

  // --- what is remembered ---

  /** @param {Record<string, boolean>} more what else is to be kept until a control changes */
  remember(more = {}) {
    keepPage(this, more);
  }
}
