import assert from 'node:assert/strict';
import { test } from 'node:test';
import { PitchDetector } from '../src/pitch.js';

/** A reed-like tone whose pitch is a function of time; a sum of sines, nothing of the page's own.
 * @param {(t: number) => number} hzAt @param {number} seconds @param {number} rate
 * @param {{first?: number, noise?: number}} [sort]
 */
function tone(hzAt, seconds, rate, { first = 1, noise = 0 } = {}) {
  const shares = [first, 0.7, 0.6, 0.4, 0.3, 0.2, 0.15, 0.1];
  const sound = new Float32Array(Math.round(seconds * rate));
  let phase = 0;
  let seed = 1;
  for (let n = 0; n < sound.length; n += 1) {
    const hz = hzAt(n / rate);
    phase += hz / rate;
    shares.forEach((share, k) => {
      if ((k + 1) * hz < 0.45 * rate) sound[n] += 0.1 * share * Math.sin(2 * Math.PI * (k + 1) * phase + k * k);
    });
    seed = (seed * 1103515245 + 12345) % 2147483648;
    sound[n] += noise * (seed / 1073741824 - 1);
  }
  return sound;
}

/** Cents of each reading from what sounds at the moment it holds for. */
function errors(sound, hzAt, rate, from_s = 0.15) {
  const detector = new PitchDetector(rate);
  const found = [];
  const block = 512;
  for (let n = 0; n + block <= sound.length; n += block) {
    detector.push(sound.subarray(n, n + block));
    const reading = detector.read();
    const at = (n + block) / rate - reading.ago_s;
    if (at > from_s) found.push(Number.isNaN(reading.hz) ? NaN : 1200 * Math.log2(reading.hz / hzAt(at)));
  }
  return found;
}

/** @param {number[]} values @param {number} share */
function quantile(values, share) {
  const sorted = values.map(Math.abs).sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))];
}

for (const rate of [48_000, 44_100, 16_000]) {
  test(`a held note is read to a fraction of a cent from low F to high G at ${rate}`, () => {
    for (let midi = 41; midi <= 98; midi += 3) {
      const hz = 440 * 2 ** ((midi - 69 + 0.37) / 12);
      const off = errors(tone(() => hz, 0.5, rate), () => hz, rate);
      assert.ok(off.length > 8);
      assert.ok(off.every((cents) => Number.isFinite(cents)), `${midi}: ${off}`);
      assert.ok(quantile(off, 0.5) < (rate > 20_000 ? 0.15 : 0.7), `${midi}: ${quantile(off, 0.5)}`);
      assert.ok(quantile(off, 1) < (rate > 20_000 ? 0.6 : 3), `${midi}: ${quantile(off, 1)}`);
    }
  });
}

test('a first partial of a twentieth does not make it the octave', () => {
  for (const hz of [97, 196, 392, 587, 1480]) {
    const off = errors(tone(() => hz, 0.4, 48_000, { first: 0.05 }), () => hz, 48_000);
    assert.ok(quantile(off, 1) < 5, `${hz}: ${quantile(off, 1)}`);
  }
});

test('a bend on its way is read where it is', () => {
  const bend = (/** @type {number} */ t) => 493.88 * 2 ** ((-2 * Math.min(1, Math.max(0, (t - 0.3) / 0.2))) / 12);
  const off = errors(tone(bend, 0.9, 48_000), bend, 48_000);
  assert.ok(quantile(off, 0.5) < 0.3, String(quantile(off, 0.5)));
  assert.ok(quantile(off, 0.95) < 12, String(quantile(off, 0.95)));
});

test('noise 20 dB softer moves a reading by less than 2 cents, and noise alone has no pitch', () => {
  const off = errors(tone(() => 440, 1, 48_000, { noise: 0.02 }), () => 440, 48_000);
  assert.ok(quantile(off, 0.95) < 2, String(quantile(off, 0.95)));
  const alone = errors(tone(() => 0, 1, 48_000, { noise: 0.2 }), () => 440, 48_000);
  assert.ok(alone.every(Number.isNaN));
});

test('silence has no pitch', () => {
  assert.ok(errors(new Float32Array(24_000), () => 440, 48_000).every(Number.isNaN));
});
