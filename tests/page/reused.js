// Puts an open page back to how it was opened, for the test that comes next.  Run before the page's own
// script, and after that of driven.js.
(() => {
  const timers = [];
  const plain = window.setInterval.bind(window);
  window.setInterval = (act, ms) => {
    timers.push({ act, ms, id: plain(act, ms) });
    return timers[timers.length - 1].id;
  };
  const { AudioContext } = window;
  const { getUserMedia } = navigator.mediaDevices;
  const controls = () => [...document.querySelectorAll("input, select")];
  const values = () => controls().map((each) => [each.id, each.type === "checkbox" ? each.checked : each.value]);
  // Each element by its attributes and its own words, but for a line that is made ready some time
  // after the others.
  const lineOf = (each) => {
    const named = [...each.attributes].filter(({ name, value }) => value || name === "hidden").map(({ name, value }) => `${name}=${value}`);
    const words = [...each.childNodes].filter((node) => node.nodeType === Node.TEXT_NODE).map((node) => node.data);
    return [each.tagName, ...named.sort(), words.join("|")].join(" ");
  };
  const drawn = () => [...document.querySelectorAll("html, body, body *:not(script, #sheet .later, #sheet .later *)")].map(lineOf);
  const frames = async () => {
    for (let frame = 0; frame < 4; frame += 1) await new Promise(requestAnimationFrame);
  };

  // All of it that a test may ask, as text.
  const told = () => {
    const { page, ear, record } = practicePage;
    const { data, shown, song, rows, sounds, ...fields } = page;
    const plainly = ([, value]) => value === null || typeof value !== "object" || Array.isArray(value);
    const own = Object.fromEntries(Object.entries(fields).filter(plainly));
    delete own.cards;
    delete own.sayTimer;
    const others = [page.log, ear.microphone, [...ear.marks], ear.work, page.sources.isRecord, page.sources.file === null];
    const window = [localStorage.length, sessionStorage.length, scrollX, scrollY, document.activeElement.tagName];
    return [...drawn(), ...[...values(), ...Object.entries(own), others, window].map((each) => JSON.stringify(each))];
  };

  window.reused = {
    timers,
    // What the page is, when it has been opened.
    begin: async () => {
      await frames();
      return { url: location.href, values: values(), log: JSON.stringify(practicePage.page.log), names: Object.getOwnPropertyNames(window), told: told() };
    },
    // What the page does on its own timers.
    turn: () => timers.forEach(({ act }) => act()),
    // Nothing is done while nobody looks.
    rest: () => timers.forEach(({ id }) => clearInterval(id)),
    wake: () => timers.forEach((timer) => (timer.id = plain(timer.act, timer.ms))),
    // Put everything back as it was when it began, and say what is not.
    back: async (begun) => {
      if (location.href !== begun.url) return [location.href];
      const { page } = practicePage;
      const element = (id) => document.getElementById(id);
      if (page.player?.isPlaying) page.stop();
      page.dropSound();
      window.AudioContext = AudioContext;
      delete performance.now;
      delete document.hidden;
      delete navigator.wakeLock;
      delete navigator.audioSession;
      navigator.mediaDevices.getUserMedia = getUserMedia;
      Object.assign(driven, { latencySec: 0, samples: new Float32Array(0), lost: [] });
      for (const [id, value] of begun.values) {
        const control = element(id);
        if (control.type === "checkbox") control.checked = value;
        else control.value = value;
        control.removeAttribute("aria-invalid");
      }
      for (const each of document.querySelectorAll("[aria-expanded]")) each.setAttribute("aria-expanded", "false");
      for (const each of document.querySelectorAll("fieldset[id$='-panel']")) each.hidden = true;
      for (const id of ["ear-panel", "controls"]) element(id).removeAttribute("style");
      // What comes first is what the tab key comes to next.
      const first = document.createElement("a");
      first.tabIndex = -1;
      document.body.prepend(first);
      first.focus();
      first.remove();
      Object.assign(page, { share: 1, taps: [], playedSec: 0, lastTime: 0, left: -1, forgets: false, log: JSON.parse(begun.log) });
      page.sources.leaving = null;
      practicePage.ear.work = null;
      page.hideChords();
      page.neck.mirror(element("left-handed").checked);
      for (const id of ["level-all", "level-record", "record-shelf"]) element(id).dispatchEvent(new Event("input"));
      page.setLoop(null, "once");
      page.goTo(0);
      page.sheet.clear();
      page.chooseView();
      // What is said of the play: the log, the trouble with the sound, and what is told in play.
      page.stop();
      Object.assign(page.told, { bar: -1, section: -1, at: -Infinity });
      page.say("");
      for (const id of ["told", "trouble", "print", "ear-state", "ear-says", "go-on"]) element(id).replaceChildren();
      element("trouble").hidden = true;
      document.querySelector("#form .loop").removeAttribute("style");
      window.scrollTo(0, 0);
      for (const name of Object.getOwnPropertyNames(window)) if (!begun.names.includes(name) && !name.startsWith("__")) delete window[name];
      for (const storage of [localStorage, sessionStorage]) storage.clear();
      await frames();
      const now = told();
      const more = (those, than) => those.filter((each) => !than.includes(each));
      return [...more(now, begun.told), ...more(begun.told, now)];
    },
  };
})();
