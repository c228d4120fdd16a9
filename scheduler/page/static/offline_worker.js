"use strict";
/* The last state of every page that was looked at, for where there is no reception. */
const SHELF = "wingrest-pages";
self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", (event) => {
  const asked = event.request;
  if (asked.method !== "GET" || asked.url.endsWith("/pulse")) return;
  event.respondWith((async () => {
    const shelf = await caches.open(SHELF);
    const bare = new URL(asked.url);
    ["line", "again", "said", "spot", "v"].forEach((name) => bare.searchParams.delete(name));
    try {
      const answer = await fetch(asked);
      if (answer.ok && !answer.redirected) shelf.put(bare.href, answer.clone());
      if (answer.status === 410 || answer.status === 404) shelf.delete(bare.href);
      return answer;
    } catch (error) {
      const known = await shelf.match(bare.href);
      if (known) return known;
      throw error;
    }
  })());
});
