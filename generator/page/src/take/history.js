/**
 * The takes of a drill on a harp, kept in the browser: their verdicts and never their sound.
 *
 * Storage may be missing, refused or full; then takes are kept as long as the page is open, and
 * whoever uses it is told.
 */

import { inPlace } from '../ear/judge.js';
import { wrongIn } from './form.js';

export const MOST_TAKES = 200;
const MOST_BYTES = 5_000_000;
const FORM = 1;
const OURS = 'reedmill:';
const TAKES = `${OURS}takes:`;
const MOST_KEYS = 40_000; // of all a browser keeps for this address that are looked through
const MOST_KEY = 300;
const KNOWN_AS = '[0-9a-f]{64}';
const HARP = '[A-Za-z# ]{1,40}';
const KEY = new RegExp(`^${TAKES}${KNOWN_AS}:([1-9]|1[0-2]):${HARP}$`);

/** @typedef {Record<string, any>} TakeData */
/** @typedef {{known_as: string, harp: string, position: number}} Played  what a history is of */
/** @typedef {{trouble: string | null}} Kept  what keeps it from being kept, as a sentence */
/** @typedef {Pick<Storage, 'getItem' | 'setItem' | 'removeItem' | 'key' | 'length'>} Store */

const NO_STORE = 'This browser keeps nothing for this page (a private window, or storage is switched off): your takes are here until you close it. Save their data to keep them.';
const FULL = 'The storage of this browser is full: this take is here until you close the page. Export your takes, then forget some.';

/** The browser's storage, or null where there is none or it may not be used. @param {() => Storage} [of] @returns {Store | null} */
export function storage(of = () => localStorage) {
  try {
    const store = of();
    store.setItem(`${OURS}try`, '1');
    store.removeItem(`${OURS}try`);
    return store;
  } catch {
    return null;
  }
}

export class TakeHistory {
  /** @param {Store | null} store @param {object} schema  of a take */
  constructor(store, schema) {
    this.store = store;
    this.schema = schema;
    /** What is kept only while the page is open, written as in the store. @type {Map<string, string>} */
    this.open = new Map();
  }

  /** What keeps takes from being kept, as a sentence. */
  get trouble() {
    return this.store === null ? NO_STORE : null;
  }

  /** The takes of one drill on one harp, the oldest first. @param {Played} played */
  takes(played) {
    return this.#read(keyOf(played));
  }

  /** Keep one more take; the oldest goes when there are too many. @param {Played} played @param {TakeData} take @returns {Kept} */
  add(played, take) {
    return this.#write(keyOf(played), [...this.takes(played), take]);
  }

  /** Everything, as one file's text. */
  export() {
    const drills = this.#keys().map((key) => ({ ...playedOf(key), takes: this.#read(key) }));
    return JSON.stringify({ reedmill_history: FORM, drills });
  }

  /**
   * Import the takes of a file; those that are here already come once.
   * @param {string} text @returns {{added: number, drills: number, trouble: string | null}}  throws an `Error` with a sentence
   */
  import(text) {
    const drills = this.#checked(text);
    let [added, trouble] = [0, /** @type {string | null} */ (null)];
    for (const { takes, ...played } of drills) {
      const there = this.takes(played);
      const known = new Set(there.map((each) => JSON.stringify(each)));
      const fresh = new Set(takes.map((each) => JSON.stringify(each)).filter((each) => !known.has(each)));
      const newest = [...there, ...[...fresh].map((each) => JSON.parse(each))].sort(byTime).slice(-MOST_TAKES);
      const more = newest.filter((each) => fresh.has(JSON.stringify(each))).length;
      if (more === 0) continue;
      added += more;
      trouble = this.#write(keyOf(played), newest).trouble ?? trouble;
    }
    return { added, drills: drills.length, trouble };
  }

  /** Remove all that this page and its like have kept; says what it was. */
  forget() {
    const keys = this.#keys();
    const takes = keys.reduce((sum, key) => sum + this.#read(key).length, 0);
    const settings = allKeys(this.store, OURS).filter((key) => !key.startsWith(TAKES));
    for (const key of allKeys(this.store, OURS)) this.store?.removeItem(key);
    this.open.clear();
    return { takes, drills: keys.length, settings: settings.length };
  }

  /** A setting that is kept, or null. @param {string} name */
  setting(name) {
    try {
      return this.store?.getItem(`${OURS}${name}`) ?? null;
    } catch {
      return null;
    }
  }

  /** @param {string} name @param {string} value */
  set(name, value) {
    try {
      this.store?.setItem(`${OURS}${name}`, value);
    } catch {
      // Full: it holds while the page is open, and the next take says why.
    }
  }

  #keys() {
    const kept = allKeys(this.store, TAKES).filter((key) => KEY.test(key)); // others may write here too
    return [...new Set([...kept, ...this.open.keys()])].sort();
  }

  /** @param {string} key @returns {TakeData[]} */
  #read(key) {
    try {
      const takes = JSON.parse(this.open.get(key) ?? this.store?.getItem(key) ?? '[]').map(unpacked);
      return takes.filter((/** @type {unknown} */ each) => wrongIn(this.schema, each) === null);
    } catch {
      return []; // another program wrote there, or an older page
    }
  }

  /** @param {string} key @param {TakeData[]} takes @returns {Kept} */
  #write(key, takes) {
    const text = JSON.stringify(takes.slice(-MOST_TAKES).map(packed));
    try {
      if (this.store === null) throw new Error('none');
      this.store.setItem(key, text);
      this.open.delete(key);
      return { trouble: null };
    } catch {
      this.open.set(key, text);
      return { trouble: this.store === null ? NO_STORE : FULL };
    }
  }

  /** The drills of a file, when all of it is as it should be. @param {string} text @returns {(Played & {takes: TakeData[]})[]} */
  #checked(text) {
    checkSize(text.length);
    let data;
    try {
      data = JSON.parse(text);
    } catch {
      throw new Error('This file is not JSON, so it is not a history. Choose a file that this page has exported.');
    }
    const wrong = wrongIn(schemaOf(this.schema), data, 'the file');
    if (wrong !== null) throw new Error(`This file is not a history of takes: ${wrong}. Nothing was imported.`);
    return data.drills;
  }
}

/** Throws an `Error` with a sentence for a file larger than any that a page exports. @param {number} bytes */
export function checkSize(bytes) {
  if (bytes > MOST_BYTES) throw new Error(`This file has more than ${MOST_BYTES / 1e6} MB, which is more than any history of takes. Choose a file that this page has exported.`);
}

/** @param {object} take  the schema of one */
function schemaOf(take) {
  const of = (/** @type {Record<string, object>} */ properties) => ({ type: 'object', properties, required: Object.keys(properties) });
  return of({
    reedmill_history: { type: 'integer', const: FORM },
    drills: {
      type: 'array',
      items: of({
        known_as: { type: 'string', pattern: `^${KNOWN_AS}$` },
        harp: { type: 'string', pattern: `^${HARP}$` },
        position: { type: 'integer', minimum: 1, maximum: 12 },
        takes: { type: 'array', items: take },
      }),
    },
  });
}

/** @param {Played} played */
function keyOf({ known_as, harp, position }) {
  return `${TAKES}${known_as}:${position}:${harp}`;
}

/** @param {string} key @returns {Played} */
function playedOf(key) {
  const [known_as, position, harp] = key.slice(TAKES.length).split(':');
  return { known_as, harp, position: Number(position) };
}

/** @param {Store | null} store @param {string} begins */
function allKeys(store, begins) {
  const keys = [];
  for (let n = 0; n < (store?.length ?? 0) && n < MOST_KEYS; n += 1) {
    const key = store?.key(n);
    if (key?.startsWith(begins) && key.length <= MOST_KEY) keys.push(key);
  }
  return keys;
}

/** @param {TakeData} a @param {TakeData} b */
function byTime(a, b) {
  return (a.recorded ?? '').localeCompare(b.recorded ?? '');
}

// --- a take in a third of the room: the names of its notes' fields come once ------------------

/** @param {TakeData} take */
function packed(take) {
  return { ...take, passes: take.passes.map((/** @type {TakeData} */ pass) => ({ ...pass, notes: rowsOf(pass.notes) })) };
}

/** @param {TakeData} take */
function unpacked(take) {
  return { ...take, passes: take.passes.map((/** @type {TakeData} */ pass) => ({ ...pass, notes: notesOf(pass.notes) })) };
}

/** @param {TakeData[]} notes */
function rowsOf(notes) {
  const names = [...new Set(notes.flatMap((each) => Object.keys(each)))];
  return { names, rows: notes.map((each) => names.map((name) => each[name])) };
}

/** @param {{names: string[], rows: any[][]}} packedNotes */
function notesOf({ names, rows }) {
  return rows.map((row) => Object.fromEntries(names.map((name, n) => [name, row[n]]).filter(([name, value]) => name !== 'heard_as' || value !== null)));
}

// --- what takes come to ------------------------------------------------------------------------

/** @typedef {{clean: number, worst: number | null}} Progress  the share of notes in place, and how far the worst rung was out in cents */

/** @param {TakeData} take @returns {Progress} */
export function progressOf(take) {
  const notes = take.passes.flatMap((/** @type {TakeData} */ pass) => pass.notes);
  const clean = notes.filter((/** @type {TakeData} */ note) => inPlace(note.verdict)).length / Math.max(1, notes.length);
  const out = take.by_rung.map((/** @type {TakeData} */ rung) => Math.abs(rung.median_cents));
  return { clean, worst: out.length > 0 ? Math.max(...out) : null };
}
