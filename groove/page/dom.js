// Elements of the page: found, made, and changed only where they differ.

const SVG = "http://www.w3.org/2000/svg";

/** @param {string} id */
export function byId(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`no element ${id}`);
  return found;
}

/** @param {string} id */
export function input(id) {
  return /** @type {HTMLInputElement} */ (byId(id));
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
export function makeSvg(name, attributes, text = "") {
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
