// What a test asks an open page: whether its boxes are wholly seen, and whether anything has moved.
// Evaluated in the page as one expression.
(() => {
  window.moved = [];
  if (PerformanceObserver.supportedEntryTypes.includes("layout-shift")) new PerformanceObserver((list) => {
    for (const { value, sources } of list.getEntries()) {
      moved.push([value, ...sources.map(({ node }) => node?.id || node?.className || node?.nodeName)]);
    }
  }).observe({ type: "layout-shift" });

  // Go to some bars, the first of them after the page has its size; in play by a clock that a test
  // drives, hear some notes of each.
  const HEARD_SEC = 0.7;
  let size = "";
  window.walk = async (bars) => {
    const { page, song } = practicePage;
    // What a frame changes is laid out and observed when the next one begins.
    const frame = () => new Promise(requestAnimationFrame);
    await frame();
    await frame();
    if (size !== `${innerWidth} ${innerHeight}`) await new Promise((done) => setTimeout(done, 60));
    size = `${innerWidth} ${innerHeight}`;
    moved.length = 0;
    const seen = [];
    for (const bar of bars.filter((each) => each < song.bars.length)) {
      page.goTo(song.bars[bar].start + 0.01);
      if (window.driven && page.player?.isPlaying) driven.to(driven.now + HEARD_SEC);
      await frame();
      seen.push(page.bar);
    }
    await frame();
    return seen;
  };

  window.faults = (boxes) => {
    const faults = [];
    const rects = boxes.flatMap((name) => {
      const element = document.querySelector(name);
      const box = element.getBoundingClientRect();
      if (!box.width || !box.height) faults.push(`${name} has no room`);
      const inside = box.left >= -.5 && box.top >= -.5 && box.right <= innerWidth + .5 && box.bottom <= innerHeight + .5;
      if (!inside) faults.push(`${name} is outside`);
      return [[name, box]];
    });
    rects.forEach(([name, a], index) => rects.slice(0, index).forEach(([other, b]) => {
      const [x, y] = [Math.min(a.right, b.right) - Math.max(a.left, b.left), Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top)];
      if (x > .5 && y > .5) faults.push(`${name} lies over ${other}`);
    }));
    for (const name of ["#now", "#next", "#title", "#ahead b", "#place"]) {
      for (const element of document.querySelectorAll(name)) {
        const isCut = element.scrollWidth > element.clientWidth || element.scrollHeight > element.clientHeight + 1;
        if (name !== "#place" && isCut) faults.push(`${name} is cut: ${element.textContent}`);
      }
    }
    for (const button of document.querySelectorAll("#front button")) {
      if (button.scrollWidth > button.clientWidth) faults.push(`#front is cut: ${button.textContent}`);
    }
    const [now, next] = ["#now", "#next"].map((name) => getComputedStyle(document.querySelector(name)).fontSize);
    if (now !== next) faults.push(`now is ${now} and next ${next}`);
    const { page, shown } = practicePage;
    const cells = [...document.querySelectorAll("#ahead button")].filter((cell) => cell.checkVisibility({ visibilityProperty: true }));
    const row = cells.map((cell) => cell.getBoundingClientRect());
    const isRow = row.every(({ top, left }, index) => !index || (top === row[index - 1].top && left > row[index - 1].left));
    if (!isRow || cells.length !== Math.min(5, shown.bars.length - page.bar)) faults.push("the next bars do not stand in a row");
    cells.forEach((cell, index) => {
      const dots = [...cell.querySelectorAll("i")].map((dot) => dot.getBoundingClientRect());
      const areSeen = dots.every(({ left, right, bottom }) => left >= row[index].left && right <= row[index].right + .5 && bottom <= row[index].bottom);
      if (!areSeen || dots.length !== shown.bars[cell.dataset.bar].beats.length) faults.push(`the beats of ${cell.getAttribute("aria-label")} are not seen`);
    });
    const lines = document.querySelectorAll("#sheet figure:not(.later)");
    const [sheet, here] = ["#sheet", "#sheet .here"].map((name) => document.querySelector(name).getBoundingClientRect());
    if (sheet.width && !(here.width > 30 && here.bottom <= sheet.bottom + .5 && here.top >= sheet.top - .5)) faults.push("the bar that plays is not seen");
    for (const line of lines) {
      const drawing = line.querySelector(".notes").getBoundingClientRect();
      const box = line.getBoundingClientRect();
      if (sheet.width && drawing.bottom > box.bottom + .5) faults.push("a line is cut");
    }
    if (document.documentElement.scrollWidth > innerWidth || document.documentElement.scrollHeight > innerHeight) faults.push("the page scrolls");
    for (const element of document.querySelectorAll("button, select, input, #form")) {
      const target = element.type === "checkbox" ? element.closest("label") : element;
      if (!element.checkVisibility({ visibilityProperty: true }) || element.closest("[inert]")) continue;
      const { width, height } = target.getBoundingClientRect();
      const least = element.closest("#front") ? 44 : 32;
      if (width < least - .5 || height < least - .5) faults.push(`${element.id || element.textContent} is ${width} by ${height}`);
    }
    return faults;
  };
})();
