import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Playhead, Timeline, beatsOf } from '../src/timeline.js';

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
  assert.deepEqual(head.at(10), { pass: 0, beat: 4 });
  assert.deepEqual(head.at(12), { pass: 1, beat: 4 });
  head.change(0.5, 13);
  assert.deepEqual(head.at(13), { pass: 1, beat: 6 });
  assert.deepEqual(head.at(15), { pass: 2, beat: 4 });
  assert.equal(head.whenPlayed(8), 15);
});

test('until a change of tempo takes hold, playing goes on as before', () => {
  const head = new Playhead(drill([['0', '4'], ['4', '4']], 60), { loop: true });
  head.begin(0);
  head.change(2, 2.25); // asked for at 2 s
  assert.deepEqual(head.at(2), { pass: 0, beat: 2 });
  assert.deepEqual(head.at(2.25), { pass: 0, beat: 2.25 });
  assert.deepEqual(head.at(2.75), { pass: 0, beat: 3.25 });
  assert.equal(head.whenPlayed(2), 2);
  assert.equal(head.whenPlayed(3.25), 2.75);
});

test('what is not looped ends', () => {
  const head = new Playhead(drill([['0', '4']]));
  head.begin(0);
  assert.equal(head.at(4), null);
  assert.equal(head.at(3.9)?.pass, 0);
});
