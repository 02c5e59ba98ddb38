// Tells that the page has been made again since it was opened, where it was made to be: --watch.
//
// From disk it may read no file, but it may show a picture: the size of the one beside it says which
// page is the newest. Where there is none, nobody makes the page again, and it asks no more.

import { byId, make } from "./dom.js";
import { reopen } from "./kept.js";

/** @typedef {import("./page.js").Page} Page */

const ASK_MS = 1000;

/** @param {Page} page */
export function lookForNewer(page) {
  const block = document.getElementById("newest");
  if (!block) return;
  const { file, width, height } = JSON.parse(block.textContent ?? "");
  const opens = make("button", { type: "button", id: "newer-opens" }, "Open it");
  const says = make("p", { id: "newer", role: "status" });
  byId("message").before(says);
  opens.addEventListener("click", () => reopen(page));
  const timer = setInterval(() => {
    const picture = new Image();
    picture.onload = () => {
      const isNewest = picture.naturalWidth === width && picture.naturalHeight === height;
      if (isNewest) says.replaceChildren();
      else if (!opens.isConnected) says.replaceChildren("The chart has changed: there is a newer page. ", opens);
    };
    picture.onerror = () => clearInterval(timer);
    // Of another name each time, else the browser shows the one that it has.
    picture.src = `${encodeURIComponent(file)}?${Date.now()}`;
  }, ASK_MS);
}
