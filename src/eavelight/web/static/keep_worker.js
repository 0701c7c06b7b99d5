// Pages of the visit at work, as they stood when the server last answered. Only what
// the ladder needs is kept, for the last visits; everything else asks the server.
"use strict";
const STATIC = "static 1", MOST_VISITS = 3, WAIT_MS = 6000;
const ALWAYS = ["/away", "/static/eavelight.css", "/static/keep.js", "/static/mark.svg"];
const LADDER = /^(\/[^/]+\/visits\/[^/]+)\/(ladder|plan)(\/|$)/;

self.addEventListener("install", (event) => {
  self.skipWaiting();
  event.waitUntil(caches.open(STATIC).then((kept) => kept.addAll(ALWAYS)));
});
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

const visitOf = (path) => (LADDER.exec(path) || [])[1];
const plain = (url) => new URL(url, self.location.origin).pathname;

const keep = async (path, answer) => {
  const visit = visitOf(path);
  if (!answer.ok || answer.redirected) return;
  if (visit) await (await caches.open("visit " + visit)).put(path, answer);
  else if (ALWAYS.includes(path)) await (await caches.open(STATIC)).put(path, answer);
};
const kept = async (path) => {
  const visit = visitOf(path);
  if (!visit) return caches.match(path);
  const held = await caches.open("visit " + visit);
  return (await held.match(path)) || (path.endsWith("/ladder/next") ? held.match(visit + "/ladder") : undefined);
};

const answered = async (request) => {
  const path = plain(request.url);
  const stop = new AbortController();
  const before = await kept(path);
  const clock = before ? setTimeout(() => stop.abort(), WAIT_MS) : 0;
  try {
    const answer = await fetch(request, { signal: stop.signal });
    clearTimeout(clock);
    if (answer.status >= 500 && before) return before;
    // what a page tells about one entry is told once
    if (!request.url.includes("after=")) keep(path, answer.clone()).catch(() => undefined);
    return answer;
  } catch (error) {
    clearTimeout(clock);
    if (before) return before;
    const away = request.mode === "navigate" ? await caches.match("/away") : undefined;
    if (away) return away;
    throw error;
  }
};

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (request.mode === "navigate" || ALWAYS.includes(url.pathname)) event.respondWith(answered(request));
});

const ahead = async (visit, pages) => {
  const name = "visit " + visit;
  const held = await caches.open(name);
  // the page for no answer, in the language that is read now
  await fetch("/away", { credentials: "same-origin" }).then((answer) => keep("/away", answer)).catch(() => undefined);
  for (const page of [visit + "/ladder", visit + "/plan", ...pages]) {
    if (!page.startsWith(visit + "/")) continue;
    if (await held.match(page)) continue;
    try {
      const answer = await fetch(page, { credentials: "same-origin" });
      if (answer.ok && !answer.redirected) await held.put(page, answer);
    } catch { return; }
  }
  const visits = (await caches.keys()).filter((key) => key.startsWith("visit ") && key !== name);
  for (const old of visits.slice(0, Math.max(0, visits.length - MOST_VISITS + 1))) await caches.delete(old);
};
const forget = async () => {
  for (const key of await caches.keys()) if (key.startsWith("visit ")) await caches.delete(key);
};

self.addEventListener("message", (event) => {
  const { visit, pages, forget: all } = event.data || {};
  if (all) event.waitUntil(forget());
  else if (visit && pages) event.waitUntil(ahead(visit, pages));
});
