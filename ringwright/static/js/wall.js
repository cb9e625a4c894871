// A screen on the wall: nobody stands there to reload it or to notice that it froze. It asks every
// ten seconds besides the stream, says stale at once when its own clock jumped (the machine slept),
// and loads the page anew when the server runs other page code than the one shown.
(() => {
  "use strict";
  const ASK_MS = 10000;
  const LOOK_MS = 1000;
  const JUMP_MS = 20000;
  const body = document.body;
  const code = document.getElementById("wall-sheet").dataset.code;
  let wall = Date.now();
  let steady = performance.now();

  function ask() {
    body.dispatchEvent(new CustomEvent("ledger", { detail: { tick: true } }));
  }

  setInterval(() => {
    const jumped = Math.abs(Date.now() - wall - (performance.now() - steady)) > JUMP_MS
      || performance.now() - steady > JUMP_MS;
    wall = Date.now();
    steady = performance.now();
    if (!jumped) return;
    body.classList.add("is-lost");
    ask();
  }, LOOK_MS);
  setInterval(ask, ASK_MS);

  body.addEventListener("htmx:after:request", (event) => {
    const ctx = event.detail?.ctx;
    const status = ctx?.response?.status ?? ctx?.response?.raw?.status;
    if (!ctx?.sourceElement?.matches?.("#wall-sheet")) return;
    if (status === 200 || status === 304) body.classList.remove("is-lost");
  });
  document.addEventListener("htmx:after:swap", () => {
    const now = document.getElementById("wall-sheet");
    if (now && now.dataset.code !== code) location.reload();
  });
})();
