/**
 * What a pack keeps and how it is handed out, as functions that need no browser.
 */

/**
 * @typedef {object} Listed  one file of the pack
 * @property {string} path  from the pack's folder
 * @property {string} sha256  hexadecimal
 * @property {number} size  bytes
 * @property {boolean} first  kept at the first visit
 *
 * @typedef {object} ByteRange
 * @property {number} first
 * @property {number} last  inclusive
 */

const INDEX = 'index.html';

/**
 * The files by their addresses below *scope*.
 *
 * @param {Listed[]} files
 * @param {string} scope  ends in a slash
 * @returns {Map<string, Listed>}
 */
export function addressed(files, scope) {
  return new Map(files.map((file) => [new URL(encodeURI(file.path), scope).href, file]));
}

/**
 * The address among those *known* that *url* means, or null: a folder means its index page, and
 * some hosts leave `.html` out.
 *
 * @param {string} url
 * @param {{has: (address: string) => boolean}} known
 */
export function meant(url, known) {
  const address = new URL(url);
  address.search = '';
  address.hash = '';
  const { href } = address;
  const found = [href, href.endsWith('/') ? href + INDEX : `${href}.html`].find((each) => known.has(each));
  return found ?? null;
}

/**
 * What a Range header asks of *size* bytes (RFC 9110, 14.1.2); null where it asks for several
 * parts, for none there is, or in other units.
 *
 * @param {string} header
 * @param {number} size
 * @returns {ByteRange | null}
 */
export function byteRange(header, size) {
  const parts = /^bytes=(\d*)-(\d*)$/.exec(header.trim());
  if (parts === null || (parts[1] === '' && parts[2] === '')) return null;
  const first = parts[1] === '' ? Math.max(0, size - Number(parts[2])) : Number(parts[1]);
  const last = parts[1] === '' || parts[2] === '' ? size - 1 : Math.min(Number(parts[2]), size - 1);
  return first <= last ? { first, last } : null;
}

/** Hexadecimal digits. @param {ArrayBuffer} bytes */
export function hexadecimal(bytes) {
  return [...new Uint8Array(bytes)].map((each) => each.toString(16).padStart(2, '0')).join('');
}
