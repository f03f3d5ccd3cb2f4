import assert from 'node:assert/strict';
import test from 'node:test';

import { besidePage, ledBack } from '../src/band.js';

test('the band lies beside the page under the same name', () => {
  assert.equal(besidePage('https://a.example/pack/01/x%20y.page.html?a#b', '.backing.mp3'), 'https://a.example/pack/01/x%20y.backing.mp3');
  assert.equal(besidePage('file:///C:/x.page.html', '.mix.ogg'), 'file:///C:/x.mix.ogg');
  assert.equal(besidePage('https://a.example/saved.html', '.mix.ogg'), null);
});

test('a band that is a little off is led back, and one far off jumps', () => {
  /** @param {number} off @param {boolean} leading */
  const led = (off, leading) => ledBack({ at_s: 10 + off, due_s: 10, rate: 1.5, leading });
  assert.deepEqual(led(0.01, false), { rate: 1.5, leading: false });
  const [late, early] = [led(-0.03, false), led(0.03, false)];
  assert.ok('rate' in late && late.rate > 1.5 && 'rate' in early && early.rate < 1.5);
  const nearly = led(0.01, true);
  assert.ok('rate' in nearly && nearly.rate < 1.5);
  assert.deepEqual(led(0.003, true), { rate: 1.5, leading: false });
  assert.deepEqual(led(0.3, true), { jump_s: 10 });
  const most = led(-0.14, false);
  assert.ok('rate' in most && most.rate <= 1.5 * 1.06 + 1e-9);
});

test('a clock that runs off by a thousandth stays within a fiftieth of a second', () => {
  let [at, leading, worst] = [10.1, false, 0];
  for (let due = 10; due < 70; due += 0.04) {
    const next = ledBack({ at_s: at, due_s: due, rate: 1, leading });
    if ('jump_s' in next) at = next.jump_s;
    else {
      leading = next.leading;
      at += 0.04 * next.rate * 1.001;
    }
    if (due > 14) worst = Math.max(worst, Math.abs(at - due - 0.04));
  }
  assert.ok(worst < 0.02, String(worst));
});
