// Hears and judges made takes as the page does: node tests/page/judge_takes.mjs FOLDER, for the tests.
// A take is NAME.f32 (mono) and NAME.json; what is printed is JSON, a take each.
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";

const BLOCK = 2048;
const load = (name) => {
  const path = new URL(`../../groove/page/${name}`, import.meta.url);
  const source = readFileSync(path, "utf8").replace(/^import .*?;\n/gms, "");
  return source.replace(/^export /gm, "");
};
const names = "Hearing, judged, rulesOf, blocksOf, stickDelay";
const source = `${["hearing.js", "pairing.js", "judging.js"].map(load).join("\n")}\nexport { ${names} };`;
const ear = await import(`data:text/javascript;base64,${Buffer.from(source).toString("base64")}`);

const folder = process.argv[2];
const rules = ear.rulesOf(JSON.parse(readFileSync(join(folder, "verdict"), "utf8")));
const results = {};
for (const file of readdirSync(folder).filter((each) => each.endsWith(".json"))) {
  const name = file.slice(0, -5);
  const told = JSON.parse(readFileSync(join(folder, file), "utf8"));
  const bytes = readFileSync(join(folder, `${name}.f32`));
  const samples = new Float32Array(bytes.buffer, bytes.byteOffset, bytes.length / 4);
  const hearing = new ear.Hearing(told.rate);
  for (let at = 0; at < samples.length; at += BLOCK) hearing.push(samples.subarray(at, at + BLOCK));
  const heards = hearing.onsets.map((onset) => ({ ...onset, time: onset.sec }));
  const sticks = told.sticks ? ear.stickDelay(told.sticks, heards) : null;
  const pass = { dues: told.dues, heards, stickDelay: sticks, near: null, gaps: told.gaps ?? [], isLine: told.isLine ?? true };
  const found = ear.judged(rules, pass);
  const bars = (/** @type {number[]} */ list) => list.map((bar) => `bar ${bar}`).join(", ");
  const blocks = ear.blocksOf(rules, found, { bars, note: (pitch) => String(Math.round(pitch)) });
  results[name] = { ...found, pass: undefined, sticks, marks: [...found.marks], blocks };
}
process.stdout.write(JSON.stringify(results));
