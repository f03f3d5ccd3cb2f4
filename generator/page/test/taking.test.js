import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Decimator } from '../src/ear/decimate.js';
import { Fourier } from '../src/ear/fourier.js';
import { verdictOf } from '../src/ear/judge.js';
import { evenRound, known, median, percentile } from '../src/ear/numbers.js';
import { weightedMedian } from '../src/ear/tuning.js';
import { OwnTones } from '../src/take/bleed.js';
import { foundWords, holeOf, reedsAt } from '../src/take/harp_map.js';
import { bounded, earlyOnClick, latencyOf, onClickWords } from '../src/take/latency.js';
import { Phrases } from '../src/take/phrases.js';
import { HeldNote } from '../src/take/steadiness.js';
import { marksOf, sentenceOf } from '../src/take/summing.js';

test('a transform is the sum it stands for', () => {
  const size = 16;
  const re = Float64Array.from({ length: size }, (_, n) => Math.sin(1.3 * n) + n);
  const im = Float64Array.from({ length: size }, (_, n) => Math.cos(0.7 * n));
  const [a, b] = [re.slice(), im.slice()];
  new Fourier(size).transform(re, im);
  for (let k = 0; k < size; k += 1) {
    let [x, y] = [0, 0];
    for (let n = 0; n < size; n += 1) {
      const turn = (-2 * Math.PI * k * n) / size;
      x += a[n] * Math.cos(turn) - b[n] * Math.sin(turn);
      y += a[n] * Math.sin(turn) + b[n] * Math.cos(turn);
    }
    assert.ok(Math.abs(re[k] - x) < 1e-10 && Math.abs(im[k] - y) < 1e-10);
  }
});

for (const rate of [44_100, 48_000, 8_000, 16_000, 96_000]) {
  test(`sound at ${rate} a second keeps its time, pitch and level at 16,000`, () => {
    const sine = (hz, at) => 0.5 * Math.sin(2 * Math.PI * hz * at);
    const sound = Float32Array.from({ length: rate / 2 }, (_, n) => sine(1234, n / rate));
    const decimator = new Decimator(rate, 16_000);
    assert.equal(decimator.length(sound.length), 8_000);
    const out = decimator.part(sound, 1000, 7000);
    const worst = out.reduce((most, each, n) => Math.max(most, Math.abs(each - sine(1234, (n + 1000) / 16_000))), 0);
    assert.ok(worst < 2e-3, String(worst));
  });
}

test('what lies over half the new rate is taken away and not folded down', () => {
  const sound = Float32Array.from({ length: 24_000 }, (_, n) => 0.5 * Math.sin((2 * Math.PI * 10_500 * n) / 48_000));
  const out = new Decimator(48_000, 16_000).part(sound, 1000, 7000);
  assert.ok(Math.max(...out.map(Math.abs)) < 2e-3);
});

test('figures are rounded and ranked as NumPy does', () => {
  assert.deepEqual([0.5, 1.5, 2.5, -1.5, 62.5, 2.4].map(evenRound), [0, 2, 2, -2, 62, 2]);
  assert.equal(median([3, 1, 2, 10]), 2.5);
  assert.equal(percentile([0, 10, 20, 30], 90), 27);
  assert.equal(weightedMedian([0, 10], [1, 1]), 5);
  assert.throws(() => known({ events: {} }, 'events').CLEAR, /lack the constant events.CLEAR/);
});

test('a verdict is sharp above and flat below, and its bounds belong to the better one', () => {
  const tolerance = { on: 10, near: 25 };
  assert.deepEqual([10, -10.1, 25, 25.1, -31].map((cents) => verdictOf(tolerance, cents)), ['on', 'near', 'near', 'sharp', 'flat']);
});

const note = (index, verdict, cents = null, more = {}) => ({ index, verdict, cents, cents_from_anchor: null, ...more });

test('a mark has a shape and a figure, and words for whoever does not see it', () => {
  const passes = [{ notes: [note(0, 'on', 3.4), note(1, 'near', -18.2), note(2, 'sharp', 31), note(3, 'flat', -40), note(4, 'another-note', null, { heard_as: "-3''" }), note(5, 'missed'), note(6, 'unclear')] }];
  const marks = [...marksOf({ passes, tolerance: { on: 10, near: 25 } }, false).values()];
  assert.deepEqual(marks.map(({ sign, figure }) => sign + figure), ['●+3', '○−18', '▲+31', '▼−40', "=-3''", '×', '?']);
  assert.deepEqual(marks.map(({ words }) => words), [
    'in its place', 'nearly in its place, 18 cents flat', '31 cents sharp', '40 cents flat', "another note, -3''", 'not heard', 'unclear, so not judged',
  ]);
});

test('several passes are one mark: the middle of them, and how often it was right', () => {
  const passes = [[note(0, 'on', 2)], [note(0, 'sharp', 30)], [note(0, 'sharp', 34)]].map((notes) => ({ notes }));
  const mark = marksOf({ passes, tolerance: { on: 10, near: 25 } }, false).get(0);
  assert.deepEqual(mark, { sign: '▲', figure: '+30', words: '30 cents sharp, in place in 1 of 3 passes' });
});

test('a take against the own anchor is judged by the interval', () => {
  const notes = [note(0, 'on', 8), note(1, 'sharp', 28, { cents_from_anchor: 4 })];
  const take = { passes: [{ notes }], tolerance: { on: 10, near: 25 }, harp_cents: 0 };
  assert.equal(marksOf(take, true).get(1)?.words, 'in its place');
  assert.equal(sentenceOf(take, false, 2), '1 of 2 notes in their place, 1 sharp.');
  assert.equal(sentenceOf(take, true, 2), '2 of 2 notes in their place. Judged against your own anchor.');
});

test('the latency is the middle of the taps, so that one astray does not count', () => {
  const clicks = [0, 1, 2, 3, 4, 5];
  assert.equal(latencyOf([0.08, 1.07, 2.09, 3.45, 4.08], clicks), 80);
  assert.equal(latencyOf([0.08, 1.07], clicks), null);
  assert.equal(latencyOf([-0.03, 0.97, 1.98, 2.97], clicks), 0); // whoever taps before the click has none
  assert.deepEqual(['40', '', 'x', '9999', '-3', null, '12.6'].map(bounded), [40, null, null, 500, 0, null, 13]);
});

test('notes late on the click by no more than the latency were with it', () => {
  const notes = [0, 1, 2, 3].map((index) => ({ index, start_s: 0.3 + index + 0.06 }));
  const due = (index) => 10.3 + index;
  assert.equal(earlyOnClick(notes, 10, due, 60), 0);
  assert.equal(earlyOnClick(notes, 10, due, 0), -60);
  assert.equal(onClickWords(-60, 0), ' You were 60 ms after the click.');
  assert.equal(onClickWords(5, 60), ' You were with the click (60 ms of latency taken off).');
});

test('a tone of the page is known while it sounds and a little after, and in its octaves', () => {
  const own = new OwnTones();
  own.add(392, 10, 11);
  assert.equal(own.mayBe(393, 10.5), true);
  assert.equal(own.mayBe(196, 10.5), true);
  assert.equal(own.mayBe(440, 10.5), false);
  assert.equal(own.mayBe(392, 11.3), true);
  assert.equal(own.mayBe(392, 11.5), false);
  assert.equal(own.mayBe(NaN, 10.5), false);
  own.add(392, 12, 20);
  own.stop(13);
  assert.equal(own.mayBe(392, 14), false);
  own.drone_hz = 98;
  assert.equal(own.mayBe(294, 14), true);
});

test('the places of a phrase are told when the player pauses, once', () => {
  const told = [];
  const phrases = new Phrases((sentence) => told.push(sentence), 10);
  phrases.reading(true, 1);
  phrases.rest("-3''", 14.2);
  phrases.rest('-2', -3);
  phrases.reading(false, 1.5);
  assert.deepEqual(told, []);
  phrases.reading(false, 2.3);
  phrases.reading(false, 4);
  assert.deepEqual(told, ["-3'': +14 cents; -2: on."]);
});

test('a note held long has its seconds and how far it moved, without its attack', () => {
  const held = new HeldNote();
  const step = 1 / 30;
  for (let n = 0; n < 90; n += 1) held.take(n < 6 ? -40 : n % 2 ? 3 : -3, n * step);
  assert.ok(Math.abs(held.seconds - 89 * step) < 1e-9);
  assert.ok(Math.abs(held.steadiness - 3) < 0.1);
  held.take(NaN, 90 * step);
  held.take(0, 4);
  assert.equal(held.seconds, 0);
  assert.equal(held.words, 'longest 3.0 s');
});

test('the map finds every hole that has a pitch, the natural note first', () => {
  const reeds = [
    { tab: "-3''", words: 'draw 3 bent two semitones', kind: 'bend', bends: true, cents: 0 },
    { tab: '-2', words: 'draw 2', kind: 'natural', bends: true, cents: -200 },
    { tab: '3', words: 'blow 3', kind: 'natural', bends: false, cents: -200 },
    { tab: "-2'", words: 'draw 2 bent a semitone', kind: 'bend', bends: true, cents: -300 },
  ];
  assert.equal(foundWords(reedsAt(reeds, -195, 45)), 'draw 2 or blow 3');
  assert.deepEqual(reedsAt(reeds, -100, 45), []);
  assert.deepEqual(holeOf("-10'"), { hole: 10, draw: true });
});
