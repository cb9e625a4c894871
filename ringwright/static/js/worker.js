// Keeps the Bench in this browser, so that it opens without the network. It looks after the Bench
// alone. What it gives from its store says so (data-kept): it is never shown as live. It holds
// one person's pages at a time, no longer than a sign-in lasts, and none once that is over.
"use strict";
const PAGES = "ringwright-pages";
const FILES = "ringwright-files";
const LONGEST_MS = 13 * 3600 * 1000;
const PATIENCE_MS = 6000;
const MOST = 60;
const PIECE = /<!-- bench -->([\s\S]*)<!-- \/bench -->/;
const when = (kept) => Number(kept.headers.get("X-Kept-At"));
const at = (kind, url) => {
  const scan = (url.searchParams.get("scan") ?? "").trim().toUpperCase();
  const site = url.searchParams.get("site") ?? "";
  return `${location.origin}/kept/${kind}?${new URLSearchParams({ scan, site })}`;
};
const isBench = (url) => /\/bench\/?$/.test(url.pathname);
const acted = (url) => /\/bench\/acts\/(.+)$/.exec(url.pathname)?.[1];

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method === "GET" && url.pathname.includes("/static/")) event.respondWith(file(request, url));
  else if (request.method === "GET" && isBench(url)) event.respondWith(look(request, url));
  else if (request.method === "POST" && acted(url) && request.headers.get("HX-Request")) event.respondWith(act(request, url));
});

// The page asks for what it needs to open again: its own files, and itself.
self.addEventListener("message", (event) => {
  if (!Array.isArray(event.data?.keep)) return;
  event.waitUntil(Promise.all(event.data.keep.map(async (asked) => {
    const url = new URL(asked, location.origin);
    if (url.origin !== location.origin) return;
    try {
      if (url.pathname.includes("/static/")) await file(new Request(url), url);
      else if (isBench(url)) await look(new Request(url), url, "page");
    } catch { /* it will be asked for again */ }
  })));
});

async function file(request, url) {
  const kept = await caches.open(FILES);
  const named = url.searchParams.has("v"); // its name changes with its content
  const found = named && (await kept.match(request));
  if (found) return found;
  try {
    const answer = await fetch(request);
    if (answer.ok) await kept.put(request, answer.clone());
    return answer;
  } catch (trouble) {
    const old = await kept.match(request);
    if (old) return old;
    throw trouble;
  }
}

async function look(request, url, asked) {
  const kind = asked ?? (request.headers.get("HX-Request") ? "piece" : "page");
  try {
    const answer = await fetch(request, { signal: AbortSignal.timeout(PATIENCE_MS) });
    // Led elsewhere or turned away: whoever was signed in is so no longer.
    if (answer.type === "opaqueredirect" || answer.redirected || answer.status === 401) await caches.delete(PAGES);
    else if (answer.ok) await keep(kind, url, answer.clone());
    return answer;
  } catch {
    return given(kind, url);
  }
}

async function act(request, url) {
  const answer = await fetch(request);
  if (answer.status === 401) await caches.delete(PAGES);
  else if (answer.ok) {
    const opened = new URL(url);
    opened.searchParams.set("scan", decodeURIComponent(acted(url)));
    await keep("piece", opened, answer.clone());
  }
  return answer;
}

async function keep(kind, url, answer) {
  const text = await answer.text();
  const who = /<div id="bench" data-who="([^"]*)"/.exec(text)?.[1];
  if (who === undefined) return;
  // Only what can be worked with: an open part, or the empty Bench.
  const open = text.includes('data-state="part"');
  if (kind === "piece" && !open) await (await caches.open(PAGES)).delete(at("page", url));
  if (!open && !(text.includes('data-state="idle"') && kind === "page")) {
    await (await caches.open(PAGES)).delete(at(kind, url));
    return;
  }
  let pages = await caches.open(PAGES);
  const last = await (await pages.match(`${location.origin}/kept/who`))?.text();
  if (last !== who) {
    await caches.delete(PAGES);
    pages = await caches.open(PAGES);
    await pages.put(`${location.origin}/kept/who`, new Response(who));
  }
  const headers = new Headers(answer.headers);
  for (const name of ["Content-Encoding", "Content-Length", "Set-Cookie"]) headers.delete(name);
  headers.set("X-Kept-At", String(Date.now()));
  await pages.put(at(kind, url), new Response(text, { headers }));
  const all = await pages.keys();
  for (const old of all.slice(1, Math.max(1, all.length - MOST))) await pages.delete(old);
}

async function given(kind, url) {
  const pages = await caches.open(PAGES);
  const old = (found) => Date.now() - when(found) > LONGEST_MS;
  let page = await pages.match(at("page", url));
  const piece = await pages.match(at("piece", url));
  if (page && old(page)) page = undefined;
  const newer = piece && !old(piece) && (!page || when(piece) > when(page));
  // A page opened long ago gets the newest piece put in; a piece that was only a page is cut out.
  const base = page ?? (await pages.match(at("page", new URL(`/bench?${site(url)}`, location.origin))));
  if (!newer && !page && kind === "piece") return new Response("", { status: 504 });
  if (!base || old(base)) return kind === "page" || !newer ? Response.error() : mark(await piece.text(), piece);
  const whole = await base.text();
  const inner = newer ? await piece.text() : PIECE.exec(whole)[1];
  if (kind === "piece") return mark(inner, newer ? piece : base);
  return mark(whole.replace(PIECE, () => `<!-- bench -->${inner}<!-- /bench -->`), newer ? piece : base, base);
}

// What comes from the store says since when it stands.
function mark(text, from, headers = from) {
  const kept = when(from);
  const told = text
    .replace("<html ", `<html data-kept="${kept}" `)
    .replace('<div id="bench" ', `<div id="bench" data-kept="${kept}" `);
  return new Response(told, { headers: headers.headers });
}

function site(url) {
  const named = url.searchParams.get("site");
  return named ? new URLSearchParams({ site: named }) : "";
}
