// What plays: the band or a record, under the same controls, by the chart's bars.

import { input } from "./dom.js";
import { keepMap, mapFor } from "./recordfile.js";
import { carried, linesOf, songInRecord } from "./recordmap.js";
import { RECORD, RecordPlayer } from "./recordplayer.js";
import { momentAt, spanEnd, timeIn } from "./timing.js";

/** @typedef {import("./page.js").Page} Page */
/** @typedef {import("./player.js").Player} Player */
/** @typedef {import("./player.js").Voice} Voice */
/** @typedef {import("./recordfile.js").RecordFile} RecordFile */
/** @typedef {import("./recordmap.js").BarMap} BarMap */
/** @typedef {import("./timing.js").Span} Span */
/** @typedef {{player: Player, spans: Span[], voices: Voice[], time: number, isRecord: boolean}} Leaving what is heard up to a time */
/** @typedef {{span: Span, position: number, place: number}} Moment position as the span counts, place in the chart */

const AT_ONCE_SEC = 0.06;
const JUST_SEC = 1e-6;
export const SHELF_HZ = 250;

export class Sources {
  /** @param {Page} page */
  constructor(page) {
    this.page = page;
    this.chart = linesOf(page.shown.bars);
    this.isRecord = false;
    /** @type {RecordFile | null} */
    this.file = null;
    /** @type {BarMap} */
    this.map = { lines: this.chart, sure: [] };
    /** @type {"kept" | "told" | "guess"} whence the bar lines are */
    this.from = "guess";
    /** @type {Player | null} */
    this.band = null;
    /** @type {RecordPlayer | null} */
    this.record = null;
    /** @type {Leaving | null} */
    this.leaving = null;
    /** @type {BiquadFilterNode | null} */
    this.shelf = null;
    /** @type {GainNode | null} */
    this.level = null;
  }

  // --- places ---

  /**
   * Where what plays has a position of the chart.
   * @param {number} position
   */
  played(position) {
    return this.isRecord ? carried(this.chart, this.map.lines, position) : position;
  }

  /**
   * The position in the chart of what a player has there; beyond the song its first or last moment.
   * @param {number} played
   * @param {boolean} isRecord
   */
  placed(played, isRecord) {
    if (!isRecord) return played;
    const position = carried(this.map.lines, this.chart, played);
    return Math.min(this.chart[this.chart.length - 1] - JUST_SEC, Math.max(this.chart[0], position));
  }

  /** @returns {Moment | null} what is heard now */
  moment() {
    const { mixer, player } = this.page;
    if (!mixer || !player) return null;
    const time = mixer.heardTime;
    if (this.leaving && time >= this.leaving.time) this.leaving = null;
    const { spans, isRecord } = this.leaving ?? { spans: player.spans, isRecord: this.isRecord };
    const found = momentAt(spans, time);
    if (!found) return null;
    const { span, position } = found;
    return { ...found, place: this.placed(span.counts ? span.to : Math.min(position, span.to - JUST_SEC), isRecord) };
  }

  /**
   * How fast what plays is at a position, as a part of the chart's own tempo.
   * @param {number} bar
   */
  tempoOf(bar) {
    return this.isRecord ? this.ratio(bar, bar + 1) : 1;
  }

  /** The tempo of what plays at full speed, in the chart's beat, all in all. */
  get bpm() {
    return this.page.data.beat_bpm * (this.isRecord ? this.ratio(0, this.chart.length - 1) : 1);
  }

  /**
   * @param {number} from bar line
   * @param {number} to
   */
  ratio(from, to) {
    const { chart, map } = this;
    return (chart[to] - chart[from]) / (map.lines[to] - map.lines[from]);
  }

  // --- players ---

  /**
   * There is sound now: return what is to play.
   * @param {Player} band
   */
  wired(band) {
    this.band = band;
    this.leaving = null;
    this.makeRecord();
    return this.chosen ?? band;
  }

  get chosen() {
    return this.isRecord ? this.record : this.band;
  }

  makeRecord() {
    const { mixer, rows, song } = this.page;
    if (!mixer || !this.file) return;
    if (this.shelf?.context !== mixer.context) this.wire(mixer);
    const there = songInRecord(song, this.chart, this.map.lines, this.file.length);
    this.record = new RecordPlayer(mixer.context, there, rows, mixer.outputs, this.file);
  }

  /**
   * The record's own way out: through its low shelf and its level.
   * @param {import("./mixer.js").Mixer} mixer
   */
  wire({ context, all, outputs }) {
    this.shelf = new BiquadFilterNode(context, { type: "lowshelf", frequency: SHELF_HZ });
    this.level = context.createGain();
    this.shelf.connect(this.level).connect(all);
    outputs.set(RECORD, this.shelf);
    this.setLevels();
  }

  setLevels() {
    const { shelf, level, file } = this;
    if (!shelf || !level) return;
    const decibels = Number(input("level-record").value);
    shelf.gain.setTargetAtTime(Number(input("record-shelf").value), shelf.context.currentTime, 0.01);
    level.gain.setTargetAtTime((file?.gain ?? 1) * 10 ** (decibels / 20), level.context.currentTime, 0.01);
  }

  /**
   * A record has been opened.
   * @param {RecordFile} file
   */
  take(file) {
    const { page } = this;
    if (this.isRecord) this.choose(false);
    page.stop();
    this.file = file;
    Object.assign(this, mapFor(page.data.title, file, page.data.record, this.chart));
    this.makeRecord();
    this.setLevels();
    this.choose(true);
  }

  /**
   * Other bar lines: what plays goes on by them.
   * @param {BarMap} map
   */
  setMap(map) {
    const { page, file, record } = this;
    if (!file) return;
    const plays = this.isRecord && record?.isPlaying;
    if (plays) record.stop(page.now);
    this.map = map;
    this.from = "kept";
    this.makeRecord();
    if (!page.forgets) keepMap(page.data.title, file, map);
    if (this.isRecord) page.player = this.record;
    if (plays) page.goTo(page.position);
    page.showTempo();
  }

  /**
   * Let the record play, or the band: in play from the next bar line on.
   * @param {boolean} isRecord
   */
  choose(isRecord) {
    const { page } = this;
    if (isRecord === this.isRecord || (isRecord && !this.file)) return;
    const from = page.player;
    if (!from?.isPlaying || this.leaving) {
      page.stop();
      this.isRecord = isRecord;
      page.player = this.chosen;
      return;
    }
    const { time, bar } = lineAfter(from, page.now + AT_ONCE_SEC, page.loop);
    from.pump(time);
    this.leaving = { player: from, spans: from.spans, voices: voicesOf(from), time, isRecord: this.isRecord };
    from.stop(time);
    this.isRecord = isRecord;
    page.player = this.chosen;
    if (!page.player) return;
    page.player.wishes = page.wishes();
    page.player.seek(time, this.played(page.shown.bars[bar].start));
    page.pump();
  }

  /**
   * Nothing is heard any more of what was to play up to a bar line.
   * @param {number} now
   */
  letGo(now) {
    const { leaving } = this;
    this.leaving = null;
    for (const voice of leaving?.voices ?? []) leaving?.player.silence(voice, now);
  }
}

/** @param {Player} player */
function voicesOf(player) {
  return [...player.voices, ...(player instanceof RecordPlayer ? player.pieces : [])];
}

/**
 * The next bar line that is played after a time, and the bar that begins there.
 * @param {Player} player
 * @param {number} time
 * @param {[number, number] | null} loop
 * @returns {{time: number, bar: number}}
 */
function lineAfter(player, time, loop) {
  const found = momentAt(player.spans, time);
  const { bars } = player.song;
  if (!found) return { time, bar: 0 };
  const { span, position } = found;
  if (span.counts) return { time: spanEnd(span), bar: player.barIndex(span.to) };
  const bar = player.barIndex(position);
  const end = Math.min(bars[bar].end, span.to);
  if (loop && end > span.to - JUST_SEC) return { time: spanEnd(span), bar: loop[0] };
  return bar + 1 < bars.length ? { time: timeIn(span, end), bar: bar + 1 } : { time, bar };
}
