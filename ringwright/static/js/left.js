// Runs down the time left until a deadline, by the server's clock as the page last heard it.
// All words stand in the page: this file fills in figures and says which of two states holds.
(() => {
  "use strict";
  const heard = new WeakMap();

  // This browser's clock may be wrong or be set meanwhile, and its timer may sleep with it:
  // of the two, whichever says that more time is gone since the server spoke.
  function serverNow(root) {
    const said = Number(root.dataset.nowMs);
    let from = heard.get(root);
    if (from?.said !== said) {
      from = { said, ran: performance.now(), wall: Number(root.dataset.kept) || Date.now() };
      heard.set(root, from);
    }
    return said + Math.max(performance.now() - from.ran, Date.now() - from.wall);
  }

  function text(place, left) {
    const minutes = Math.floor(left / 60000);
    if (minutes < 1) return place.dataset.last;
    const form = minutes < 60 ? place.dataset.short : place.dataset.long;
    const values = { h: Math.floor(minutes / 60), m: minutes < 60 ? minutes : minutes % 60 };
    return form.replace(/\{(\w)\}/g, (_, name) => String(values[name]));
  }

  function turn(scope, over) {
    const was = scope.querySelector("[data-over]");
    if (!was || was.hidden === !over) return;
    for (const one of scope.querySelectorAll("[data-inside]")) one.hidden = over;
    for (const one of scope.querySelectorAll("[data-over]")) one.hidden = !over;
    const said = document.querySelector("[data-said]");
    const say = scope.querySelector("[data-say]");
    if (over && said && say) said.textContent = say.textContent;
  }

  function run() {
    for (const place of document.querySelectorAll("[data-until-ms]")) {
      const root = place.closest("[data-now-ms]");
      if (!root) continue; // as of the past, time stands still
      const left = Number(place.dataset.untilMs) - serverNow(root);
      const words = text(place, Math.max(0, left));
      if (place.textContent !== words) place.textContent = words;
      turn(place.closest("[data-window]") ?? place, left < 0);
    }
  }

  document.addEventListener("bench:settled", run);
  document.addEventListener("htmx:after:swap", run);
  document.addEventListener("visibilitychange", run);
  setInterval(run, 1000);
  run();
})();
