// Opens the log again while the computer can't be reached: the page as it was kept last, and nothing else.
"use strict";
const PAGE = "floor", PATIENCE_MS = 4000;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method === "GET" && url.origin === self.location.origin && url.pathname !== "/now")
    event.respondWith(answered(event.request, url.pathname));
});

async function answered(request, path) {
  const kept = await (await caches.open(PAGE)).match(path);
  if (!kept) return fetch(request);
  const asked = fetch(request).then((answer) => (answer.ok ? answer : kept), () => kept);
  return Promise.race([asked, new Promise((late) => setTimeout(late, PATIENCE_MS, kept))]);
}
