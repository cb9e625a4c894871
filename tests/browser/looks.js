// What a test can see of a page, each look as a list of what is wrong. Brought to the page by
// evaluation, which our policy allows; a script element it does not.
globalThis.looks = (() => {
  "use strict";
  const all = (selector) => [...document.querySelectorAll(selector)];
  const told = (e) => e.outerHTML.replace(/\s+/g, " ").slice(0, 120);
  const figures = (text) => text.match(/\d+(?:[.,:]\d+)*/g) ?? [];

  function openAll() {
    for (const one of all("details")) one.open = true;
  }

  // Rows of a table far down are made by the same line of a template as those above them.
  function keepRows(most) {
    for (const row of all(`tbody > tr:nth-child(n + ${most + 1})`)) row.remove();
  }

  // What makes the page wider than its window; a list or picture may scroll inside .c-scroll.
  function sideways() {
    const room = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth <= room) return [];
    const out = all("body *").filter((e) => e.checkVisibility() && !e.closest(".c-scroll")
      && e.getBoundingClientRect().right > room + 1);
    return ["scrolls sideways", ...out.slice(0, 4).map(told)];
  }

  const ACTS = "button, .c-button, select, textarea, summary, "
    + "input:not([type=hidden], [type=radio], [type=checkbox]), "
    + "label:has(> input[type=radio], > input[type=checkbox])";
  // A scan field's own frame is its target; what hangs in the head and question row is a link.
  const FRAMED = ".u-hidden, .l-skip, .c-bench-scan, .c-bigscan";
  const least = (e) => (e.closest(".l-bench") ? 64 : e.closest(".c-head, .l-ask > * > *") ? 24 : 44);

  function gap(one, other) {
    const [a, b] = [one.getBoundingClientRect(), other.getBoundingClientRect()];
    return Math.max(b.left - a.right, a.left - b.right, b.top - a.bottom, a.top - b.bottom);
  }

  // Acts that a finger, or a glove at the Bench, would miss: 44 px, or 64 px with 16 between.
  function small() {
    const seen = all(ACTS).filter((e) => e.checkVisibility() && !e.closest(FRAMED)
      && e.getBoundingClientRect().width > 1);
    const low = seen.filter((e) => e.getBoundingClientRect().height < least(e) - 0.5)
      .map((e) => `only ${e.getBoundingClientRect().height} high: ${told(e)}`);
    const pressed = seen.filter((e) => e.closest(".l-bench"));
    const near = pressed.flatMap((one, place) => pressed.slice(place + 1)
      .filter((other) => !one.contains(other) && !other.contains(one) && gap(one, other) < 15.5)
      .map((other) => `only ${gap(one, other)} between ${told(one)} and ${told(other)}`));
    return [...low, ...near];
  }

  // Pictures without words, and figures that only a picture tells. The answer above a picture
  // and the sums beside it are its words too, but some table must stand there.
  function pictures() {
    const words = (selector) => figures(all(selector).map((e) => e.textContent).join(" "));
    const known = new Set(words("th, td, caption, dt, dd, h1, main p"));
    const tabled = words("td").length > 0;
    return all("svg").flatMap((svg) => {
      if (svg.getAttribute("aria-hidden") === "true" || svg.parentElement.closest("svg")) return [];
      if (svg.getAttribute("role") !== "img") return [`no role: ${told(svg)}`];
      const named = (name) => svg.querySelector(`:scope > ${name}`)?.textContent.trim() ?? "";
      if (!named("title") || !named("desc")) return [`no title or description: ${told(svg)}`];
      const said = figures(named("desc"));
      const missing = said.filter((figure) => !known.has(figure));
      if (missing.length) return [`in no table: ${missing.join(" ")} of ${named("desc")}`];
      return said.length && !tabled ? [`no table of figures: ${told(svg)}`] : [];
    });
  }

  // WCAG 2.2, 1.4.12: a reader's own spacing, and the words it would cut off.
  function spaceOut(on) {
    const sheet = new CSSStyleSheet();
    sheet.replaceSync(`* { line-height: 1.5 !important; letter-spacing: 0.12em !important;
      word-spacing: 0.16em !important } p { margin-block-end: 2em !important }`);
    document.adoptedStyleSheets = on ? [sheet] : [];
  }
  function cut() {
    return all("button, .c-button, h1, h2, h3, th, td, p, dd").filter((e) => e.checkVisibility()
      && getComputedStyle(e).overflowX !== "visible" && e.scrollWidth > e.clientWidth + 1
      && !e.closest(".u-hidden")).map((e) => `cut off: ${told(e)}`);
  }

  function moving() {
    const lasts = (text) => text.split(",").some((time) => parseFloat(time) > 0);
    return all("*").filter((e) => e.getAnimations().length
      || getComputedStyle(e).animationName !== "none"
      || lasts(getComputedStyle(e).transitionDuration)).map((e) => `moves: ${told(e)}`);
  }

  // Marks that a forced palette leaves with less than 3:1 against its own ground (1.4.11).
  const brush = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
  function light(colour) {
    brush.clearRect(0, 0, 1, 1);
    brush.fillStyle = colour;
    brush.fillRect(0, 0, 1, 1);
    const part = [...brush.getImageData(0, 0, 1, 1).data].map((one) => one / 255)
      .map((one) => (one <= 0.04045 ? one / 12.92 : ((one + 0.055) / 1.055) ** 2.4));
    return part[3] ? 0.2126 * part[0] + 0.7152 * part[1] + 0.0722 * part[2] : null;
  }
  function lost() {
    const ground = light(getComputedStyle(document.documentElement).backgroundColor);
    const weak = (one) => (Math.max(one, ground) + 0.05) / (Math.min(one, ground) + 0.05) < 3;
    const marks = "line, path, polyline, polygon, rect, circle, ellipse, text, tspan";
    return all("svg *").filter((e) => {
      // A gap is drawn in the colour of the ground, to part what lies under it.
      // A symbol to be scanned stands on a white ground of its own, whatever the palette.
      const own = e.closest("defs, .is-gap, .c-datamatrix");
      if (!e.matches(marks) || own || !e.checkVisibility()) return false;
      const { fill, stroke } = getComputedStyle(e);
      const used = [fill, stroke].filter((one) => one.startsWith("rgb")).map(light)
        .filter((one) => one !== null);
      return used.length > 0 && used.every(weak);
    }).map((e) => `lost: ${told(e)}`);
  }

  // Black on white, nothing to press, a page foot, and tables whose heading rows can repeat.
  // The window is as wide as the paper; what lies across it has the paper's height, less margins.
  function paper(across) {
    const style = (e) => getComputedStyle(e);
    const wrong = all("header.c-head, .c-bench-head, .c-phonebar, .l-skip, .c-pause, form button")
      .filter((e) => e.checkVisibility()).map((e) => `printed: ${told(e)}`);
    const white = style(document.documentElement).backgroundColor === "rgb(255, 255, 255)";
    if (!white || style(document.body).color !== "rgb(0, 0, 0)") wrong.push("not black on white");
    for (const table of all("table").filter((t) => t.checkVisibility() && !t.closest(".u-hidden"))) {
      const head = !table.tHead || table.tHead.matches(".u-hidden") || style(table.tHead).display === "table-header-group";
      if (!head) wrong.push(`the heading row does not repeat: ${told(table)}`);
      for (let e = table; e !== document.body; e = e.parentElement) {
        const { display, overflowX, overflowY } = style(e);
        const stuck = display === "inline-block" || `${overflowX}${overflowY}` !== "visiblevisible";
        if (stuck) wrong.push(`cannot break: ${told(e)}`);
      }
    }
    const turned = (e) => e && (style(e).page === "wide" || turned(e.parentElement));
    for (const e of all("main *").filter((one) => one.checkVisibility() && !one.closest("svg"))) {
      const room = turned(e) ? across : document.documentElement.clientWidth;
      if (e.getBoundingClientRect().right > room + 1) wrong.push(`off the paper: ${told(e)}`);
    }
    const rules = [...document.styleSheets].flatMap((sheet) => [...sheet.cssRules])
      .flatMap((rule) => [rule, ...(rule.cssRules ?? [])]);
    const foot = (r) => r instanceof CSSPageRule && /counter\(pages\)/.test(r.cssText);
    if (!rules.some(foot)) wrong.push("no page foot");
    return wrong;
  }

  // Words on a wall are read from 5 m.
  function faint(least) {
    const holds = (e) => [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim());
    return all("body *").filter((e) => holds(e) && e.checkVisibility()
      && !e.closest(".u-hidden, .l-skip, script, style, title, desc")
      && parseFloat(getComputedStyle(e).fontSize) < least)
      .map((e) => `only ${getComputedStyle(e).fontSize}: ${told(e)}`);
  }

  // Where Tab has led to: shown by an outline, and not under anything else (2.4.7, 2.4.11).
  const reached = new Set();
  function fromTheTop() {
    const start = document.createElement("span");
    start.tabIndex = -1;
    document.body.prepend(start);
    start.focus();
    start.remove(); // the next Tab leads on from where it stood
  }
  function onFocus() {
    const here = document.activeElement;
    if (here === document.body || reached.has(here)) return { done: true, wrong: [] };
    reached.add(here);
    const lined = (e) => e && e !== document.body && (lined(e.parentElement)
      || (getComputedStyle(e).outlineStyle === "solid" && parseFloat(getComputedStyle(e).outlineWidth) >= 2));
    const wrong = lined(here) ? [] : [`no outline: ${told(here)}`];
    const { left, right, top, bottom } = here.getBoundingClientRect();
    const [x, y] = [(Math.max(left, 0) + Math.min(right, innerWidth)) / 2,
      (Math.max(top, 0) + Math.min(bottom, innerHeight)) / 2];
    const there = document.elementFromPoint(x, y);
    const shown = there && (here.contains(there) || there.contains(here));
    if (!shown) wrong.push(`hidden under ${there && told(there)}: ${told(here)}`);
    return { done: false, wrong };
  }
  function unreached() {
    const presses = "a[href], button:enabled, select, textarea, summary, "
      + "input:not([type=hidden], [type=radio])";
    return all(presses).filter((e) => e.checkVisibility() && !reached.has(e) && e.tabIndex >= 0)
      .map((e) => `never reached: ${told(e)}`);
  }

  return {
    openAll, keepRows, sideways, small, pictures, spaceOut, cut, moving, lost, paper, faint,
    fromTheTop, onFocus, unreached,
  };
})();
