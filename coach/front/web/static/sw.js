// Keeps the page itself, tonight's card and the pictures at hand, for when the connection is lost.
// What was told is not kept here.

const SHELL = "coach-shell-@VERSION@";
const PAGES = "coach-pages";
const FILES = ["/", "/app.css", "/app.js", "/keep.js", "/show.js", "/lesson.js", "/manifest.webmanifest", "/icon.svg"];
const WAIT_MS = 2500;

addEventListener("install", (event) => {
  event.waitUntil(caches.open(SHELL).then((shell) => shell.addAll(FILES)).then(() => skipWaiting()));
});

addEventListener("activate", (event) => {
  event.waitUntil(caches.keys().then((names) => Promise.all(
    names.filter((name) => name.startsWith("coach-shell-") && name !== SHELL).map((name) => caches.delete(name))
  )).then(() => clients.claim()));
});

addEventListener("fetch", (event) => {
  const { method, url } = event.request;
  const { origin, pathname } = new URL(url);
  if (method !== "GET" || origin !== location.origin) return;
  if (FILES.includes(pathname)) event.respondWith(fresh(event.request, SHELL, pathname));
  else if (pathname === "/card" || pathname.startsWith("/picture/")) {
    event.respondWith(fresh(event.request, PAGES, pathname + new URL(url).search.replace(/&?n=[^&]*/, "")));
  }
});

/** From the coach; as it was last where it does not answer soon. */
async function fresh(request, name, key) {
  const cache = await caches.open(name);
  const held = await cache.match(key);
  const asked = fetch(request).then(async (response) => {
    if (response.ok) await cache.put(key, response.clone());
    return response;
  });
  if (!held) return asked.catch(() => new Response("No connection.", { status: 503 }));
  const late = new Promise((done) => { setTimeout(done, WAIT_MS, held); });
  return Promise.race([asked.catch(() => held), late]);
}
