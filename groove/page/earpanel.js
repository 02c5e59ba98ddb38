// The panel of the ear: what it is asked, what state it is in, and what it says of the last pass.

import { byId, input, make, setText } from "./dom.js";
import { showPanel } from "./panels.js";

/** @typedef {import("./judging.js").Block} Block */
/** @typedef {{blocks: Block[], notes: string[], choices: {bar: number, words: string}[], raised: string}} Said */
/** @typedef {{turn: (on: boolean) => void, choose: () => void, work: (bar: number) => void}} Acts */

const PROMISE = "The sound stays on this page: it is not kept, and never leaves it.";
const LEGEND = "Under the tab: a dot is on, ◂ early, ▸ late by more than a listener lets pass, a ring not heard, a name the pitch that was heard.";

export class EarPanel {
  /** @param {Acts} acts */
  constructor(acts) {
    this.acts = acts;
    this.opens = make("button", { type: "button", id: "ear-opens", "aria-controls": "ear-panel", "aria-expanded": "false" }, "Listen");
    this.panel = /** @type {HTMLFieldSetElement} */ (make("fieldset", { id: "ear-panel" }));
    this.panel.hidden = true;
    this.said = make("div", { id: "ear-says" });
    this.stateLine = make("p", { id: "ear-state", role: "status" });
    this.panel.append(
      make("legend", {}, "Listen"),
      checkbox("ear-on", "Listen to my bass"),
      make("p", { class: "hint" }, PROMISE),
      choice(),
      checkbox("ear-live", "Marks while I play"),
      this.stateLine,
      this.said,
    );
    byId("ear-place").append(this.panel);
    byId("ear-button").append(this.opens);
    this.listen();
  }

  listen() {
    const { acts } = this;
    input("ear-on").addEventListener("change", () => acts.turn(input("ear-on").checked));
    input("ear-what").addEventListener("change", () => acts.choose());
    this.opens.addEventListener("click", () => this.open(Boolean(this.panel.hidden)));
    this.panel.addEventListener("keydown", (event) => {
      if (event.key !== "Escape") return;
      this.open(false);
      this.opens.focus();
    });
    // One panel is open at a time.
    document.addEventListener("click", (event) => {
      const button = event.target instanceof Element ? event.target.closest("[aria-controls$='-panel']") : null;
      if (button && button !== this.opens) this.open(false);
    });
  }

  /** @param {boolean} isOpen */
  open(isOpen) {
    if (isOpen) showPanel("");
    this.panel.hidden = !isOpen;
    this.opens.setAttribute("aria-expanded", String(isOpen));
  }

  /** @param {string} words */
  state(words) {
    setText(this.stateLine, words);
  }

  /**
   * What is said of a pass: what held first; then what it was measured against; then what to do.
   * @param {Said} said
   */
  show({ blocks, notes, choices, raised }) {
    const parts = blocks.flatMap(({ head, points }) => [
      ...(head ? [make("h3", {}, head)] : []),
      ...(head ? [listed(points)] : points.map((point) => make("p", {}, point))),
    ]);
    const row = make("div", { class: "side" });
    for (const { bar, words } of choices) {
      const button = make("button", { type: "button", "data-work": bar }, words[0].toUpperCase() + words.slice(1));
      button.addEventListener("click", () => {
        this.open(false);
        this.acts.work(bar);
      });
      row.append(button);
    }
    const hints = [...notes, LEGEND].map((note) => make("p", { class: "hint" }, note));
    this.said.replaceChildren(...parts, ...(raised ? [make("p", {}, raised)] : []), row, ...hints);
  }
}

/** @param {string[]} points */
function listed(points) {
  const list = make("ul");
  for (const point of points) list.append(make("li", {}, point));
  return list;
}

/**
 * @param {string} id
 * @param {string} words
 */
function checkbox(id, words) {
  const label = make("label", { class: "check" });
  label.append(make("input", { type: "checkbox", id }), ` ${words}`);
  return label;
}

function choice() {
  const label = make("label", { class: "line" }, "I play ");
  const select = make("select", { id: "ear-what" });
  select.append(make("option", { value: "line" }, "the part as it stands"), make("option", { value: "own" }, "my own notes: the time alone"));
  label.append(select);
  return label;
}
