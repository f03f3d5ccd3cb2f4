import assert from 'node:assert/strict';
import { test } from 'node:test';
import { wrongIn } from '../src/take/form.js';
import { MOST_TAKES, TakeHistory, progressOf, storage } from '../src/take/history.js';
import { curveWords } from '../src/take/curve.js';

/** A storage of a browser that holds so many letters. */
class Shelf {
  constructor(room = Infinity) {
    this.room = room;
    this.map = new Map();
  }
  get length() { return this.map.size; }
  key(n) { return [...this.map.keys()][n] ?? null; }
  getItem(key) { return this.map.get(key) ?? null; }
  removeItem(key) { this.map.delete(key); }
  setItem(key, value) {
    const others = [...this.map].filter(([name]) => name !== key).reduce((sum, [, text]) => sum + text.length, 0);
    if (others + value.length > this.room) throw new Error('QuotaExceededError');
    this.map.set(key, value);
  }
}

const text = { type: 'string' };
const number = { type: ['number', 'null'] };
const of = (properties, more = {}) => ({ type: 'object', properties: { ...properties, ...more }, required: Object.keys(properties) });
const SCHEMA = of({
  reedmill_take: { type: 'integer', const: 1 }, recorded: { type: ['string', 'null'] }, harp: text,
  position: { type: 'integer', minimum: 1, maximum: 12 },
  passes: { type: 'array', items: of({ start_s: number, notes: { type: 'array', items: of({ index: { type: 'integer', minimum: 0 }, cents: number, verdict: { type: 'string', enum: ['on', 'sharp', 'another-note'] } }, { heard_as: text }) } }) },
  by_rung: { type: 'array', items: of({ tab: text, median_cents: { type: 'number' } }) },
});
const PLAYED = { known_as: 'a'.repeat(64), harp: 'low F', position: 2 };
const OTHER = { known_as: 'b'.repeat(64), harp: 'C', position: 3 };

function take(n, verdicts = ['on', 'sharp']) {
  const notes = verdicts.map((verdict, index) => ({ index, cents: verdict === 'another-note' ? null : 1.5 * n, verdict, ...(verdict === 'another-note' ? { heard_as: '-3' } : {}) }));
  const recorded = `2027-01-${String(1 + (n % 28)).padStart(2, '0')}T18:05:00Z`;
  return { reedmill_take: 1, recorded, harp: 'low F', position: 2, passes: [{ start_s: 0.5, notes }], by_rung: [{ tab: "-3'", median_cents: -n }] };
}

test('a take comes out of the store as it went in, and each drill has its own', () => {
  const shelf = new Shelf();
  const first = take(3, ['on', 'another-note', 'sharp']);
  assert.equal(new TakeHistory(shelf, SCHEMA).add(PLAYED, first).trouble, null);
  new TakeHistory(shelf, SCHEMA).add(OTHER, take(4));
  const later = new TakeHistory(shelf, SCHEMA);
  assert.deepEqual(later.takes(PLAYED), [first]);
  assert.deepEqual(later.takes({ ...PLAYED, position: 1 }), []);
});

test('two hundred takes of a drill are kept, the newest', () => {
  const history = new TakeHistory(new Shelf(), SCHEMA);
  for (let n = 0; n < MOST_TAKES + 5; n += 1) history.add(PLAYED, take(n));
  assert.equal(history.takes(PLAYED).length, 200);
  assert.equal(history.takes(PLAYED)[0].by_rung[0].median_cents, -5);
});

test('without a store, or with a full one, takes are there while the page is open and it is said', () => {
  assert.equal(storage(() => { throw new Error('SecurityError'); }), null);
  const none = new TakeHistory(null, SCHEMA);
  assert.match(none.trouble ?? '', /keeps nothing/);
  assert.match(none.add(PLAYED, take(1)).trouble ?? '', /keeps nothing/);
  assert.equal(none.takes(PLAYED).length, 1);
  const full = new TakeHistory(new Shelf(100), SCHEMA);
  assert.match(full.add(PLAYED, take(1)).trouble ?? '', /storage of this browser is full/);
  assert.equal(full.takes(PLAYED).length, 1);
});

test('forgetting takes all of ours away, nothing else, and says what it was', () => {
  const shelf = new Shelf();
  shelf.setItem('somebody else', 'stays');
  const history = new TakeHistory(shelf, SCHEMA);
  history.add(PLAYED, take(1));
  history.add(PLAYED, take(2));
  history.add(OTHER, take(3));
  history.set('latency', '40');
  assert.deepEqual(history.forget(), { takes: 3, drills: 2, settings: 1 });
  assert.deepEqual([...shelf.map.keys()], ['somebody else']);
  assert.deepEqual(history.takes(PLAYED), []);
});

test('what was exported comes back, once', () => {
  const [there, here] = [new TakeHistory(new Shelf(), SCHEMA), new TakeHistory(new Shelf(), SCHEMA)];
  there.add(PLAYED, take(1));
  there.add(PLAYED, take(2));
  there.add(OTHER, take(3));
  const file = there.export();
  assert.deepEqual(here.import(file), { added: 3, drills: 2, trouble: null });
  assert.deepEqual(here.takes(PLAYED), there.takes(PLAYED));
  assert.deepEqual(here.import(file), { added: 0, drills: 2, trouble: null });
  assert.equal(here.export(), file);
});

const drill = { ...PLAYED, takes: [take(1)] };
const file = (drills, more = {}) => JSON.stringify({ reedmill_history: 1, drills, ...more });
const HOSTILE = {
  'not JSON': 'hello', 'nothing': '', 'a list': '[]', 'null': 'null',
  'another version': JSON.stringify({ reedmill_history: 2, drills: [] }),
  'a field more': file([], { more: 1 }),
  'a prototype': `{"reedmill_history": 1, "drills": [], "__proto__": {"a": 1}}`,
  'a digest that is none': file([{ ...drill, known_as: '../../x' }]),
  'a harp that is markup': file([{ ...drill, harp: '<img src=x>' }]),
  'a position out of bounds': file([{ ...drill, position: 99 }]),
  'a verdict that is none': file([{ ...drill, takes: [take(1, ['splendid'])] }]),
  'a note without cents': file([{ ...drill, takes: [{ ...take(1), passes: [{ start_s: 0, notes: [{ index: 0, verdict: 'on' }] }] }] }]),
  'cents that are text': file([{ ...drill, takes: [{ ...take(1), by_rung: [{ tab: '-3', median_cents: '12' }] }] }]),
  'a text without end': file([{ ...drill, takes: [{ ...take(1), harp: 'x'.repeat(10_000) }] }]),
  'more than five megabytes': file([{ ...drill, takes: [{ ...take(1), harp: 'x'.repeat(5_000_001) }] }]),
  'a nest': '['.repeat(100_000),
  'numbers beyond number': file([drill]).replace('0.5', '1e999'),
};
for (const [name, text] of Object.entries(HOSTILE)) {
  test(`a file that is not a history is refused with a sentence: ${name}`, () => {
    const history = new TakeHistory(new Shelf(), SCHEMA);
    history.add(OTHER, take(7));
    const before = history.export();
    assert.throws(() => history.import(text), (error) => /^This file [^\n]*\.$/.test(error.message) && error.message.length < 400);
    assert.equal(history.export(), before);
  });
}

test('what another program wrote under our name is not taken for a history and breaks nothing', () => {
  for (const odd of ['x', '{}', '[1]', '[{"passes": 3}]', 'null', '[null]']) {
    const shelf = new Shelf();
    const history = new TakeHistory(shelf, SCHEMA);
    history.add(PLAYED, take(1));
    shelf.setItem(shelf.key(0), odd);
    assert.deepEqual(history.takes(PLAYED), [], odd);
    history.add(PLAYED, take(2));
    assert.deepEqual(history.takes(PLAYED), [take(2)], odd);
  }
});

test('a key of another program beside ours is neither exported nor in the way', () => {
  const shelf = new Shelf();
  const history = new TakeHistory(shelf, SCHEMA);
  history.add(PLAYED, take(1));
  const file = history.export();
  shelf.setItem('reedmill:takes:of another kind', '[]');
  assert.equal(history.export(), file);
  assert.deepEqual(new TakeHistory(new Shelf(), SCHEMA).import(history.export()), { added: 1, drills: 1, trouble: null });
});

test('what is imported is counted as it is kept', () => {
  const there = new TakeHistory(new Shelf(), SCHEMA);
  for (let n = 0; n < 150; n += 1) there.add(PLAYED, take(n, ['on']));
  const here = new TakeHistory(new Shelf(), SCHEMA);
  for (let n = 0; n < 150; n += 1) here.add(PLAYED, take(n, ['sharp']));
  const { added } = here.import(there.export());
  assert.equal(here.takes(PLAYED).length, 200);
  assert.equal(here.takes(PLAYED).filter((each) => each.passes[0].notes[0].verdict === 'on').length, added);
});

test('an export is the same whether the browser could keep the takes or not', () => {
  const [kept, open] = [new TakeHistory(new Shelf(), SCHEMA), new TakeHistory(null, SCHEMA)];
  const odd = take(1, ['another-note', 'on']);
  for (const history of [kept, open]) history.add(PLAYED, odd);
  assert.equal(open.export(), kept.export());
  assert.equal(kept.import(open.export()).added, 0);
});

test('a sentence of a hostile file has only letters one can read', () => {
  assert.match(wrongIn({ type: 'integer' }, '\u202eevil\u0007') ?? '', /^the take is "\?evil\\u0007", where integer belongs$/);
});

test('the share in place and the worst rung are told over the takes', () => {
  const progress = [take(31, ['on', 'sharp', 'sharp', 'sharp']), take(12, ['on', 'on', 'on', 'sharp'])].map(progressOf);
  assert.deepEqual(progress, [{ clean: 0.25, worst: 31 }, { clean: 0.75, worst: 12 }]);
  assert.equal(curveWords(progress), '2 takes: from 25% of the notes in their place to 75%; the worst rung from 31 cents out to 12 cents out.');
  assert.match(curveWords([]), /No take/);
});
