import assert from 'node:assert/strict';
import test from 'node:test';

import { tapOf } from '../src/tap.js';

const taps = {
  bar: { hz: 1800, peak: 0.2 }, pulse: { hz: 1200, peak: 0.13 }, attack_s: 0.0004, length_s: 0.06,
  modes: /** @type {[number, number, number][]} */ ([[1, 1, 0.012], [2.76, 0.35, 0.005], [4.1, 0.12, 0.003]]),
};

test('a tap is as loud as it should be, silent at both ends, and has died away', () => {
  for (const which of [taps.bar, taps.pulse]) {
    const tap = tapOf(taps, which, 48_000);
    assert.equal(tap.length, 2880);
    assert.equal(tap[0], 0);
    assert.ok(Math.abs(Math.max(...tap.map(Math.abs)) - which.peak) < 1e-7);
    assert.ok(Math.max(...tap.slice(-48).map(Math.abs)) < which.peak / 500);
  }
});

test('the bar is told from the beats by its pitch', () => {
  const crossings = (/** @type {Float32Array} */ tap) => tap.slice(400, 1400).filter((each, n, all) => n > 0 && all[n - 1] < 0 && each >= 0).length;
  assert.ok(Math.abs(crossings(tapOf(taps, taps.bar, 48_000)) - 1800 * (1000 / 48_000)) <= 1);
  assert.ok(Math.abs(crossings(tapOf(taps, taps.pulse, 48_000)) - 1200 * (1000 / 48_000)) <= 1);
});
