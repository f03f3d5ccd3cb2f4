import assert from 'node:assert/strict';
import test from 'node:test';

import { Player, guideOf } from '../src/player.js';
import { Timeline } from '../src/timeline.js';

/** A sound clock that notes what is handed to it. */
function clock() {
  const node = () => ({
    connect: (/** @type {unknown} */ into) => into, disconnect() {}, gain: new Level(), detune: new Level(), frequency: new Level(),
    setPeriodicWave() {}, start() {}, stop() {},
  });
  return {
    currentTime: 0, destination: {}, createPeriodicWave: () => ({}), createGain: node,
    /** @type {{at: number, hz: number}[]} */
    tones: [],
    createBuffer: () => ({ copyToChannel() {} }), sampleRate: 8000,
    createBufferSource: () => ({ ...node(), buffer: null }),
    createOscillator() {
      const made = node();
      made.frequency.told = (/** @type {number} */ hz, /** @type {number} */ at) => this.tones.push({ hz, at });
      return made;
    },
  };
}

class Level {
  value = 0;
  /** @type {(value: number, at: number) => void} */
  told = () => {};
  /** @param {number} value @param {number} at */
  setValueAtTime(value, at) {
    this.told(value, at);
  }
  setValueCurveAtTime() {}
  linearRampToValueAtTime() {}
  exponentialRampToValueAtTime() {}
}

const SOUNDS = {
  phases: [0], tables: [{ tab: '-2', hz: 100, harmonics: [100000] }], accents: [],
  manner: { attack_s: 0.003, release_s: 0.015, gap_s: 0.005, glide_s: 0.08, beside_accents: 0.71 },
  taps: { bar: { hz: 1800, peak: 0.2 }, pulse: { hz: 1200, peak: 0.13 }, modes: [/** @type {[number, number, number]} */ ([1, 1, 0.012])], attack_s: 0.0004, length_s: 0.06 },
};

/** When tones of a drill of two bars, a note each, sound. @param {Partial<import('../src/player.js').Wishes>} wishes @param {number} until */
function played(wishes, until) {
  const notes = ['0', '4'].map((start, n) => ({
    start, length: '4', sounding_start: start, sounding_length: '4', joined: false, tab: '-2', name: 'G4', degree: '1', role: 'anchor', hz: 100 + n,
  }));
  const sound = clock();
  const player = new Player(/** @type {any} */ (sound), new Timeline({ notes, tempo: 240 }), SOUNDS);
  player.play({ share: 1, loop: true, from: 0, to: 8, click: false, countIn: 0, tones: true, drone: null, ...wishes });
  player.schedule(until);
  player.stop();
  return sound.tones.map(({ at, hz }) => `${(at - 0.08).toFixed(2)} ${hz}`);
}

test('an echo sounds its bars and is silent while they are open', () => {
  assert.deepEqual(played({ echo: 1 }, 5), ['0.00 100', '2.00 101', '4.00 100']);
});

test('a ladder of tempi climbs at the first beat of a pass', () => {
  const climb = { step: 1, after: 2, highest: 2 };
  assert.deepEqual(played({ climb }, 5.9), ['0.00 100', '1.00 101', '2.00 100', '3.00 101', '4.00 100', '4.50 101', '5.00 100', '5.50 101']);
});

test('tones that fade are silent in the last pass and after it', () => {
  assert.deepEqual([0, 1, 2, 3].map((pass) => guideOf(pass, 3)), [1, 0.5, 0, 0]);
  assert.deepEqual(played({ fade: 2 }, 6), ['0.00 100', '1.00 101']);
});
