/**
 * The service worker of a pack: after one visit its pages open without a network.
 *
 * It has the pack's own list of files, which is put before it when the pack is built. It asks the
 * network for those files alone, keeps none whose bytes are not the ones that were built, and
 * drops no cache but older ones of this pack. Pages are kept at the first visit; recordings and
 * everything else when they are first used, or all at once when the page asks for it.
 */

import { addressed, byteRange, hexadecimal, meant } from './serving.js';

/** @typedef {import('./serving.js').Listed} Listed */

const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));
/** @type {{hash: string, files: [path: string, sha256: string, size: number, first: 0 | 1][]}} */
const pack = /** @type {any} */ (self).REEDMILL_PACK;
const scope = worker.registration.scope;
const OURS = `reedmill ${scope} `; // an address has no space in it, so no other pack's name begins so
const NAME = OURS + pack.hash;
const MARK = 'x-reedmill-sha256';
const files = addressed(
  pack.files.map(([path, sha256, size, first]) => ({ path, sha256, size, first: first === 1 })),
  scope,
);
/** What is being fetched, so that nothing is fetched twice at a time. @type {Map<string, Promise<void>>} */
const underWay = new Map();

worker.addEventListener('install', (event) => {
  const first = [...files].filter(([, file]) => file.first).map(([address]) => keep(address));
  event.waitUntil(Promise.all(first).then(() => worker.skipWaiting()));
});

worker.addEventListener('activate', (event) => {
  event.waitUntil(carriedOver().then(() => worker.clients.claim()));
});

worker.addEventListener('fetch', (event) => {
  const address = event.request.method === 'GET' ? meant(event.request.url, files) : null;
  if (address !== null) event.respondWith(answer(event, address));
});

worker.addEventListener('message', (event) => {
  if (event.data?.does === 'keep') event.waitUntil(keepAll());
  if (event.data?.does === 'tell') event.waitUntil(tellAll());
});

/** @param {FetchEvent} event @param {string} address @returns {Promise<Response>} */
async function answer(event, address) {
  const range = event.request.headers.get('range');
  const kept = await (await caches.open(NAME)).match(address);
  if (kept) return range === null ? kept : part(kept, range);
  if (range !== null && range !== 'bytes=0-') {
    event.waitUntil(keep(address).catch(() => {}));
    return fetch(event.request);
  }
  const found = await fetchOwn(address);
  event.waitUntil(put(address, found.clone()).then(tellAll, () => {}));
  return range === null ? found : begun(found, /** @type {Listed} */ (files.get(address)));
}

/** The bytes of *kept* that *range* asks for. @param {Response} kept @param {string} range */
async function part(kept, range) {
  const whole = await kept.blob();
  const asked = byteRange(range, whole.size);
  if (asked === null) {
    return new Response(null, { status: 416, headers: { 'content-range': `bytes */${whole.size}` } });
  }
  return partial(whole.slice(asked.first, asked.last + 1), kept, asked.first, asked.last, whole.size);
}

/** All of *found* from its first byte, as what a player asked for. @param {Response} found @param {Listed} file */
function begun(found, file) {
  return partial(found.body, found, 0, file.size - 1, file.size);
}

/**
 * @param {BodyInit | null} body @param {Response} like @param {number} first @param {number} last
 * @param {number} size
 */
function partial(body, like, first, last, size) {
  const headers = {
    'content-type': like.headers.get('content-type') ?? '',
    'content-range': `bytes ${first}-${last}/${size}`,
    'content-length': String(last - first + 1),
    'accept-ranges': 'bytes',
  };
  return new Response(body, { status: 206, headers });
}

/** A file of the pack from the network; never from elsewhere. @param {string} address */
async function fetchOwn(address) {
  const found = await fetch(address, { mode: 'same-origin', cache: 'no-cache' });
  if (!found.ok || !found.url.startsWith(scope)) throw new TypeError(`${address} was not found (${found.status})`);
  return found;
}

/** Keeps the file unless it is kept. @param {string} address @returns {Promise<void>} */
function keep(address) {
  const running = underWay.get(address);
  if (running) return running;
  const started = keepNow(address).finally(() => underWay.delete(address));
  underWay.set(address, started);
  return started;
}

/** @param {string} address */
async function keepNow(address) {
  const { sha256 } = /** @type {Listed} */ (files.get(address));
  if (await (await caches.open(NAME)).match(address)) return;
  const before = await keptBefore(address, sha256);
  await put(address, before ?? (await fetchOwn(address)));
}

/** Keeps *found* when it is what was built. @param {string} address @param {Response} found */
async function put(address, found) {
  const { sha256 } = /** @type {Listed} */ (files.get(address));
  const bytes = await found.arrayBuffer();
  if (hexadecimal(await crypto.subtle.digest('SHA-256', bytes)) !== sha256) {
    throw new TypeError(`${address} is not the file of this pack`);
  }
  const headers = {
    'content-type': found.headers.get('content-type') ?? '',
    'content-length': String(bytes.byteLength),
    [MARK]: sha256,
  };
  await (await caches.open(NAME)).put(address, new Response(bytes, { headers }));
}

/** The file as an older cache of this pack has it. @param {string} address @param {string} sha256 */
async function keptBefore(address, sha256) {
  for (const name of await older()) {
    const found = await (await caches.open(name)).match(address);
    if (found?.headers.get(MARK) === sha256) return found;
  }
  return null;
}

async function older() {
  return (await caches.keys()).filter((name) => name.startsWith(OURS) && name !== NAME);
}

/** Takes over what was kept and has not changed, and drops the older caches. */
async function carriedOver() {
  for (const name of await older()) {
    const before = await caches.open(name);
    for (const request of await before.keys()) {
      const file = files.get(request.url);
      const found = await before.match(request);
      if (file && found?.headers.get(MARK) === file.sha256) await (await caches.open(NAME)).put(request, found);
    }
    await caches.delete(name);
  }
}

/** Keeps every file, one after the other, and tells the pages how far it is, or why no further. */
async function keepAll() {
  for (const address of files.keys()) {
    try {
      await keep(address);
    } catch (error) {
      await tell({ failed: error instanceof DOMException && error.name === 'QuotaExceededError' ? 'room' : 'network' });
      return;
    }
    await tellAll();
  }
}

/** Tells the pages how many bytes are kept, of how many. */
async function tellAll() {
  const kept = new Set((await (await caches.open(NAME)).keys()).map((each) => each.url));
  let bytes = 0;
  let whole = 0;
  for (const [address, { size }] of files) {
    whole += size;
    bytes += kept.has(address) ? size : 0;
  }
  await tell({ bytes, whole });
}

/** Tells the pages of this pack, those that were open before the worker was too. @param {object} data */
async function tell(data) {
  for (const page of await worker.clients.matchAll({ includeUncontrolled: true })) {
    if (page.url.startsWith(scope)) page.postMessage(data);
  }
}
