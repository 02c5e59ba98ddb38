// Bars under a finger, a mouse or a pen: pressed, drawn over, held.

const HOLD_MS = 550;

/**
 * @typedef {object} Presses
 * @property {(event: PointerEvent) => number} barOf the bar under it, -1 for none
 * @property {(bar: number, event: PointerEvent) => void} press
 * @property {(first: number, last: number) => void} draw over some bars, in order, and let go
 * @property {(bar: number) => void} hold
 */

/**
 * @param {HTMLElement} element
 * @param {Presses} presses
 */
export function listenToPresses(element, { barOf, press, draw, hold }) {
  let [first, last, timer, isHeld] = [-1, -1, 0, false];
  const end = () => {
    clearTimeout(timer);
    first = -1;
  };
  element.addEventListener("pointerdown", (event) => {
    first = last = event.button === 0 ? barOf(event) : -1;
    isHeld = false;
    if (first < 0) return;
    element.setPointerCapture(event.pointerId);
    timer = setTimeout(() => {
      isHeld = true;
      hold(first);
    }, HOLD_MS);
  });
  element.addEventListener("pointermove", (event) => {
    const bar = first < 0 || isHeld ? -1 : barOf(event);
    if (bar < 0 || bar === last) return;
    last = bar;
    clearTimeout(timer);
  });
  element.addEventListener("pointerup", (event) => {
    if (first >= 0 && !isHeld && last === first) press(first, event);
    else if (first >= 0 && !isHeld) draw(Math.min(first, last), Math.max(first, last));
    end();
  });
  element.addEventListener("pointercancel", end);
  // Held on glass, a menu of the browser would come up.
  element.addEventListener("contextmenu", (event) => event.preventDefault());
  // From the keyboard a button is pressed by a click without a pointer.
  element.addEventListener("click", (event) => {
    const button = /** @type {Element} */ (event.target).closest("[data-bar]");
    if (event.detail === 0 && button) press(Number(/** @type {HTMLElement} */ (button).dataset.bar), /** @type {PointerEvent} */ (event));
  });
}

/**
 * The bar whose button lies under a pointer.
 * @param {PointerEvent} event
 */
export function barUnder({ clientX, clientY }) {
  const found = document.elementFromPoint(clientX, clientY)?.closest("[data-bar]");
  return found ? Number(/** @type {HTMLElement} */ (found).dataset.bar) : -1;
}
