import assert from 'node:assert/strict';
import { test } from 'node:test';

import { addressed, byteRange, hexadecimal, meant } from '../offline/serving.js';

const SCOPE = 'https://example.org/packs/ada/';
const files = ['index.html', '01-home/01-a.page.html', 'дорога.m3u8'].map((path) => ({ path, sha256: '', size: 1, first: true }));
const known = addressed(files, SCOPE);

test('an address means a file of the pack, a folder its index page, and nothing else', () => {
  const cases = /** @type {[string, string | null][]} */ ([
    ['index.html', 'index.html'],
    ['', 'index.html'],
    ['?source=home#lessons', 'index.html'],
    ['01-home/01-a.page.html', '01-home/01-a.page.html'],
    ['01-home/01-a.page', '01-home/01-a.page.html'], // hosts that leave .html out
    ['%D0%B4%D0%BE%D1%80%D0%BE%D0%B3%D0%B0.m3u8', '%D0%B4%D0%BE%D1%80%D0%BE%D0%B3%D0%B0.m3u8'],
    ['01-home/', null],
    ['private.html', null],
    ['../index.html', null],
  ]);
  for (const [address, path] of cases) {
    assert.equal(meant(new URL(address, SCOPE).href, known), path === null ? null : SCOPE + path, address);
  }
  assert.equal(meant('https://elsewhere.example/packs/ada/index.html', known), null);
});

test('a range is read as RFC 9110, 14.1.2, has it', () => {
  // Of 10000 bytes: the first 500, the second 500, the last 500 twice (the examples of that section).
  assert.deepEqual(byteRange('bytes=0-499', 10_000), { first: 0, last: 499 });
  assert.deepEqual(byteRange('bytes=500-999', 10_000), { first: 500, last: 999 });
  assert.deepEqual(byteRange('bytes=-500', 10_000), { first: 9500, last: 9999 });
  assert.deepEqual(byteRange('bytes=9500-', 10_000), { first: 9500, last: 9999 });
  assert.deepEqual(byteRange('bytes=9500-20000', 10_000), { first: 9500, last: 9999 });
  for (const header of ['bytes=10000-', 'bytes=-', 'bytes=5-4', 'bytes=0-0,-1', 'lines=1-2', 'bytes=-0']) {
    assert.equal(byteRange(header, 10_000), null, header);
  }
});

test('a digest is written in hexadecimal digits', () => {
  assert.equal(hexadecimal(new Uint8Array([0, 15, 16, 255]).buffer), '000f10ff');
});
