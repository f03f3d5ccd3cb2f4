import assert from 'node:assert/strict';
import { test } from 'node:test';
import { LONGEST_S, Recording } from '../src/take/recording.js';
import { Recorder } from '../src/take/recorder.js';
import { wavOf } from '../src/take/wav.js';

test('a take begins where it was asked to, in the middle of a piece', () => {
  const recording = new Recording(10, 2.5);
  recording.add(Float32Array.of(1, 2, 3, 4, 5, 6, 7, 8, 9, 10), 1); // 1 s to 2 s: before it
  assert.equal(recording.count, 0);
  recording.add(Float32Array.of(1, 2, 3, 4, 5, 6, 7, 8, 9, 10), 2);
  recording.add(Float32Array.of(11, 12), 3);
  assert.deepEqual([...recording.samples()], [6, 7, 8, 9, 10, 11, 12]);
  assert.equal(recording.start_s, 2.5);
  assert.equal(recording.seconds, 0.7);
});

test('no more than ten minutes are kept', () => {
  const recording = new Recording(10, 0);
  const minute = new Float32Array(600);
  for (let n = 0; n < 12; n += 1) recording.add(minute, 60 * n);
  assert.equal(LONGEST_S, 600);
  assert.equal(recording.count, 6000);
  assert.equal(recording.full, true);
});

test('a WAV file has the bytes that the format asks for', () => {
  const bytes = new Uint8Array(wavOf(Float32Array.of(0, 1, -1, 0.5, 3), 48_000));
  assert.deepEqual([...bytes.slice(0, 4)], [0x52, 0x49, 0x46, 0x46]); // RIFF
  assert.deepEqual([...bytes.slice(4, 8)], [46, 0, 0, 0]); // bytes to come
  assert.deepEqual([...bytes.slice(8, 16)], [0x57, 0x41, 0x56, 0x45, 0x66, 0x6d, 0x74, 0x20]); // WAVEfmt_
  assert.deepEqual([...bytes.slice(16, 24)], [16, 0, 0, 0, 1, 0, 1, 0]); // PCM, one channel
  assert.deepEqual([...bytes.slice(24, 32)], [0x80, 0xbb, 0, 0, 0, 0x77, 1, 0]); // 48000 and 96000
  assert.deepEqual([...bytes.slice(32, 36)], [2, 0, 16, 0]);
  assert.deepEqual([...bytes.slice(36, 44)], [0x64, 0x61, 0x74, 0x61, 10, 0, 0, 0]); // data
  const samples = new DataView(bytes.buffer, 44);
  assert.deepEqual([0, 1, 2, 3, 4].map((n) => samples.getInt16(2 * n, true)), [0, 32767, -32767, 16384, 32767]);
});

/** A microphone that is told what to do and says nothing of itself. */
function microphone() {
  return { context: { sampleRate: 10 }, on: false, onSound: (sound, at_s) => {}, record(on) { this.on = on; } };
}

test('a pass is over when the drill has ended and the player has come to rest', async () => {
  const done = new Promise((resolve) => {
    const recorder = new Recorder();
    const source = microphone();
    recorder.begin(/** @type {any} */ (source), 1, resolve);
    source.onSound(new Float32Array(40), 0.7);
    recorder.reading(true, 4);
    recorder.drillEnded(4.1);
    recorder.reading(true, 4.5); // he still holds his last note
    recorder.reading(false, 5.1);
    assert.equal(source.on, true);
    recorder.reading(false, 5.3);
    assert.equal(source.on, false);
    source.onSound(new Float32Array(5), 4.7); // what the worklet still had
  });
  assert.equal((/** @type {Recording} */ (await done)).count, 45);
});

test('a tone that never ends does not keep a pass from ending', () => {
  const recorder = new Recorder();
  const source = microphone();
  recorder.begin(/** @type {any} */ (source), 0, () => {});
  recorder.drillEnded(4);
  for (let at_s = 4; at_s < 11.9; at_s += 0.1) recorder.reading(true, at_s);
  assert.equal(source.on, true);
  recorder.reading(true, 12.1);
  assert.equal(source.on, false);
});
