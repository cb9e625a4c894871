// What was pressed while the network was down waits in this browser, each act with the key it got
// then, and goes out once when the network is back. Pages say how much waits; the Bench says what.
// All words stand in the pages; whether an act is allowed is asked of the server, never decided here.
(() => {
  "use strict";
  const PAGES = "ringwright-pages";
  const AGAIN_MS = 10000;
  const DECIDES = ["begin", "pause", "resume", "pass", "rework", "stop", "hold", "move"];
  const MAY_WAIT = ["keep", "note", ...DECIDES];
  const NEVER_KEPT = /^(key|seen|act|by\.|second\.|was\.)/;
  const root = document.querySelector("[data-bench]");
  const list = document.querySelector("[data-waiting]");
  const field = () => document.getElementById("bench");
  const keptAt = Number(document.documentElement.dataset.kept ?? 0);
  const who = document.body.dataset.who;
  let down = !navigator.onLine || keptAt > 0;
  let since = down ? Date.now() : 0;
  let store = null;
  let last = null; // the form that was sent last and is not answered yet
  const answered = []; // what was sent from this page

  const words = list?.querySelector("[data-words]").content;
  const word = (name) => words?.querySelector(`[data-word="${name}"]`)?.textContent ?? name;
  const put = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => String(values[name] ?? ""));
  const clock = (ms) => new Intl.DateTimeFormat("en-GB", { timeZone: root?.dataset.zone, hour: "2-digit", minute: "2-digit" }).format(ms);
  const fresh = () => crypto.randomUUID?.() ?? [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");

  async function open() {
    if (store) return store;
    store = await idb.openDB("ringwright", 1, {
      upgrade(db) {
        db.createObjectStore("acts", { keyPath: "id", autoIncrement: true });
        db.createObjectStore("about");
      },
      blocking: () => { store?.close(); store = null; },
      terminated: () => { store = null; },
    });
    return store;
  }
  const all = async () => (await open()).getAll("acts");

  // The moment by the server's clock, as this browser last heard it: its own may be wrong. What is
  // pressed on a screen comes after what the screen shows, however long the screen was on its way.
  const shownMs = () => Number(field()?.dataset.nowMs ?? 0);
  const serverNow = async () => Math.max(Date.now() + ((await (await open()).get("about", "offset")) ?? 0), shownMs() + 1);

  // When this page began to arrive; how long it then took to run says nothing of the clocks.
  const heardMs = () => performance.timeOrigin + (performance.getEntriesByType("navigation")[0]?.responseStart || performance.now());

  // Pages of somebody else are thrown away before anything of them can be shown.
  async function settle() {
    if (keptAt) return;
    try {
      const db = await open();
      if ((await db.get("about", "who")) !== who) {
        await window.caches?.delete(PAGES);
        await db.put("about", who, "who");
      }
      if (root) await db.put("about", Number(root.dataset.nowMs) - heardMs(), "offset");
    } catch { await window.caches?.delete(PAGES); }
  }

  // ---- telling

  function stateOf(one) {
    if (one.state === "sent") return put(word("sent"), { n: one.entry });
    if (one.state !== "waiting") return word(one.state);
    return word(DECIDES.includes(one.act) ? "proposed" : "waiting");
  }

  function row(one) {
    const made = list.querySelector("[data-row]").content.cloneNode(true).firstElementChild;
    const tell = (name, text) => { made.querySelector(`[data-${name}]`).textContent = text; };
    made.dataset.of = one.state;
    tell("serial", one.serial);
    tell("act", word(`act.${one.act}`));
    tell("what", one.what);
    tell("at", clock(one.at_ms));
    tell("state", stateOf(one));
    const why = made.querySelector("[data-why]");
    why.hidden = !one.why;
    why.textContent = one.why ?? "";
    made.querySelector("[data-sign]").hidden = one.state !== "sign";
    made.querySelector("[data-send-signed]").addEventListener("click", () => {
      const code = made.querySelector("[data-code]");
      const secret = made.querySelector("[data-secret]");
      const signed = [["by.code", code.value], ["by.secret", secret.value]];
      secret.value = "";
      sendAll({ id: one.id, signed });
    });
    const clear = made.querySelector("[data-clear]");
    clear.hidden = one.state !== "refused";
    clear.addEventListener("click", async () => { await (await open()).delete("acts", one.id); show(); });
    return made;
  }

  async function show() {
    let waiting = [];
    try { waiting = await all(); } catch { if (down) say("nostore", true); }
    const open_ = waiting.filter((one) => one.state !== "refused");
    const refused = waiting.length - open_.length;
    for (const chip of document.querySelectorAll("[data-waiting-chip]")) {
      const told = [down ? put(chip.dataset.off, { clock: clock(since) }) : "", open_.length ? put(chip.dataset.some, { n: open_.length }) : "", refused ? put(chip.dataset.refused, { n: refused }) : ""];
      chip.textContent = told.filter(Boolean).join(", ");
      chip.hidden = !chip.textContent;
    }
    if (!list) return;
    const own = (one) => one.who === root.dataset.who;
    const mine = waiting.filter(own);
    const others = waiting.filter((one) => !own(one));
    const shown = [...mine, ...answered];
    list.querySelector("[data-rows]").replaceChildren(...shown.map(row));
    const n = mine.filter((one) => one.state !== "refused").length;
    const part = Number(field()?.dataset.kept ?? 0) || keptAt;
    say("asof", part > 0, { clock: clock(part) });
    say("off", down, { clock: clock(since) });
    say("one", n === 1, { n });
    say("many", n > 1, { n });
    say("settled", !n && shown.length > 0 && !down);
    say("foot", down || n > 0);
    say("others", others.length > 0, { n: others.length, who: others[0]?.who || "?" });
    list.hidden = !(down || shown.length || others.length || part);
    propose(mine);
  }

  const said = new WeakMap();
  function say(name, on, values = {}) {
    const place = list?.querySelector(`[data-${name}]`);
    if (!place) return;
    if (!said.has(place)) said.set(place, place.textContent);
    place.hidden = !on;
    if (on) place.textContent = put(said.get(place), values);
  }

  // A part on which something is proposed takes nothing more until it is answered; readings that
  // wait stand in their fields.
  function propose(mine) {
    const now = field();
    const form = document.getElementById("bench-form");
    if (!now || !form) return;
    const here = mine.filter((one) => one.serial === now.dataset.serial && one.state !== "refused");
    for (const one of here) {
      for (const [name, value] of one.fields.filter(([name]) => name.startsWith("reading."))) {
        const input = form.querySelector(`[name="${CSS.escape(name)}"]`);
        const was = form.querySelector(`[name="${CSS.escape(name.replace("reading.", "was."))}"]`);
        if (!input || !was || (input.value && input.value !== was.value && input.value !== value)) continue;
        input.value = value;
        was.value = value;
        const row = input.closest("[data-row]");
        row.classList.add("is-waiting");
        row.classList.remove("is-outside");
        row.querySelector(".c-reading-row__word").textContent = word("unjudged");
      }
    }
    const decided = here.find((one) => DECIDES.includes(one.act));
    form.querySelector(".l-bench__side").hidden = Boolean(decided);
    form.querySelector(".l-bench__more").hidden = Boolean(decided);
    for (const input of form.querySelectorAll("[data-reading]")) input.readOnly = Boolean(decided);
    now.querySelector(".c-proposed")?.remove();
    if (!decided) return;
    const told = list.querySelector("[data-proposed]").content.cloneNode(true).firstElementChild;
    const stamp = told.querySelector(".c-waiting__stamp");
    stamp.textContent = put(stamp.textContent, { act: word(`act.${decided.act}`) });
    form.before(told);
  }

  // ---- keeping

  function given(form, button) {
    const fields = [...new FormData(form, button)].filter(([, value]) => typeof value === "string");
    const value = (name) => fields.find(([key]) => key === name)?.[1] ?? "";
    const typed = fields.filter(([name, text]) => name.startsWith("reading.") && text && text !== value(name.replace("reading.", "was.")));
    const rest = fields.filter(([name, text]) => text && !NEVER_KEPT.test(name) && !name.startsWith("reading."));
    const told = [...typed.map(([name, text]) => `${name.slice(8).replaceAll("_", " ")} ${text}`), value("note_text"), value("rework_defect"), value("defect") || value("tile")];
    return {
      key: value("key"), seen: value("seen"), act: value("act").split(":")[0],
      fields: [["act", value("act")], ...typed, ...rest], what: told.filter(Boolean).join("; "),
      serial: field().dataset.serial, send: form.dataset.send, who: root.dataset.who,
    };
  }

  async function keep(one) {
    const db = await open();
    const before = (await all()).filter((other) => other.state !== "refused").map((other) => other.at_ms + 1);
    await db.add("acts", { ...one, at_ms: Math.max(Math.round(await serverNow()), ...before), state: "waiting" });
    await navigator.storage?.persist?.().catch(() => false);
  }

  function newKey() {
    const key = document.querySelector("#bench-form [name=key]");
    if (key) key.value = fresh();
  }

  async function take(one) {
    say("lack", false);
    say("neednet", false);
    say("nothing", false);
    for (const told of document.querySelectorAll(".c-strip-news, .c-after, .c-refusal")) told.remove(); // it spoke of what was before
    if (!MAY_WAIT.includes(one.act)) { await show(); say("neednet", true); return; }
    if (one.act === "keep" && !one.what) { await show(); say("nothing", true); return; }
    const empty = [...document.querySelectorAll("#bench-form [data-reading]")].filter((input) => !input.value.trim()).length;
    if (one.act === "pass" && empty) { await show(); say("lack", true, { n: empty }); return; }
    try {
      await keep(one);
      newKey();
      for (const box of document.querySelectorAll("#bench .c-more[open], #bench .c-actbox[open]")) box.open = false;
      const note = document.getElementById("bench-note-text");
      if (note) note.value = "";
    } catch { say("nostore", true); }
    await show();
    list.scrollIntoView({ block: "nearest" });
  }

  function lose() {
    if (!down) since = Date.now();
    down = true;
    show();
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.matches?.("[data-sign-out]") && !form.dataset.ready) {
      event.preventDefault();
      leave(form);
      return;
    }
    if (!root || form.id !== "bench-form" || event.defaultPrevented) return;
    last = given(form, event.submitter);
    if (!down) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    take(last);
    last = null;
  }, true);

  // Whoever signs out takes the pages along; what is not sent stays, under their name.
  async function leave(form) {
    let waits = 0;
    try { await window.caches?.delete(PAGES); waits = (await all()).length; } catch { /* nothing was kept */ }
    if (waits) form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "waiting", value: "kept" }));
    form.dataset.ready = "1";
    form.submit();
  }

  document.addEventListener("htmx:after:request", () => { last = null; });
  document.addEventListener("bench:unsent", (event) => {
    if (!last) return;
    event.preventDefault();
    const one = last;
    last = null;
    lose();
    take(one);
  });
  document.addEventListener("bench:unreached", (event) => {
    event.preventDefault();
    lose();
    const scan = new URL(event.detail.url, location.href).searchParams.get("scan");
    if (!scan) return;
    const box = list.querySelector("[data-unknown]");
    box.dataset.serial = scan;
    const name = box.querySelector("h3");
    if (!said.has(name)) said.set(name, name.textContent);
    name.textContent = put(said.get(name), { serial: scan });
    box.hidden = false;
    list.hidden = false;
    document.getElementById("waiting-note").focus();
  });
  list?.querySelector("[data-keep-note]").addEventListener("click", async () => {
    const box = list.querySelector("[data-unknown]");
    const note = document.getElementById("waiting-note");
    if (!note.value.trim()) { note.focus(); return; }
    const serial = box.dataset.serial;
    try {
      await keep({ key: fresh(), seen: "", act: "note", fields: [["act", "note"], ["note_text", note.value]], what: note.value, serial, send: root.dataset.send.replace("SERIAL", encodeURIComponent(serial)), who: root.dataset.who });
      note.value = "";
      box.hidden = true;
    } catch { say("nostore", true); }
    show();
    document.getElementById("scan").focus();
  });

  // A kept page bears a key that may be used: what is pressed on it gets a key of its own.
  document.addEventListener("bench:settled", () => {
    const box = list?.querySelector("[data-unknown]");
    if (box) box.hidden = true;
    if (field()?.dataset.kept) { newKey(); if (!down) lose(); } else if (down && !keptAt) { down = false; sendAll(); }
    show();
  });

  // ---- sending

  const alone = (work) => navigator.locks ? navigator.locks.request("ringwright-waiting", { ifAvailable: true }, (lock) => lock && work()) : work();

  async function sendAll(signed = null) {
    let changed = false;
    await alone(async () => {
      for (const { id } of await all()) {
        const one = await (await open()).get("acts", id);
        if (!one || one.state === "refused" || !mayGo(one, signed)) continue;
        const kept = await send(one, signed?.id === id ? signed.signed : []);
        changed ||= kept !== "none";
        if (kept === "none") break; // no network yet: the rest waits, in this order
      }
    }).catch(() => {});
    await show();
    return changed;
  }

  const mayGo = (one, signed) => one.state !== "sign" || signed?.id === one.id;

  async function send(one, signed) {
    let answer;
    try {
      const body = new URLSearchParams([["key", one.key], ["seen", one.seen], ["at_ms", one.at_ms], ["who", one.who], ...one.fields, ...signed]);
      answer = await fetch(one.send, { method: "POST", body, signal: AbortSignal.timeout(20000) });
    } catch { lose(); return "none"; }
    if (answer.status >= 500 || answer.status === 429) return "none";
    down = false;
    const told = answer.headers.get("Content-Type")?.startsWith("application/json") ? await answer.json() : null;
    const db = await open();
    if (answer.ok && told) {
      answered.push({ ...one, state: "sent", entry: told.entry });
      const work = db.transaction("acts", "readwrite");
      await work.store.delete(one.id);
      // What was pressed after it was drawn from the same screen; nobody else acted in between.
      for (const later of told.fresh ? await work.store.getAll() : []) {
        if (later.serial === one.serial && later.who === one.who && later.seen === one.seen) await work.store.put({ ...later, seen: String(told.entry) });
      }
      await work.done;
    } else if (told?.code === "not-yours") {
      await db.put("acts", { ...one, state: "waiting" });
    } else if (answer.status === 401) {
      await db.put("acts", { ...one, state: one.who ? "over" : "sign" });
    } else {
      await db.put("acts", { ...one, state: "refused", why: told?.why ?? word("whole") });
    }
    return "answered";
  }

  async function again() {
    let waiting = [];
    try { waiting = await all(); } catch { return; }
    if (waiting.some((one) => one.state !== "refused" && one.state !== "sign") && await sendAll()) reopen();
    else if (down && navigator.onLine) await hear();
  }

  // Is the server there? The list of waiting acts may be empty.
  async function hear() {
    try {
      const answer = await fetch(root?.dataset.worker ?? location.href, { method: "GET", cache: "no-store" });
      if (answer.ok && (!root || !answer.headers.get("X-Kept-At"))) { down = false; reopen(); await show(); }
    } catch { /* still down */ }
  }

  // What stands on the screen is old now: ask for it anew, unless somebody is typing into it.
  function reopen() {
    if (!root || down) return;
    const typed = [...document.querySelectorAll("#bench-form [data-reading]")].some((input) => input.value !== input.defaultValue && input.value !== document.querySelector(`[name="${CSS.escape(input.name.replace("reading.", "was."))}"]`)?.value);
    if (typed) return;
    if (keptAt) { location.reload(); return; }
    if (!field().dataset.serial) return;
    const url = new URL(root.dataset.open, location.href);
    url.searchParams.set("scan", field().dataset.serial);
    document.dispatchEvent(new CustomEvent("bench:reopen", { detail: { url: url.href } }));
  }

  // ---- the Bench without the network

  async function lookAfter() {
    if (!root || !navigator.serviceWorker) return;
    try {
      await navigator.serviceWorker.register(root.dataset.worker, { scope: new URL(root.dataset.open, location.href).pathname });
      const ready = await navigator.serviceWorker.ready;
      if (keptAt) return;
      const files = [...document.querySelectorAll("script[src], link[rel=stylesheet]")].map((one) => one.src || one.href);
      const fonts = performance.getEntriesByType("resource").map((one) => one.name).filter((name) => name.includes("/static/"));
      ready.active?.postMessage({ keep: [...new Set([...files, ...fonts, root.dataset.open, location.href])] });
    } catch { /* no secure address: the Bench works on while it stays open */ }
  }

  window.addEventListener("offline", lose);
  window.addEventListener("online", again);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) again(); });
  setInterval(again, AGAIN_MS);
  settle().then(show).then(again);
  lookAfter();
})();
