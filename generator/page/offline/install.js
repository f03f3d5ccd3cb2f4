/**
 * Makes a pack an app: tells the browser its name and icons, starts its service worker, and offers
 * to keep everything. From a disk there is neither, and this does nothing.
 */

const place = /** @type {HTMLElement | null} */ (document.querySelector('.offline'));
const button = /** @type {HTMLButtonElement | null} */ (document.querySelector('[data-does="keep"]'));
const told = /** @type {HTMLElement | null} */ (document.getElementById('kept'));

/** @param {number} bytes */
function megabytes(bytes) {
  return `${Math.max(0.1, bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0)} MB`;
}

/** @param {{bytes?: number, whole?: number, failed?: string}} data */
function show({ bytes = 0, whole = 0, failed }) {
  if (place === null || button === null || told === null) return;
  place.hidden = false;
  if (failed !== undefined) {
    button.disabled = false;
    told.textContent = failed === 'room'
      ? 'This device has no room for all of it. The pages and what you have opened are kept.'
      : 'Not everything could be fetched. Try again with a network.';
    return;
  }
  const all = bytes >= whole;
  button.hidden = all;
  button.textContent = `Keep everything on this device (${megabytes(whole - bytes)})`;
  told.textContent = all
    ? 'Everything is kept on this device and opens without a network.'
    : button.disabled ? `${megabytes(bytes)} of ${megabytes(whole)} are kept.` : 'The exercises open without a network.';
}

async function install() {
  if (!/^https?:$/.test(location.protocol) || !('serviceWorker' in navigator)) return;
  const link = document.createElement('link');
  link.rel = 'manifest';
  link.href = 'app.webmanifest';
  document.head.append(link);
  const container = navigator.serviceWorker;
  container.addEventListener('message', (event) => show(event.data));
  try {
    await container.register('offline.js');
  } catch {
    return; // an address without https, or a browser that allows none: the pack works as it is
  }
  const { active } = await container.ready;
  active?.postMessage({ does: 'tell' });
  button?.addEventListener('click', () => {
    button.disabled = true;
    navigator.storage?.persist?.();
    container.ready.then((ready) => ready.active?.postMessage({ does: 'keep' }));
  });
}

install();
