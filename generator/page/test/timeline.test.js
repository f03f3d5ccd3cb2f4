import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Playhead, Timeline, beatsOf, stretchesOf } from '../src/timeline.js';

/** @param {[string, string, boolean?][]} rows */
function drill(rows, tempo = 60) {
  const notes = rows.map(([start, length, joined = false]) => ({
    start, length, sounding_start: start, sounding_length: length, joined,
    tab: '-2', name: 'G4', degree: '1', role: 'anchor', hz: 392,
  }));
  return new Timeline({ notes, tempo });
}

test('exact beats are read once', () => {
  assert.equal(beatsOf('7/3'), 7 / 3);
  assert.equal(beatsOf('4'), 4);
});

test('a note is lit from its start to its end, and a rest lights none', () => {
  const timeline = drill([['0', '1'], ['1', '1/3'], ['2', '1']]);
  assert.equal(timeline.noteAt(-0.1), null);
  assert.equal(timeline.noteAt(0)?.index, 0);
  assert.equal(timeline.noteAt(0.999)?.index, 0);
  assert.equal(timeline.noteAt(1)?.index, 1);
  assert.equal(timeline.noteAt(1.5), null);
  assert.equal(timeline.noteAt(2.5)?.index, 2);
  assert.equal(timeline.noteAt(3), null);
});

test('notes slid to share the breath of the note they come from', () => {
  const breaths = drill([['0', '1'], ['1', '1', true], ['2', '1']]).attacks();
  assert.deepEqual(breaths.map((breath) => breath.map((note) => note.index)), [[0, 1], [2]]);
});

test('a loop comes round without a seam, and a change of tempo loses no time', () => {
  const timeline = drill([['0', '4'], ['4', '4']], 120);
  const head = new Playhead(timeline, { from: 4, to: 8, loop: true });
  head.begin(10);
  assert.deepEqual(head.at(10), { pass: 0, beat: 4, open: false });
  assert.deepEqual(head.at(12), { pass: 1, beat: 4, open: false });
  head.change(0.5, 13);
  assert.deepEqual(head.at(13), { pass: 1, beat: 6, open: false });
  assert.deepEqual(head.at(15), { pass: 2, beat: 4, open: false });
  assert.equal(head.whenPlayed(8), 15);
});

test('until a change of tempo takes hold, playing goes on as before', () => {
  const head = new Playhead(drill([['0', '4'], ['4', '4']], 60), { loop: true });
  head.begin(0);
  head.change(2, 2.25); // asked for at 2 s
  assert.deepEqual(head.at(2), { pass: 0, beat: 2, open: false });
  assert.deepEqual(head.at(2.25), { pass: 0, beat: 2.25, open: false });
  assert.deepEqual(head.at(2.75), { pass: 0, beat: 3.25, open: false });
  assert.equal(head.whenPlayed(2), 2);
  assert.equal(head.whenPlayed(3.25), 2.75);
});

test('what is not looped ends', () => {
  const head = new Playhead(drill([['0', '4']]));
  head.begin(0);
  assert.equal(head.at(4), null);
  assert.equal(head.at(3.9)?.pass, 0);
});

/** @param {import('../src/timeline.js').Stretch[]} stretches */
const asText = (stretches) => stretches.map(({ first, last, open }) => `${first}-${last}${open ? ' open' : ''}`);

test('an echo plays its bars and leaves as many open', () => {
  const timeline = drill([['0', '4'], ['4', '4'], ['8', '4']]);
  assert.deepEqual(asText(stretchesOf(timeline, 0, 12, 2)), ['0-8', '0-8 open', '8-12', '8-12 open']);
  assert.deepEqual(asText(stretchesOf(timeline, 0, 12, 0)), ['0-12', '0-12 open']);
  assert.deepEqual(asText(stretchesOf(timeline, 0, 12, null)), ['0-12']);
});

test('an echo is cut later where a note or a slide crosses the bar line', () => {
  const held = drill([['0', '2'], ['2', '4'], ['6', '2'], ['8', '4']]);
  assert.deepEqual(asText(stretchesOf(held, 0, 12, 1)), ['0-8', '0-8 open', '8-12', '8-12 open']);
  const slid = drill([['0', '4'], ['4', '4', true], ['8', '4']]);
  assert.deepEqual(asText(stretchesOf(slid, 0, 12, 1)), ['0-8', '0-8 open', '8-12', '8-12 open']);
});

test('while the bars are open the same notes are lit', () => {
  const head = new Playhead(drill([['0', '4'], ['4', '4']], 60), { loop: true, echo: 1 });
  head.begin(0);
  assert.deepEqual(head.at(1), { pass: 0, beat: 1, open: false });
  assert.deepEqual(head.at(5), { pass: 0, beat: 1, open: true });
  assert.deepEqual(head.at(9), { pass: 0, beat: 5, open: false });
  assert.deepEqual(head.at(16), { pass: 1, beat: 0, open: false });
});

test('a change of tempo that was to come is forgotten when another comes before it', () => {
  const head = new Playhead(drill([['0', '4']], 60), { loop: true });
  head.begin(0);
  head.change(2, 4);
  head.change(0.5, 2);
  assert.equal(head.whenPlayed(4), 6);
});

test('a beat of the score comes up once in each pass, and once more where it is left open', () => {
  const timeline = drill([['0', '8']]);
  const plain = new Playhead(timeline, { from: 2, to: 6, loop: true });
  plain.begin(10);
  assert.deepEqual([plain.when(0, 2), plain.when(0, 5), plain.when(2, 3)], [10, 13, 19]);
  assert.deepEqual(plain.bounds, { first: 2, last: 6 });
  const echo = new Playhead(drill([['0', '4'], ['4', '4']]), { echo: 1 });
  echo.begin(0);
  assert.deepEqual([echo.when(0, 1), echo.when(0, 1, true), echo.when(0, 5), echo.when(0, 5, true)], [1, 5, 9, 13]);
});
