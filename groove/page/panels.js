// The dock's panels: what is changed while playing, over the dock and in reach of a thumb.

import { byId } from "./dom.js";

const PANELS = ["tempo", "loop", "levels", "click", "key", "more", "record"];

/**
 * Open one panel, or close it where it is open; the others are closed.
 * @param {string} name none for closing all
 */
export function showPanel(name) {
  for (const each of PANELS) {
    const panel = byId(`${each}-panel`);
    panel.hidden = each !== name || !panel.hidden;
    byId(`${each}-opens`).setAttribute("aria-expanded", String(!panel.hidden));
  }
}

/** Let the words of the dock open their panels, and Escape close them. */
export function listenToPanels() {
  for (const name of PANELS) byId(`${name}-opens`).addEventListener("click", () => showPanel(name));
  // Wherever the focus is: a press on the sheet takes it out of the dock.
  document.addEventListener("keydown", (event) => {
    const open = PANELS.find((name) => !byId(`${name}-panel`).hidden);
    if (event.key !== "Escape" || !open) return;
    showPanel("");
    byId(`${open}-opens`).focus();
  });
}
