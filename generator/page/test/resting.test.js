import assert from 'node:assert/strict';
import test from 'node:test';

import { RestingPlace } from '../src/resting.js';

/** The places found in readings 33 ms apart, of [seconds, Hz]. @param {[number, number][]} played */
function places(played) {
  /** @type {number[]} */
  const found = [];
  const resting = new RestingPlace((hz) => found.push(hz));
  let at_s = 0;
  for (const [seconds, hz] of played) {
    for (const end_s = at_s + seconds; at_s < end_s - 1e-9; at_s += 1 / 30) resting.take(hz, at_s);
  }
  return found;
}

test('each note that is held leaves one place', () => {
  assert.deepEqual(places([[1, 440], [0.5, NaN], [1, 466.16], [0.5, NaN]]).map(Math.round), [440, 466]);
  assert.deepEqual(places([[1, 440], [1, 466.16], [0.5, NaN]]).map(Math.round), [440, 466]);
});

test('the same note played twice with a breath between leaves two', () => {
  assert.equal(places([[1, 440], [0.3, NaN], [1, 440], [0.5, NaN]]).length, 2);
});

test('a stutter of the microphone does not make two tries of one', () => {
  assert.equal(places([[0.5, 440], [0.1, NaN], [0.5, 440], [0.5, NaN]]).length, 1);
});

test('what is only passed through leaves none', () => {
  assert.deepEqual(places([[0.2, 440], [0.2, 452], [0.2, 466], [0.5, NaN]]), []);
});
