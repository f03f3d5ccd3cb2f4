import assert from 'node:assert/strict';
import { test } from 'node:test';

import { soundingNow } from '../src/player.js';

/** A clock at 10 s, and what its browser tells. @param {{contextTime?: number, performanceTime?: number}} told */
function clockWhich(told, outputLatency = 0) {
  return { currentTime: 10, outputLatency, getOutputTimestamp: () => told };
}

test('what sounds is told by the moment of the newest picture of the sound clock', () => {
  const found = soundingNow(clockWhich({ contextTime: 9.9, performanceTime: 5000 }), 5020);
  assert.ok(Math.abs(found - 9.92) < 1e-9);
});

test('a moment that runs away from the clock of the page is not believed', () => {
  // WebKitGTK 2.50 after ten seconds: its moment is ten seconds ahead.
  assert.equal(soundingNow(clockWhich({ contextTime: 10, performanceTime: 15_000 }), 5000), 10);
  assert.equal(soundingNow(clockWhich({ contextTime: 10, performanceTime: 15_000 }, 0.25), 5000), 9.75);
});

test('a browser that tells nothing is taken at its clock', () => {
  assert.equal(soundingNow(clockWhich({}, 0.04), 5000), 9.96);
  assert.equal(soundingNow(/** @type {any} */ ({ currentTime: 3 }), 5000), 3);
});
