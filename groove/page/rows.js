// The blocks of the page unpacked: rows of sounds, and the drawings of the sheet and the cards.

import { byId } from "./dom.js";

/** @typedef {import("./player.js").Row} Row */

const MARKER_SEC = 0.02;
const HEAD_SEC = 0.09;
const DECODE_RATE = 48000;

/** @param {string} id */
export function bytesOf(id) {
  const text = atob(byId(id).textContent ?? "");
  const bytes = new Uint8Array(text.length);
  for (let index = 0; index < text.length; index += 1) bytes[index] = text.charCodeAt(index);
  return bytes;
}

/**
 * The texts of a packed block.
 * @param {string} id
 */
export async function unzipped(id) {
  const packed = new DecompressionStream("gzip");
  const writer = packed.writable.getWriter();
  // What is wrong with them is told to the reader as well.
  for (const done of [writer.write(bytesOf(id)), writer.close()]) done.catch(() => undefined);
  return (await new Response(packed.readable).text()).split("\0");
}

/**
 * How much later than meant a row begins, by the marker at its head.
 * @param {AudioBuffer} buffer
 */
function delayOf(buffer) {
  const samples = buffer.getChannelData(0).subarray(0, Math.round(HEAD_SEC * buffer.sampleRate));
  let loudest = 0;
  samples.forEach((value, index) => {
    if (Math.abs(value) > Math.abs(samples[loudest])) loudest = index;
  });
  return loudest / buffer.sampleRate - MARKER_SEC;
}

/**
 * The sounds of a part, each shifted by what the decoder is off.
 * @param {string} part
 * @param {{gain: number, samples: number[][]}} told
 * @returns {Promise<Row>}
 */
export async function decoded(part, told) {
  const context = new OfflineAudioContext(1, 1, DECODE_RATE);
  const buffer = await context.decodeAudioData(bytesOf(`sound-${part}`).buffer);
  const delay = delayOf(buffer);
  const samples = told.samples.map(([pitch, velocity, offset, length, left, right]) => ({ pitch, velocity, offset: Math.max(0, offset + delay), length, left, right }));
  return { buffer, gain: told.gain, samples };
}
