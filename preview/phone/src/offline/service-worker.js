// Keeps every file of one version of the page by its content, and answers from there alone. The build
// puts `version` and `list` before this. A new version is fetched whole beside the old one and waits
// until a person takes it, or until no page of the old one is open.
const stored = "chipfall-files";
const keptAs = ({ path, hash }) => new Request(`${self.location.origin}${path}?kept=${hash}`);

self.addEventListener("install", (event) => {
  event.waitUntil(
    (async () => {
      const cache = await caches.open(stored);
      for (const file of list) {
        const key = keptAs(file);
        if (await cache.match(key)) continue;
        const answer = await fetch(file.path, { cache: "no-cache" });
        if (!answer.ok) throw new Error(`${file.path}: ${answer.status}`);
        // A file of another version than the list's would mix two versions in one page.
        const bytes = await answer.clone().arrayBuffer();
        const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
        const hash = [...digest].map((byte) => byte.toString(16).padStart(2, "0")).join("");
        if (!hash.startsWith(file.hash)) throw new Error(`${file.path}: not of this version`);
        await cache.put(key, answer);
      }
    })(),
  );
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    (async () => {
      const cache = await caches.open(stored);
      const wanted = new Set(list.map((file) => keptAs(file).url));
      for (const key of await cache.keys()) if (!wanted.has(key.url)) await cache.delete(key);
      await self.clients.claim();
    })(),
  );
});

self.addEventListener("message", (event) => {
  if (event.data === "use") void self.skipWaiting();
  if (event.data === "version") event.source?.postMessage({ version });
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  // The steps for the shop's certificate are the hub's own page, not this one's.
  if (url.pathname.startsWith("/authority")) return;
  const path = event.request.mode === "navigate" ? "/" : url.pathname;
  const file = list.find((one) => one.path === path);
  if (!file) return;
  event.respondWith(
    (async () => {
      const cache = await caches.open(stored);
      return (await cache.match(keptAs(file))) ?? fetch(event.request);
    })(),
  );
});
