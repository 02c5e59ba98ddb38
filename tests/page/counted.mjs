// Prints when the page's player counts a song in, in seconds from the first stroke, and when the song
// begins: node tests/page/counted.mjs < data.json, for the tests.  The data are those of the page.
import { readFileSync } from "node:fs";

const load = (name) => {
  const source = readFileSync(new URL(`../../groove/page/${name}`, import.meta.url), "utf8");
  return source.replace(/^import .*?;\n/gms, "").replace(/^export /gm, "");
};
const source = `${["timing.js", "shown.js", "player.js"].map(load).join("\n")}\nexport { Player, shownOf, songOf };`;
const { Player, shownOf, songOf } = await import(`data:text/javascript;base64,${Buffer.from(source).toString("base64")}`);

const data = JSON.parse(readFileSync(0, "utf8"));
const player = new Player({ currentTime: 0 }, songOf(data, shownOf(data)), new Map(), new Map());
const span = player.countSpan(0, 0, 1);
console.log(JSON.stringify({ strokes: span.notes.map((note) => note.onset - span.from), song: span.to - span.from }));
