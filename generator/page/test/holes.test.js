import assert from 'node:assert/strict';
import { test } from 'node:test';

import { byRung, adviser } from '../src/ear/advice.js';
import { keyWords, marksOf, sentenceOf } from '../src/take/summing.js';
import { Timeline } from '../src/timeline.js';
import { linesOf, sound } from '../src/voice.js';

const MANNER = {
  attack_s: 0.003, release_s: 0.015, gap_s: 0.005, glide_s: 0.08, beside_accents: 0.71,
  scoop_s: 0.12, fall_s: 0.25, burst_s: 0.06, vibrato_cents: 20,
};

/** A breath at *tempo*; each note is two beats long unless it says otherwise. @param {any[]} rows @param {number} [tempo] */
function breath(rows, tempo = 60) {
  let start = 0;
  const notes = rows.map((row) => {
    const { length = 2 } = row;
    start += length;
    const times = { start: String(start - length), length: String(length), sounding_start: String(start - length), sounding_length: String(length) };
    return { name: '', degree: '', role: 'free', joined: start > length, ...row, ...times };
  });
  const timeline = new Timeline({ notes, tempo }, { shapes: Object.fromEntries(rows.map((row, n) => [n, row])) });
  return { notes: timeline.notes, when: (/** @type {number} */ beat) => 10 + beat * timeline.beatSeconds(1) };
}

/** A parameter that keeps what it is told. */
class Told {
  constructor() {
    /** @type {{values: number[], at: number, lasts: number}[]} */
    this.curves = [];
  }
  setValueAtTime(/** @type {number} */ value, /** @type {number} */ at) {
    this.curves.push({ values: [value], at, lasts: 0 });
  }
  setValueCurveAtTime(/** @type {Float32Array} */ values, /** @type {number} */ at, /** @type {number} */ lasts) {
    for (const each of this.curves) assert.ok(at >= each.at + each.lasts, `a curve at ${at} begins before one ends at ${each.at + each.lasts}`);
    this.curves.push({ values: [...values], at, lasts });
  }
  setTargetAtTime() {}
}

const [OPEN, CLOSED] = ['open', 'closed'].map((wave) => ({ wave: /** @type {any} */ (wave) }));

/** What the oscillators of a breath were told. @param {ReturnType<typeof breath>} of */
function sounded({ notes, when }) {
  /** @type {{frequency: Told, detune: Told, wave: unknown}[]} */
  const found = [];
  const node = { connect: (/** @type {any} */ to) => to };
  const context = {
    createGain: () => ({ ...node, gain: new Told(), disconnect() {} }),
    createOscillator: () => {
      const one = { ...node, frequency: new Told(), detune: new Told(), wave: null, setPeriodicWave(/** @type {any} */ wave) { one.wave = wave; }, start() {}, stop() {} };
      found.push(one);
      return one;
    },
  };
  sound(/** @type {any} */ (context), /** @type {any} */ ({}), notes, { toneOf: (_tab, _hz, closed) => (closed ? CLOSED : OPEN), manner: MANNER, when, amplitude: 0.5 });
  return found;
}

const near = (/** @type {number} */ a, /** @type {number} */ b, within = 1e-6) => assert.ok(Math.abs(a - b) <= within, `${a} is not ${b}`);

test('two holes are two tones at their own pitch, together as loud as one', () => {
  const { notes, when } = breath([{ tab: '-2&3', hz: 493.88, beside: [{ tab: '-2', hz: 392 }] }]);
  const lines = linesOf(notes, MANNER, when);
  assert.deepEqual(lines.map((line) => line.hz), [392, 493.88]);
  for (const line of lines) near(line.gates[0][1] ** 2, 0.5);
  assert.deepEqual(sounded({ notes, when }).map((each) => each.frequency.curves[0].values[0]), [392, 493.88]);
});

test('a shake goes to and fro in time with the beat, the lower hole first', () => {
  const { notes, when } = breath([{ tab: '-4&5', hz: 698.46, beside: [{ tab: '-4', hz: 587.33 }], style: ['shake'], a_beat: 3 }], 120);
  const [low, high] = linesOf(notes, MANNER, when);
  assert.equal(low.gates.length, 12); // two beats of three turns there and back
  low.gates.forEach(([at, value], turn) => {
    near(at, 10 + turn * 0.5 / 6);
    assert.deepEqual([value, high.gates[turn][1]], turn % 2 === 0 ? [1, 0] : [0, 1]);
  });
});

test('a slap is a chord for an instant and then the hole alone; a pull is a chord at the end', () => {
  const slap = linesOf(...linesFor({ tab: '-4', hz: 587.33, style: ['slap'], burst: [392, 493.88] }));
  assert.deepEqual(slap.map((line) => line.hz), [587.33, 392, 493.88]);
  assert.deepEqual(slap[0].gates.map(([at]) => Number(at.toFixed(3))), [10, 10.06]);
  near(slap[1].gates[0][1] ** 2, 1 / 3);
  assert.deepEqual(slap.map((line) => line.gates[1][1]), [1, 0, 0]);
  const pull = linesOf(...linesFor({ tab: '-4', hz: 587.33, style: ['pull'], burst: [392, 493.88], length: 0.2 }));
  // 60 ms, but never more than a quarter of the note
  assert.deepEqual(pull[0].gates.map(([at]) => Number(at.toFixed(3))), [10, 10.15]);
});

test('a hole sounds on through a lift: its tone goes on, and those that join it are silent until then', () => {
  const [low, high] = [{ tab: '-1', hz: 293.66 }, { tab: '-4', hz: 587.33 }];
  const rows = [high, { ...high, tab: '-1&4', beside: [low], held: [4] }, { ...high, held: [4] }];
  const { notes, when } = breath(rows);
  const [four, one] = linesOf(notes, MANNER, when);
  assert.deepEqual([four.hz, one.hz], [587.33, 293.66]);
  assert.deepEqual(four.gates.map(([at]) => at), [10, 12, 14]);
  assert.deepEqual(one.gates.map(([at, value]) => [at, value > 0]), [[10, false], [12, true], [14, false]]);
  near(four.gates[1][1] ** 2 + one.gates[1][1] ** 2, 1);
  const [held, joining] = sounded({ notes, when });
  assert.deepEqual(held.detune.curves.map(({ values, lasts }) => [...values, lasts]), [[0, 0], [0, 0]]); // no slide
  assert.deepEqual(joining.detune.curves.map(({ values, at }) => [...values, at]), [[0, 12]]);
});

/** @param {object} row @returns {Parameters<typeof linesOf>} */
function linesFor(row) {
  const { notes, when } = breath([row]);
  return [notes, MANNER, when];
}

test('a slow slide takes the beats that are written, at any tempo', () => {
  for (const tempo of [60, 90]) {
    const [{ detune }] = sounded(breath([{ tab: '-3', hz: 493.88 }, { tab: "-3''", hz: 440, length: 3, sounding_slide: '2' }], tempo));
    const [slide] = detune.curves;
    near(slide.at, 10 + 120 / tempo);
    near(slide.lasts, 120 / tempo, 1e-5);
    near(slide.values[0], 0, 0.01);
    near(slide.values[32], -100, 0.1); // half way in the middle
    near(/** @type {number} */ (slide.values.at(-1)), -200, 0.1);
  }
});

test('a vibrato is whole waves of twenty cents around its note, after its scoop and before its fall', () => {
  const row = { tab: '-4', hz: 587.33, style: ['scoop', 'vibrato', 'fall'], a_beat: 5, room: 100, length: 4 };
  const [{ detune }] = sounded(breath([row]));
  const [scoop, wave, fall] = detune.curves;
  assert.deepEqual([scoop.at, scoop.lasts], [10, 0.12]);
  near(scoop.values[0], -100);
  near(/** @type {number} */ (scoop.values.at(-1)), 0);
  near(wave.at, 10.12);
  near(wave.lasts, 3.6, 1e-5); // of 3.63 s, at five a second
  near(Math.max(...wave.values), 20, 0.01);
  near(wave.values.reduce((sum, each) => sum + each, 0) / wave.values.length, 0, 0.01);
  near(fall.at, 13.75);
  near(/** @type {number} */ (fall.values.at(-1)), -100);
});

test('closed hands have a tone of their own', () => {
  assert.deepEqual(sounded(breath([{ tab: '4', hz: 523.25, style: ['mute'] }])).map((each) => each.wave), ['closed']);
  assert.deepEqual(sounded(breath([{ tab: '4', hz: 523.25 }])).map((each) => each.wave), ['open']);
});

test('both holes of a bent double stop slide, each from its own pitch', () => {
  const [low, high] = sounded(breath([
    { tab: '-2&3', hz: 493.88, beside: [{ tab: '-2', hz: 392 }] },
    { tab: "-2'&3'", hz: 466.16, beside: [{ tab: "-2'", hz: 369.99 }] },
  ]));
  for (const { detune } of [low, high]) near(/** @type {number} */ (detune.curves[0].values.at(-1)), -100, 0.1);
});

const NOT_JUDGED = { index: 1, tab: '-2&3', role: 'free', from: null, wanted_hz: 493.88, start_s: null, end_s: null, hz: null, cents: null, cents_from_anchor: null, steadiness_cents: null, found_after_s: null, early_ms: null, verdict: /** @type {const} */ ('not-judged') };
const HELD = { ...NOT_JUDGED, index: 0, tab: '-2', hz: 392, cents: 3, start_s: 1, end_s: 2, verdict: /** @type {const} */ ('on') };

test('several holes have a mark of their own and count neither as played nor as missed', () => {
  const take = { passes: [{ notes: [HELD, NOT_JUDGED] }], tolerance: { on: 10, near: 25 }, harp_cents: 0 };
  assert.deepEqual(marksOf(take, false).get(1), { sign: '–', figure: '', words: 'several holes at once, not judged' });
  assert.equal(sentenceOf(take, false, 3), '1 of 1 notes in their place, 1 of several holes not judged.');
  assert.ok(!keyWords(take.tolerance).some((words) => words.startsWith('–')));
  assert.ok(keyWords(take.tolerance, true).includes('– several holes at once, not judged'));
  const { advise } = adviser({ advice: { MOST_SENTENCES: 3, SCATTERED_CENTS: 14, SLOW_S: 0.25, OFTEN_MISSED: 0.1, MOSTLY: 0.9 } }, { faster: '{good} of {of}', stay: 'stay' }, () => /** @type {any} */ ({}));
  assert.deepEqual(advise([HELD, NOT_JUDGED], byRung([HELD, NOT_JUDGED]), take.tolerance), ['1 of 1']);
});
