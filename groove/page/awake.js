// The screen stays on while the page plays, where the browser lets a page ask for that.

/** @typedef {{release: () => Promise<void>, addEventListener: (name: string, act: () => void) => void}} Lock */

export class Awake {
  constructor() {
    /** @type {Lock | null} */
    this.lock = null;
    this.isWanted = false;
  }

  /** Keep it on; asked anew when the page is seen again, for a hidden one has let go of it. */
  async hold() {
    this.isWanted = true;
    const { wakeLock } = /** @type {any} */ (navigator);
    if (!wakeLock || this.lock) return;
    /** @type {Lock | null} */
    const lock = await wakeLock.request("screen").catch(() => null);
    if (!lock) return;
    // It may have been stopped, or asked for twice, meanwhile.
    if (!this.isWanted || this.lock) {
      lock.release().catch(() => undefined);
      return;
    }
    this.lock = lock;
    lock.addEventListener("release", () => {
      if (this.lock === lock) this.lock = null;
    });
  }

  letGo() {
    this.isWanted = false;
    this.lock?.release().catch(() => undefined);
    this.lock = null;
  }
}
