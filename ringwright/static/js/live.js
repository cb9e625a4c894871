// The record's state on the page: live, catching up, not live; and the tick that asks again.
// All words stand in the page, written by the server; this file only says which of them hold.
(() => {
  "use strict";
  const TICK_MS = 30000;
  const STALE_MS = 2 * TICK_MS + 5000;
  const body = document.body;
  const started = performance.now();
  let heard = started;
  let streaming = false;
  let paused = false;

  const panels = () => document.querySelectorAll("[data-live-panel]");
  const mark = (name, on) => body.classList.toggle(name, on);

  function minutes() {
    return Math.floor((performance.now() - heard) / 60000);
  }

  function show() {
    const stale = panels().length > 0 && performance.now() - heard > STALE_MS;
    mark("is-live", streaming && !stale && !paused);
    mark("is-catching", !streaming && !stale && !paused);
    mark("is-stale", stale);
    mark("is-paused", paused);
    for (const place of document.querySelectorAll("[data-minutes]")) {
      const words = place.dataset.minutes.replace("{n}", String(minutes()));
      if (place.textContent !== words) place.textContent = words;
    }
  }

  function ask() {
    if (document.hidden || paused) return;
    body.dispatchEvent(new CustomEvent("ledger", { detail: { tick: true } }));
  }

  // Entries heard while paused are not shown until the reader goes on.
  document.addEventListener("ledger", (event) => {
    if (paused) event.stopImmediatePropagation();
  }, true);

  body.addEventListener("htmx:sse:after:connection", () => { streaming = true; show(); });
  for (const name of ["htmx:sse:error", "htmx:sse:close", "htmx:sse:before:connection"]) {
    body.addEventListener(name, () => { streaming = false; show(); });
  }
  body.addEventListener("htmx:after:request", (event) => {
    const ctx = event.detail?.ctx;
    const status = ctx?.response?.status ?? ctx?.response?.raw?.status;
    if (!ctx?.sourceElement?.matches?.("[data-live-panel]")) return;
    if (status === 200 || status === 304) heard = performance.now();
    show();
  });

  document.addEventListener("click", (event) => {
    const act = event.target.closest?.("[data-act]")?.dataset.act;
    if (act === "pause") {
      paused = !paused;
      try { localStorage.setItem("ringwright.paused", paused ? "1" : ""); } catch { /* private */ }
      show();
      ask();
    } else if (act === "ask") {
      event.preventDefault();
      paused = false;
      ask();
    }
  });
  document.addEventListener("visibilitychange", () => { show(); ask(); });

  try { paused = localStorage.getItem("ringwright.paused") === "1"; } catch { /* private */ }
  mark("has-script", true);
  show();
  setInterval(() => { ask(); show(); }, TICK_MS);
  setInterval(show, 5000);
})();
