// What the page shows of a position: form, chords, two lines of the sheet, the neck.

import { lastAtOrBefore, tickToSec } from "./timing.js";

/** @typedef {import("./timing.js").Change} Change */
/** @typedef {import("./timing.js").Bar} Bar */
/** @typedef {{onset: number, end: number, string: number, fret: number, finger: number}} BassNote */
/** @typedef {{label: string, first: number, bars: number}} Section */
/** @typedef {{bars: Bar[], sections: Section[], chords: number[][], names: Record<string, string[]>, bass: BassNote[], strings: string[], length: number}} Shown */
/** @typedef {{drawings: string[], rows: number[][]}} Sheet */

const SVG = "http://www.w3.org/2000/svg";
const INLAYS = [3, 5, 7, 9, 12, 15, 17, 19, 21, 24];
const HEAD_SPACES = 0.6;
const READY_MS = 300;

/** @param {string} id */
export function byId(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`no element ${id}`);
  return found;
}

/**
 * Make an element with attributes and a text; the text is never read as markup.
 * @param {string} name
 * @param {Record<string, string | number>} attributes
 * @param {string} text
 */
export function make(name, attributes = {}, text = "") {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, String(value));
  element.textContent = text;
  return element;
}

/**
 * @param {string} name
 * @param {Record<string, string | number>} attributes
 * @param {string} text
 */
function draw(name, attributes, text = "") {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, String(value));
  if (text) element.textContent = text;
  return element;
}

/**
 * Set a text only where it differs, so that nothing is laid out in vain.
 * @param {Element} element
 * @param {string} text
 */
export function setText(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/**
 * The bass note that sounds at a position, and the one that follows; -1 for none.
 * @param {BassNote[]} bass
 * @param {number} position
 */
export function bassAt(bass, position) {
  const last = lastAtOrBefore(bass, position, (note) => note.onset);
  const sounds = last >= 0 && position < bass[last].end ? last : -1;
  return { sounds, follows: last + 1 < bass.length ? last + 1 : -1 };
}

/** The form as a row of buttons, one a section as played. */
export class FormRow {
  /**
   * @param {Shown} shown
   * @param {(section: number) => void} onChoose
   */
  constructor(shown, onChoose) {
    this.buttons = shown.sections.map((section, index) => {
      const item = make("li");
      item.style.setProperty("--bars", String(section.bars));
      const button = make("button", { type: "button", title: `Play from ${section.label}` }, section.label);
      button.addEventListener("click", () => onChoose(index));
      item.append(button);
      byId("form").append(item);
      return button;
    });
    this.current = -1;
  }

  /** @param {number} section */
  show(section) {
    if (section === this.current) return;
    this.buttons[this.current]?.removeAttribute("aria-current");
    this.buttons[section]?.setAttribute("aria-current", "true");
    this.current = section;
  }

  /**
   * @param {Shown} shown
   * @param {[number, number] | null} loop
   */
  showLoop(shown, loop) {
    this.buttons.forEach((button, index) => {
      const { first, bars } = shown.sections[index];
      button.classList.toggle("looped", loop !== null && first <= loop[1] && first + bars > loop[0]);
    });
  }
}

/** Two lines of the sheet: the one that is played, and the one that comes next. */
export class SheetView {
  /**
   * @param {Sheet} sheet
   * @param {Shown} shown
   * @param {(bar: number) => void} onBar
   */
  constructor(sheet, shown, onBar) {
    this.sheet = sheet;
    this.shown = shown;
    this.onBar = onBar;
    this.parser = new DOMParser();
    /** @type {Map<number, HTMLElement>} */
    this.figures = new Map();
    /** @type {{number: number, figure: HTMLElement} | null} */
    this.ready = null;
    this.note = -1;
    this.bar = -1;
    /** @type {[number, number] | null} */
    this.loop = null;
  }

  /** @param {number} bar */
  systemOf(bar) {
    return Math.max(0, lastAtOrBefore(this.sheet.rows, bar, (row) => row[0]));
  }

  /**
   * @param {number} bar
   * @param {number} note the bass note that sounds, -1 for none
   */
  show(bar, note) {
    if (bar !== this.bar) this.turnTo(bar);
    if (note !== this.note) this.ring(note);
    this.bar = bar;
    this.note = note;
  }

  /** @param {number} bar */
  turnTo(bar) {
    const system = this.systemOf(bar);
    const wanted = [system, this.following(system)];
    for (const [number, figure] of this.figures) {
      if (wanted.includes(number)) continue;
      figure.remove();
      this.figures.delete(number);
    }
    const holder = byId("sheet");
    wanted.forEach((number, place) => {
      const figure = this.figures.get(number) ?? this.takeReady(number);
      this.figures.set(number, figure);
      if (holder.children[place] !== figure) holder.insertBefore(figure, holder.children[place] ?? null);
    });
    for (const button of holder.querySelectorAll("button")) {
      button.classList.toggle("here", Number(button.dataset.bar) === bar);
    }
  }

  /**
   * The figure of a line, made beforehand where there was time; the one after it is made later, so
   * that turning a line never takes long.
   * @param {number} number
   */
  takeReady(number) {
    const figure = this.ready?.number === number ? this.ready.figure : this.figure(number);
    this.markLoop(figure);
    setTimeout(() => {
      const after = this.following(number);
      if (!this.figures.has(after)) this.ready = { number: after, figure: this.figure(after) };
    }, READY_MS);
    return figure;
  }

  /** @param {number} system */
  following(system) {
    const last = this.loop ? this.systemOf(this.loop[1]) : this.sheet.rows.length - 1;
    if (system !== last) return system + 1 < this.sheet.rows.length ? system + 1 : system;
    const first = this.loop ? this.systemOf(this.loop[0]) : 0;
    return first;
  }

  /** @param {number} number */
  drawing(number) {
    const parsed = this.parser.parseFromString(this.sheet.drawings[number], "image/svg+xml");
    return document.importNode(parsed.documentElement, true);
  }

  /** @param {number} number */
  figure(number) {
    const [first, count] = this.sheet.rows[number];
    const figure = make("figure");
    const drawing = this.drawing(number);
    drawing.setAttribute("role", "img");
    const numbers = this.barNumbers(first, count);
    drawing.setAttribute("aria-label", `Notes and tab, ${numbers}`);
    const row = make("div", { class: "bars", role: "group", "aria-label": "Choose bars to loop" });
    for (let bar = first; bar < first + count; bar += 1) {
      const button = make("button", { type: "button", "data-bar": bar, "aria-pressed": "false" }, `bar ${this.shown.bars[bar].number}`);
      button.addEventListener("click", () => this.onBar(bar));
      row.append(button);
    }
    figure.append(drawing, row);
    this.markLoop(figure);
    return figure;
  }

  /**
   * @param {number} first
   * @param {number} count
   */
  barNumbers(first, count) {
    const { bars } = this.shown;
    return count === 1 ? `bar ${bars[first].number}` : `bars ${bars[first].number} to ${bars[first + count - 1].number}`;
  }

  /** @param {[number, number] | null} loop */
  setLoop(loop) {
    this.loop = loop;
    for (const figure of this.figures.values()) this.markLoop(figure);
    if (this.bar >= 0) this.turnTo(this.bar);
  }

  /** @param {Element} figure */
  markLoop(figure) {
    for (const button of figure.querySelectorAll("button")) {
      const bar = Number(button.dataset.bar);
      const inside = this.loop !== null && bar >= this.loop[0] && bar <= this.loop[1];
      button.setAttribute("aria-pressed", String(inside));
    }
  }

  /** @param {number} note */
  ring(note) {
    const holder = byId("sheet");
    for (const ring of holder.querySelectorAll(".ring")) ring.remove();
    if (note < 0) return;
    for (const group of holder.querySelectorAll(`[data-note="${note}"]`)) {
      const head = group.querySelector("use");
      const text = group.querySelector("text");
      const place = head ? headCentre(head) : text ? textCentre(text) : null;
      if (place) group.append(draw("ellipse", { class: "ring", cx: place.x, cy: place.y, rx: place.r, ry: place.r }));
    }
  }
}

/** @param {Element} head */
function headCentre(head) {
  const found = /translate\((-?[\d.]+),\s*(-?[\d.]+)\)\s*scale\((-?[\d.]+)/.exec(head.getAttribute("transform") ?? "");
  if (!found) return null;
  const space = 250 * Number(found[3]);
  return { x: Number(found[1]) + HEAD_SPACES * space, y: Number(found[2]), r: 1.15 * space };
}

/** @param {Element} text */
function textCentre(text) {
  const size = parseFloat(text.querySelector("tspan")?.getAttribute("font-size") ?? "") || 320;
  return { x: Number(text.getAttribute("x")), y: Number(text.getAttribute("y")) - 0.34 * size, r: 0.75 * size };
}

/** The neck from above, the highest string on top: where the hand is, and where it goes next. */
export class NeckView {
  /** @param {Shown} shown */
  constructor(shown) {
    this.shown = shown;
    this.last = Math.max(5, ...shown.bass.map((note) => note.fret + 1));
    this.mirrored = false;
    this.key = "";
    this.width = 80 + 52 * this.last;
    this.height = 34 + 26 * shown.strings.length;
    this.dots = draw("g", {});
    this.build();
  }

  build() {
    const { strings } = this.shown;
    const svg = draw("svg", { viewBox: `0 0 ${this.width} ${this.height}`, role: "img", "aria-labelledby": "hand-words" });
    for (let fret = 0; fret <= this.last; fret += 1) {
      const x = this.wire(fret);
      svg.append(draw("line", { x1: x, x2: x, y1: 18, y2: 18 + 26 * (strings.length - 1), "stroke-width": fret ? 1.5 : 5 }));
      if (INLAYS.includes(fret)) svg.append(draw("text", { x: this.middle(fret), y: this.height - 4 }, String(fret)));
    }
    strings.forEach((name, index) => {
      const y = this.stringY(index + 1);
      svg.append(draw("line", { x1: this.wire(0), x2: this.wire(this.last), y1: y, y2: y, "stroke-width": 0.8 + 0.5 * index }));
      svg.append(draw("text", { x: this.flip(12), y: y + 4 }, name));
    });
    svg.append(this.dots);
    byId("neck").replaceChildren(svg);
    this.key = "";
  }

  /** @param {number} x */
  flip(x) {
    return this.mirrored ? this.width - x : x;
  }

  /** @param {number} fret */
  wire(fret) {
    return this.flip(64 + 52 * fret);
  }

  /** @param {number} fret */
  middle(fret) {
    return this.flip(fret === 0 ? 40 : 64 + 52 * fret - 26);
  }

  /** @param {number} string */
  stringY(string) {
    return 18 + 26 * (string - 1);
  }

  /** @param {boolean} mirrored */
  mirror(mirrored) {
    this.mirrored = mirrored;
    this.build();
  }

  /**
   * @param {number} sounds
   * @param {number} follows
   */
  show(sounds, follows) {
    const key = `${sounds} ${follows}`;
    if (key === this.key) return;
    this.key = key;
    this.dots.replaceChildren();
    const next = this.shown.bass[follows];
    const now = this.shown.bass[sounds];
    if (next) this.dot(next, "soon", 12);
    if (now) this.dot(now, "hit", 11);
    setText(byId("hand-words"), [now && `now ${this.words(now)}`, next && `next ${this.words(next)}`].filter(Boolean).join("; "));
  }

  /** @param {BassNote} note */
  words(note) {
    const name = this.shown.strings[note.string - 1];
    return note.fret === 0 ? `${name} string open` : `${name} string, fret ${note.fret}, finger ${note.finger}`;
  }

  /**
   * @param {BassNote} note
   * @param {string} kind
   * @param {number} radius
   */
  dot(note, kind, radius) {
    const x = this.middle(note.fret);
    const y = this.stringY(note.string);
    this.dots.append(draw("circle", { class: kind, cx: x, cy: y, r: radius }));
    this.dots.append(draw("text", { class: `${kind}-text`, x, y: y + 4 }, note.finger ? String(note.finger) : "0"));
  }
}

/** The chord of now, the next one and the next section, in large type. */
export class LeadView {
  /** @param {Shown} shown */
  constructor(shown) {
    this.shown = shown;
    this.transpose = 0;
  }

  /**
   * @param {number} position
   * @param {number} bar
   * @param {[number, number] | null} loop
   * @param {string} counting what to say while counting in
   */
  show(position, bar, loop, counting) {
    const { bars, sections, chords } = this.shown;
    const names = this.shown.names[String(this.transpose)];
    const near = position + 1e-4;
    const now = lastAtOrBefore(chords, near, (chord) => chord[0]);
    const end = loop ? bars[loop[1]].end : this.shown.length;
    let next = now + 1 < chords.length && chords[now + 1][0] < end - 1e-4 ? now + 1 : -1;
    if (next < 0 && loop) next = Math.max(0, lastAtOrBefore(chords, bars[loop[0]].start + 1e-4, (chord) => chord[0]));
    setText(byId("now"), now < 0 ? "–" : names[chords[now][1]]);
    setText(byId("next"), next < 0 ? "end" : names[chords[next][1]]);
    const section = bars[bar].section;
    const { label, first, bars: count } = sections[section];
    setText(byId("place"), counting || `${label}, bar ${bar - first + 1} of ${count}  ·  bar ${bars[bar].number} of the song`);
    setText(byId("coming"), this.comingText(section, loop));
  }

  /**
   * @param {number} section
   * @param {[number, number] | null} loop
   */
  comingText(section, loop) {
    const { bars, sections } = this.shown;
    const after = section + 1;
    const { first, bars: count } = sections[section];
    if (loop && first + count > loop[1]) return `${sections[bars[loop[0]].section].label} again`;
    return after < sections.length ? sections[after].label : "end";
  }
}

/**
 * What is shown, made of the page's data.
 * @param {any} data
 * @param {Change[]} clock
 * @returns {Shown}
 */
export function shownOf(data, clock) {
  const sec = (/** @type {number} */ tick) => tickToSec(clock, tick);
  const length = sec(data.end_tick);
  return {
    length,
    strings: data.strings,
    names: data.chord_names,
    sections: data.sections.map((/** @type {any[]} */ row) => ({ label: row[0], first: row[1], bars: row[2] })),
    chords: data.chords.map((/** @type {number[]} */ row) => [sec(row[0]), row[1]]),
    bars: data.bars.map((/** @type {number[]} */ row) => {
      const [tick, ticks, section, number, pulse] = row;
      const beats = [];
      for (let at = tick; at < tick + ticks; at += pulse) beats.push(sec(at));
      return { start: sec(tick), end: sec(tick + ticks), section, number, beats };
    }),
    bass: data.bass.map((/** @type {number[]} */ row) => ({
      onset: sec(row[0] + row[1]),
      end: sec(row[0] + row[1] + row[2]),
      string: row[5],
      fret: row[6],
      finger: row[7],
    })),
  };
}
