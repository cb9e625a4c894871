// The Bench: scans open parts without leaving the page, act cards press the act they name, the
// take-back time runs down, and an answer that never came removes what stood there as done.
// All words stand in the page; every rule is asked of the server.
(() => {
  "use strict";
  const CARD = /^RW[^A-Z0-9]?([A-Z]+)$/;
  const PRESS = { BEGIN: "begin", KEEP: "keep", PASS: "pass", PAUSE: "pause", RESUME: "resume" };
  const OPEN = { REWORK: "bench-rework", STOP: "bench-stop" };
  const TONES = { passed: [[880, 0.12]], begun: [[660, 0.08]], rework: [[520, 0.12], [390, 0.12]],
    stopped: [[220, 0.3]], held: [[220, 0.3]], refused: [[200, 0.15], [200, 0.25]] };
  const field = () => document.getElementById("scan");
  const bench = () => document.getElementById("bench");
  const unsure = () => document.getElementById("bench-unsure");
  let asked = 0;
  let sound = null;

  function tone(kind) {
    const notes = TONES[kind];
    if (!notes || !window.AudioContext) return;
    try {
      sound ??= new AudioContext();
      let at = sound.currentTime;
      for (const [hertz, seconds] of notes) {
        const note = sound.createOscillator();
        const loud = sound.createGain();
        note.frequency.value = hertz;
        loud.gain.value = 0.15;
        note.connect(loud).connect(sound.destination);
        note.start(at);
        note.stop(at + seconds);
        at += seconds + 0.05;
      }
    } catch { /* a bench without a loudspeaker */ }
  }

  // A new field stands: the scan field points at its part and waits again.
  function settled() {
    const now = bench();
    if (!now) return;
    unsure().hidden = true;
    const on = document.querySelector("[data-on]");
    if (on) on.value = now.dataset.serial;
    const wrong = now.querySelector("[aria-invalid=true]");
    const signs = now.querySelector("[data-badge]");
    (signs ?? wrong ?? field()).focus({ preventScroll: true });
    if (now.dataset.sound) tone(now.dataset.sound);
    runDown();
    document.dispatchEvent(new CustomEvent("bench:settled"));
  }

  // What keeps bookings in this browser may take over what could not be sent or asked.
  const taken = (name, detail) => !document.dispatchEvent(new CustomEvent(name, { cancelable: true, detail }));

  function doubt() {
    for (const told of document.querySelectorAll(".c-strip-news, .c-after, .c-refusal")) told.remove();
    unsure().hidden = false;
    unsure().scrollIntoView({ block: "nearest" });
    tone("refused");
  }

  async function open(url) {
    const turn = ++asked;
    try {
      const answer = await fetch(url, { headers: { "HX-Request": "true" } });
      const text = await answer.text();
      if (turn !== asked) return; // a later scan is already on its way
      if (answer.status >= 500) throw new Error(String(answer.status));
      const piece = new DOMParser().parseFromString(text, "text/html").getElementById("bench");
      if (!piece) { location.assign(url); return; }
      bench().replaceWith(document.adoptNode(piece));
      window.htmx?.process(piece);
      history.replaceState(null, "", url);
      settled();
    } catch {
      if (turn === asked && !taken("bench:unreached", { url })) doubt();
    }
  }
  document.addEventListener("bench:reopen", (event) => open(event.detail.url));

  function pressCard(word) {
    const button = PRESS[word] && bench().querySelector(`button[name=act][value="${PRESS[word]}"]`);
    if (button && !button.closest("[data-inside][hidden]")) { button.form.requestSubmit(button); return true; }
    const choice = OPEN[word] && document.getElementById(OPEN[word]);
    if (!choice) return false;
    choice.open = true;
    choice.querySelector(".c-actbox__body input, .c-actbox__body button")?.focus();
    return true;
  }

  // A gauge scanned while its part is open is what the part is read with.
  function chooseGauge(scanned) {
    for (const choice of bench().querySelectorAll("select[data-gauge]")) {
      const found = [...choice.options].find((one) => one.value && one.value.toUpperCase() === scanned.toUpperCase());
      if (!found) continue;
      choice.value = found.value;
      choice.dispatchEvent(new Event("change", { bubbles: true }));
      (bench().querySelector("[data-reading]") ?? choice).focus();
      return true;
    }
    return false;
  }

  document.addEventListener("submit", (event) => {
    if (!event.target.matches?.("[data-bench-scan]")) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    const scanned = field().value.trim();
    field().value = "";
    if (!scanned) return;
    const card = CARD.exec(scanned.toUpperCase());
    if (card && pressCard(card[1])) return;
    if (chooseGauge(scanned)) return;
    const form = new FormData(event.target);
    form.set("scan", scanned);
    open(`${event.target.action.split("?")[0]}?${new URLSearchParams(form)}`);
  }, true);

  // What is typed or chosen, asked about; nothing is booked by asking.
  async function asking() {
    const ask = new URL(document.querySelector("[data-bench-scan]").action);
    ask.searchParams.set("scan", bench().dataset.serial);
    for (const one of bench().querySelectorAll("[data-reading]")) {
      if (one.value) ask.searchParams.set(one.name, one.value);
    }
    for (const one of bench().querySelectorAll("[data-gauge]")) ask.searchParams.set(one.name, one.value);
    const site = document.querySelector("[data-bench-scan] [name=site]");
    if (site) ask.searchParams.set("site", site.value);
    const answer = await fetch(ask, { headers: { "HX-Request": "true" } });
    return new DOMParser().parseFromString(await answer.text(), "text/html");
  }

  // A gauge chosen: every ruler's guard band is that gauge's, and so is what speaks against it.
  async function rejudge(choice) {
    try {
      const page = await asking();
      for (const row of bench().querySelectorAll("[data-row]")) {
        const input = row.querySelector("[data-reading]");
        if (input) refresh(row, page, input);
      }
      const told = document.getElementById(`${choice.id}-note`);
      const news = page.getElementById(`${choice.id}-note`);
      if (told && news) told.replaceWith(document.adoptNode(news));
    } catch { /* the act will ask again */ }
  }

  // A reading typed: the server says where it lies.
  async function redraw(input) {
    try {
      const page = await asking();
      refresh(input.closest("[data-row]"), page, input);
    } catch { /* the picture waits; the act will ask again */ }
  }

  function refresh(row, page, input) {
    const fresh = [...page.querySelectorAll("[data-row]")].find((r) => r.dataset.row === row.dataset.row);
    if (!fresh || !row.isConnected) return;
    for (const part of [".c-reading-row__picture", ".c-reading-row__word"]) {
      row.querySelector(part).replaceWith(document.adoptNode(fresh.querySelector(part)));
    }
    const wrong = fresh.querySelector("[data-reading]")?.getAttribute("aria-invalid");
    if (wrong) input.setAttribute("aria-invalid", wrong); else input.removeAttribute("aria-invalid");
    const told = document.getElementById("bench-allread");
    const news = page.getElementById("bench-allread");
    if (told && news) told.replaceWith(document.adoptNode(news));
  }

  document.addEventListener("change", (event) => {
    const gauge = event.target.matches?.("[data-gauge]");
    if (!gauge && !event.target.matches?.("[data-reading]")) return;
    document.getElementById("bench-refusal")?.remove(); // it spoke of what stood there before
    if (gauge) rejudge(event.target); else redraw(event.target);
  });
  document.addEventListener("keydown", (event) => {
    const here = event.target;
    if (event.key !== "Enter" || event.defaultPrevented || !here.matches?.("#bench-form input")) return;
    event.preventDefault(); // Enter in a field goes on; it never books
    const all = [...bench().querySelectorAll("[data-reading]")];
    const next = all[all.indexOf(here) + 1];
    if (!all.includes(here)) return;
    here.blur(); // tells the change
    if (next) { next.focus(); next.select(); return; }
    const wanting = document.querySelector("#bench-allread .u-needs, [data-reading][aria-invalid]");
    (wanting ? field() : bench().querySelector("button[name=act][value=pass]"))?.focus();
  });

  let timer = 0;
  function runDown() {
    clearInterval(timer);
    const form = document.querySelector("[data-left]");
    if (!form) return;
    const end = performance.now() + Number(form.dataset.left);
    timer = setInterval(() => {
      const left = Math.max(0, end - performance.now());
      const seconds = String(Math.ceil(left / 1000));
      const shown = form.querySelector("[data-seconds]");
      if (shown && shown.textContent !== seconds) shown.textContent = seconds;
      const bar = form.querySelector("progress");
      if (bar) bar.value = matchMedia("(prefers-reduced-motion: reduce)").matches ? Math.ceil(left / 1000) : left / 1000;
      if (left > 0 && form.isConnected) return;
      clearInterval(timer);
      const over = form.parentElement?.querySelector(".c-takeback-over");
      if (over) over.hidden = false;
      form.remove();
    }, 100);
  }

  document.addEventListener("htmx:after:swap", () => settled());
  document.addEventListener("htmx:response:error", (event) => {
    if ((event.detail?.ctx?.response?.status ?? 500) >= 500) doubt();
  });
  document.addEventListener("htmx:error", () => { if (!taken("bench:unsent")) doubt(); });

  const clock = document.querySelector("[data-clock]");
  const begun = performance.now();
  if (clock) {
    const first = Number(clock.dataset.clock);
    setInterval(() => {
      const minute = (first + Math.floor((performance.now() - begun) / 60000)) % 1440;
      const two = (figure) => String(figure).padStart(2, "0");
      clock.textContent = `${two(Math.floor(minute / 60))}:${two(minute % 60)}`;
    }, 20000);
  }
  settled();
})();
