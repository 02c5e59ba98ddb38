// A record: the player's own file, from the page or from disk, and what the page keeps of it.

import { keep, keptUnder, songName } from "./memory.js";
import { areLines, evenMap } from "./recordmap.js";
import { bytesOf } from "./rows.js";
import { Stretch } from "./stretch.js";

/** @typedef {import("./recordmap.js").BarMap} BarMap */
/** @typedef {{name: string, buffer: AudioBuffer, stretch: Stretch, length: number, gain: number}} RecordFile gain makes it about as loud as the band */
/** @typedef {{name: string, length_sec: number, tuning_cents: number, lines: number[], sure: number[]}} ToldRecord what the page was made with */

const HELD_ID = "record";
const DECODED_RATE = 44100;
const [MOST_SEC, MOST_UNKNOWN_BYTES, SAME_LENGTH_SEC] = [20 * 60, 60e6, 0.5];
const MOST_MAPS = 6;
/** The band's rendering is as loud as this (mean square, without the filter of ITU-R BS.1770). */
const BAND_DB = -16;
const [BLOCK_SEC, GATE_DB, MOST_GAIN] = [0.4, -50, 2];

/** What keeps a record from being opened, in words for the player. */
export class RecordError extends Error {}

/** Whether a record is inside the page. */
export function isHeld() {
  return document.getElementById(HELD_ID) !== null;
}

/** The file inside the page. */
export function heldFile() {
  return new Blob([bytesOf(HELD_ID)]);
}

/**
 * @param {string} name
 * @param {Blob} blob
 * @returns {Promise<RecordFile>}
 */
export async function openedRecord(name, blob) {
  const length = await lengthOf(blob);
  if (Number.isFinite(length) ? length > MOST_SEC : blob.size > MOST_UNKNOWN_BYTES) {
    throw new RecordError(`${name} lasts longer than ${MOST_SEC / 60} minutes, the most that the page opens: cut the song out of it.`);
  }
  const context = new OfflineAudioContext(2, 1, DECODED_RATE);
  const buffer = await context.decodeAudioData(await blob.arrayBuffer()).catch(() => null);
  if (!buffer || buffer.length < 2) throw new RecordError(`${name} is no sound that this browser can play: WAV, MP3 or FLAC will do.`);
  const gain = gainOf(buffer);
  if (!gain) throw new RecordError(`${name} is silent.`);
  // What slowing it needs is made now, not in play.
  return { name, buffer, stretch: new Stretch(buffer), length: buffer.duration, gain };
}

/**
 * How long a file lasts, read without decoding it; Infinity where it does not say.
 * @param {Blob} blob
 * @returns {Promise<number>}
 */
function lengthOf(blob) {
  const address = URL.createObjectURL(blob);
  const media = new Audio();
  media.preload = "metadata";
  /** @type {Promise<number>} */
  const found = new Promise((told) => {
    media.onloadedmetadata = () => told(media.duration);
    media.onerror = () => told(Infinity);
  });
  media.src = address;
  return found.finally(() => URL.revokeObjectURL(address));
}

/**
 * What brings a record to the loudness of the band, by its blocks that are not silent; 0 if all are.
 * @param {AudioBuffer} buffer
 */
function gainOf(buffer) {
  const size = Math.max(1, Math.round(BLOCK_SEC * buffer.sampleRate));
  const channels = Array.from({ length: buffer.numberOfChannels }, (_, channel) => buffer.getChannelData(channel));
  let [sum, count] = [0, 0];
  for (let start = 0; start < buffer.length; start += size) {
    let square = 0;
    const end = Math.min(buffer.length, start + size);
    // Every fourth sample tells as much of a loudness as all of them.
    for (const channel of channels) for (let index = start; index < end; index += 4) square += channel[index] ** 2;
    const mean = (4 * square) / (end - start);
    if (mean <= 10 ** (GATE_DB / 10)) continue;
    sum += mean;
    count += 1;
  }
  return count ? Math.min(MOST_GAIN, Math.sqrt(10 ** (BAND_DB / 10) / (sum / count))) : 0;
}

/**
 * The bar lines of a record: those that were kept of it, else those that the page was made with, else
 * at the chart's tempo from its beginning on.
 * @param {string} title
 * @param {RecordFile} file
 * @param {ToldRecord | undefined} told
 * @param {number[]} chart
 * @returns {{map: BarMap, from: "kept" | "told" | "guess"}}
 */
export function mapFor(title, file, told, chart) {
  const kept = keptMaps(title)[mapName(file)];
  if (kept && areLines(kept.lines, chart.length)) return { map: { lines: kept.lines, sure: chart.map((_, index) => kept.sure?.[index] === 1) }, from: "kept" };
  if (told && isTold(file, told) && areLines(told.lines, chart.length)) {
    return { map: { lines: told.lines, sure: chart.map((_, index) => told.sure[index] === 1) }, from: "told" };
  }
  return { map: evenMap(chart, 0), from: "guess" };
}

/**
 * Whether a file is the one that the page was made with, by its length.
 * @param {RecordFile} file
 * @param {ToldRecord} told
 */
export function isTold(file, told) {
  return Math.abs(told.length_sec - file.length) <= SAME_LENGTH_SEC;
}

/**
 * @param {string} title
 * @returns {Record<string, {lines: number[], sure: number[]}>} by length of the file
 */
function keptMaps(title) {
  const { maps } = keptUnder(songName(title));
  return maps && typeof maps === "object" ? maps : {};
}

/** @param {RecordFile} file */
function mapName(file) {
  return file.length.toFixed(2);
}

/**
 * Keep the bar lines of a record on this device, and nothing else of it.
 * @param {string} title
 * @param {RecordFile} file
 * @param {BarMap} map
 */
export function keepMap(title, file, map) {
  const lines = map.lines.map((line) => Math.round(1000 * line) / 1000);
  const others = Object.entries(keptMaps(title)).filter(([name]) => name !== mapName(file));
  const maps = Object.fromEntries([...others.slice(1 - MOST_MAPS), [mapName(file), { lines, sure: map.sure.map(Number) }]]);
  keep(songName(title), { ...keptUnder(songName(title)), maps });
}
