// Opens the page: reads its data, unpacks what it plays and draws, and hands it to the controls.

import { fillChoices, listen } from "./controls.js";
import { byId, setText } from "./dom.js";
import { Ear } from "./ear.js";
import { lookForNewer } from "./newest.js";
import { Page } from "./page.js";
import { Player } from "./player.js";
import { openedRecord } from "./recordfile.js";
import { RecordPanel } from "./recordpanel.js";
import { RecordPlayer } from "./recordplayer.js";
import { decoded, unzipped } from "./rows.js";
import { shownOf, songOf } from "./shown.js";
import { spanEnd } from "./timing.js";

const TICK_MS = 25;
const NEEDED = ["AudioContext", "OfflineAudioContext", "DecompressionStream", "ResizeObserver"];

/**
 * Say on the page why it stays closed.
 * @param {string} title
 * @param {string} text
 */
function stayClosed(title, text) {
  setText(byId("closed").children[0], title);
  setText(byId("closed").children[1], text);
}

/**
 * Unpack the sounds one by one, the longest first: another thread does it while this one lays the
 * page out, and more of them would take its place.
 * @param {Record<string, {gain: number, samples: number[][]}>} told by part
 * @param {Map<string, import("./player.js").Row>} rows where they go
 */
async function unpackSounds(told, rows) {
  const seconds = (/** @type {string} */ part) => told[part].samples.reduce((sum, [, , , length]) => sum + length, 0);
  const parts = Object.keys(told).sort((one, other) => seconds(other) - seconds(one));
  for (const part of parts) rows.set(part, await decoded(part, told[part]));
}

async function open() {
  const missing = NEEDED.filter((name) => !(name in window));
  if (missing.length) {
    stayClosed("This browser is too old for the page", `It lacks ${missing.join(" and ")}. One of 2023 or later has it: update this one, or open the file in another.`);
    return;
  }
  const data = JSON.parse(byId("data").textContent ?? "");
  const shown = shownOf(data);
  const song = songOf(data, shown);
  fillChoices(shown, data.key_names);
  const names = Object.keys(data.sheets);
  // A font that came only with the first line that needs it would lay the page out anew in play.
  const fonts = [...document.fonts].map((face) => face.load());
  const [cards, [moved], ...sheets] = await Promise.all([
    unzipped("cards"),
    unzipped("moved"),
    ...names.map((name) => unzipped(`sheet-${name}`)),
  ]);
  await Promise.all(fonts);
  const rows = new Map();
  const sounds = unpackSounds(data.sounds, rows);
  sounds.catch(() => undefined); // told at the end
  const page = new Page({
    data,
    shown,
    song,
    cards,
    moved: JSON.parse(moved),
    rows,
    sounds,
    sheets: Object.fromEntries(names.map((name, index) => [name, { drawings: sheets[index], rows: data.sheets[name] }])),
  });
  const record = new RecordPanel(page);
  page.begin();
  listen(page);
  lookForNewer(page);
  const ear = new Ear(page);
  setInterval(() => {
    page.tick();
    ear.tick();
    record.tick();
  }, TICK_MS);
  // For the tests: the page and what it is made of.
  Object.assign(globalThis, { practicePage: { page, ear, record, openedRecord, Player, RecordPlayer, song, shown, spanEnd } });
  document.body.dataset.ready = "yes";
  await sounds;
}

open().catch((error) => {
  delete document.body.dataset.ready;
  stayClosed("This page could not be opened", `Make it again, or copy it again whole. What the browser says: ${error}`);
  throw error;
});
