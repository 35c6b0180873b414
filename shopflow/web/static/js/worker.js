// The service worker: files by their version, pages opened before, forms that wait for the network.
// VERSION, FILES, KEPT, QUEUED, FALLBACK and SIGN_OUT stand before it; so does queue.js.
const CACHE = `files ${VERSION}`;
const PAGES = "pages";
const PATIENCE = 6000;

const matches = (patterns, path) => patterns.some((pattern) => new RegExp(pattern).test(path));
const isFile = (path) => path.startsWith("/static/") || path.startsWith("/fonts/");

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const cache = await caches.open(CACHE);
    await cache.addAll(FILES.map((address) => new Request(address, { cache: "no-cache" })));
    await self.skipWaiting();
  })());
});

// Pages of an earlier version go with its scripts.
self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    const names = await caches.keys();
    await Promise.all(names.filter((name) => name !== CACHE).map((name) => caches.delete(name)));
    await self.clients.claim();
  })());
});

self.addEventListener("message", (event) => {
  event.waitUntil((async () => {
    const request = new Request(event.data, { credentials: "same-origin" });
    await keep(request, new URL(event.data).pathname, await fetch(request));
  })());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (origin !== self.location.origin) return;
  if (request.method === "GET" && isFile(pathname)) event.respondWith(file(request));
  else if (request.mode !== "navigate") return;
  else if (request.method === "GET") event.respondWith(page(request, pathname));
  else if (SIGN_OUT.includes(pathname)) event.respondWith(signOut(request));
  else if (request.method === "POST" && matches(QUEUED, pathname)) event.respondWith(form(request));
});

// A file of another version than this worker's comes from the server, as long as there is one.
async function file(request) {
  const cache = await caches.open(CACHE);
  const same = await cache.match(request);
  if (same) return same;
  try {
    return await fetch(request, new URL(request.url).search ? {} : { cache: "no-cache" });
  } catch (fault) {
    const other = await cache.match(request, { ignoreSearch: true });
    if (other) return other;
    throw fault;
  }
}

async function page(request, path) {
  const asked = answered(fetch(request));
  const kept = await keptCopy(request, path);
  try {
    const answer = await (kept ? Promise.race([asked, late()]) : asked);
    await keep(request, path, answer);
    return answer;
  } catch {
    return kept || fallback();
  }
}

// A server that a proxy cannot reach is none.
async function answered(asked) {
  const answer = await asked;
  if (answer.status >= 502) throw new Error(`status ${answer.status}`);
  return answer;
}

function late() {
  return new Promise((_, reject) => setTimeout(() => reject(new Error("late")), PATIENCE));
}

async function keptCopy(request, path) {
  if (!matches(KEPT, path)) return undefined;
  const pages = await caches.open(PAGES);
  return (await pages.match(request)) || pages.match(request, { ignoreSearch: true });
}

// Pages of one person are not for the next one.
async function keep(request, path, answer) {
  const person = answer.headers.get("X-Person");
  if (!person) return;
  if (person !== (await fact("person"))) {
    await caches.delete(PAGES);
    await setFact("person", person);
  }
  if (!answer.ok || !matches(KEPT, path)) return;
  const pages = await caches.open(PAGES);
  await pages.put(request.url, answer.clone());
}

async function fallback() {
  const cache = await caches.open(CACHE);
  return cache.match(FALLBACK);
}

async function signOut(request) {
  try {
    return await fetch(request);
  } catch {
    return fallback();
  } finally {
    await caches.delete(PAGES);
    await setFact("person", "");
  }
}

async function form(request) {
  const from = request.referrer;
  const fields = Array.from(await request.formData());
  if (!fields.some(([name]) => name === "idempotency_key")) fields.push(["idempotency_key", newKey()]);
  const body = new FormData();
  for (const [name, value] of fields) body.append(name, value);
  try {
    const sent = { method: "POST", body, credentials: "same-origin", redirect: "manual", referrer: from };
    return await answered(fetch(request.url, sent));
  } catch {
    await putEntry({
      key: `form ${fields.find(([name]) => name === "idempotency_key")[1]}`,
      kind: "form",
      address: new URL(request.url).pathname + new URL(request.url).search,
      fields,
      page: from ? new URL(from).pathname + new URL(from).search : FALLBACK,
      group: new URL(request.url).pathname,
      label: await titleOf(from),
      person: await fact("person"),
    });
    return Response.redirect(FALLBACK, 303);
  }
}

async function titleOf(address) {
  const pages = await caches.open(PAGES);
  const kept = address && (await pages.match(address));
  const title = kept && /<title>([^<]*)<\/title>/.exec(await kept.text());
  return title ? title[1].trim() : "";
}
