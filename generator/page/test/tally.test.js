import assert from 'node:assert/strict';
import test from 'node:test';

import { Tally } from '../src/tally.js';

/** @param {Record<number, number[]>} read @param {number[]} wanted */
function clean(read, wanted) {
  const tally = new Tally(25);
  for (const [index, cents] of Object.entries(read)) cents.forEach((each) => tally.take(0, Number(index), each));
  return tally.clean(0, wanted);
}

test('a pass is clean when the middle of each note lies near its pitch', () => {
  assert.equal(clean({ 0: [40, 5, 4, 6], 1: [-20, -19, -80] }, [0, 1]), true);
  assert.equal(clean({ 0: [5, 4, 6], 1: [-30, -31, -29] }, [0, 1]), false);
});

test('a note that was not played, or was another one, makes it unclean', () => {
  assert.equal(clean({ 0: [5, 4, 6] }, [0, 1]), false);
  assert.equal(clean({ 0: [5, 4, 6], 1: [NaN, NaN, 3] }, [0, 1]), false);
});

test('each pass is judged for itself, and what is still heard of it later is not the next one', () => {
  const tally = new Tally(25);
  [1, 2, 3].forEach((cents) => tally.take(0, 0, cents));
  assert.equal(tally.clean(0, [0]), true);
  assert.equal(tally.clean(0, [0]), false);
  [1, 2, 3].forEach((cents) => tally.take(1, 0, cents));
  [4, 5].forEach((cents) => tally.take(0, 1, cents)); // the last note of the pass before
  assert.equal(tally.clean(1, [0]), true);
});

test('nothing heard before it began counts', () => {
  const tally = new Tally(25);
  [1, 2, 3].forEach((cents) => tally.take(0, 0, cents));
  tally.forget();
  assert.equal(tally.clean(0, [0]), false);
});
