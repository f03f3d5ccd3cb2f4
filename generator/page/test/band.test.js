import assert from 'node:assert/strict';
import test from 'node:test';

import { besidePage, ledBack } from '../src/band.js';

test('the band lies beside the page under the same name', () => {
  assert.equal(besidePage('https://a.example/pack/01/x%20y.page.html?a#b', '.backing.mp3'), 'https://a.example/pack/01/x%20y.backing.mp3');
  assert.equal(besidePage('file:///C:/x.page.html', '.mix.ogg'), 'file:///C:/x.mix.ogg');
  assert.equal(besidePage('https://a.example/saved.html', '.mix.ogg'), null);
});

/** @param {number} behind @param {number} led */
const led = (behind, led) => ledBack({ behind_s: Array(9).fill(behind), led });

test('a band that is a little off is led back, and one far off jumps', () => {
  assert.deepEqual(led(0.01, 0), { led: 0 });
  const [late, early] = [led(0.03, 0), led(-0.03, 0)];
  assert.ok('led' in late && late.led > 0 && 'led' in early && early.led < 0);
  assert.deepEqual(led(-0.3, 0), { jump: true });
  const most = led(0.14, 0);
  assert.ok('led' in most && most.led <= 0.06);
});

test('what is led keeps its speed until it is there', () => {
  for (const behind of [0.14, 0.06, 0.03, 0.01, 0.005]) assert.deepEqual(led(behind, 0.06), { led: 0.06 });
  assert.deepEqual(led(0.003, 0.06), { led: 0 });
  assert.deepEqual(led(-0.01, 0.06), { led: 0 });
});

test('a place told too late now and then, and few readings, lead nothing', () => {
  assert.deepEqual(ledBack({ behind_s: [0, 0.04, 0, 0.04, 0, 0.04, 0, 0.04, 0], led: 0 }), { led: 0 });
  assert.deepEqual(ledBack({ behind_s: [0.04, 0.04], led: 0 }), { led: 0 });
});

test('a clock that runs off by a thousandth stays within a fiftieth of a second', () => {
  /** @type {[number, number, number, number[]]} */
  let [at, share, worst, behind_s] = [10.1, 0, 0, []];
  let changes = 0;
  for (let due = 10; due < 70; due += 0.04) {
    behind_s = [...behind_s, due - at].slice(-9);
    const next = ledBack({ behind_s, led: share });
    assert.ok('led' in next);
    changes += next.led === share ? 0 : 1;
    share = next.led;
    at += 0.04 * (1 + share) * 1.001;
    if (due > 14) worst = Math.max(worst, Math.abs(at - due - 0.04));
  }
  assert.ok(worst < 0.02, String(worst));
  assert.ok(changes < 12, String(changes));
});
