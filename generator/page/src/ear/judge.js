/** The verdict on every note of a pass, from the event it was matched with. */

import { aligner, eventsOf, notJudgedBetween, pacesOf } from './align.js';
import { known, median } from './numbers.js';

/** @typedef {import('./segment.js').DetectedNote} DetectedNote */
/** @typedef {import('./align.js').Pair} Pair */
/** @typedef {import('./tuning.js').EarReed} EarReed */
/** @typedef {{on: number, near: number}} Tolerance */
/** @typedef {'on' | 'near' | 'sharp' | 'flat' | 'another-note' | 'missed' | 'unclear' | 'not-judged'} Verdict */

/**
 * @typedef {object} HeardNote  null where there is nothing to measure
 * @property {number} index @property {string} tab @property {string} role @property {string | null} from
 * @property {number} wanted_hz
 * @property {Verdict} verdict
 * @property {number | null} start_s @property {number | null} end_s @property {number | null} hz
 * @property {number | null} cents @property {number | null} cents_from_anchor
 * @property {number | null} steadiness_cents @property {number | null} found_after_s @property {number | null} early_ms
 * @property {string | null} [heard_as]
 * @property {number} [slide_s]  how long a slow slide is written to take, at his own tempo
 */

/** @typedef {{start_s: number, end_s: number, notes: HeardNote[]}} HeardPass */

/** @typedef {import('./hear.js').WantedNote & {reed: EarReed}} ScoreNote */

/** The verdict on a note so many cents from its target. @param {Tolerance} tolerance @param {number} cents @returns {Verdict} */
export function verdictOf(tolerance, cents) {
  if (Math.abs(cents) <= tolerance.on) return 'on';
  if (Math.abs(cents) <= tolerance.near) return 'near';
  return cents > 0 ? 'sharp' : 'flat';
}

/** True when the note was where it belongs, or nearly. @param {Verdict} verdict */
export function inPlace(verdict) {
  return verdict === 'on' || verdict === 'near';
}

/** True when cents from the target go with it. @param {Verdict} verdict */
export function isMeasured(verdict) {
  return inPlace(verdict) || verdict === 'sharp' || verdict === 'flat';
}

export class Judge {
  /**
   * @param {Record<string, Record<string, any>>} constants
   * @param {{all: import('./hear.js').WantedNote[], notes: ScoreNote[], reeds: EarReed[], wanted: import('./align.js').ExpectedNotes}} score
   * @param {DetectedNote[]} events @param {number} harpCents @param {Tolerance} tolerance
   */
  constructor(constants, score, events, harpCents, tolerance) {
    this.k = known(constants, 'judge');
    this.aligner = aligner(constants);
    this.score = score;
    this.events = events;
    this.harpCents = harpCents;
    this.tolerance = tolerance;
  }

  /** Every pass with its verdicts; the take lasts *seconds*. @param {Pair[][]} aligned @param {number} seconds @returns {HeardPass[]} */
  passes(aligned, seconds) {
    const used = new Set(aligned.flatMap(eventsOf));
    return aligned.map((pairs, number) => {
      const after = aligned[number + 1];
      return this.#pass(pairs, used, after ? this.events[eventsOf(after)[0]].start_s : seconds);
    });
  }

  /** The steady tones that are neither a note nor a part of one. @param {Pair[][]} aligned */
  extras(aligned) {
    const used = new Set(aligned.flatMap(eventsOf));
    const parts = new Set([...used].flatMap((event) => [...this.#way(event, used), ...this.#rest(event, used)]));
    for (const event of this.aligner.steppedOver(this.events, this.score.wanted, aligned)) parts.add(event);
    for (const [index, event] of aligned.flat()) {
      if (event !== null && this.score.notes[index].falls && this.events[event + 1]?.slid) parts.add(event + 1);
    }
    return this.events
      .filter((each, n) => !used.has(n) && !parts.has(n) && each.steady && each.end_s - each.start_s >= this.k.LEAST_EXTRA_S)
      .map(({ start_s, end_s, hz, cents }) => ({ start_s, end_s, hz, nearest_tab: this.nearestTab(cents) }));
  }

  /** The tab of the reed whose pitch lies nearest; natural notes first, for several may share one.
   * @param {number} cents  above 440 Hz
   */
  nearestTab(cents) {
    let [best, tab] = [Infinity, ''];
    for (const reed of this.score.reeds) {
      const away = Math.round(1000 * Math.abs(cents - this.harpCents - reed.cents)) / 1000;
      if (away < best) [best, tab] = [away, reed.tab];
    }
    return best <= this.k.NEAR_REED_CENTS + 6 ? tab : null;
  }

  /** Seconds played for one of the score, from each note heard to the next. @param {Pair[]} pairs */
  paces(pairs) {
    return pacesOf(this.events, this.score.wanted, pairs);
  }

  /** @param {Pair[]} aligned @param {Set<number>} used @param {number} until_s @returns {HeardPass} */
  #pass(aligned, used, until_s) {
    const pairs = this.#withEnds(aligned, until_s);
    const early = this.#early(pairs);
    /** @type {number | null} */
    let anchor = null;
    const notes = pairs.map(([index, number]) => {
      const note = this.#note(index, number, used, pairs);
      if (note.cents !== null && isMeasured(note.verdict)) {
        note.cents_from_anchor = anchor === null ? null : note.cents - anchor;
        if (note.role === 'anchor') anchor = note.cents;
      }
      note.early_ms = early.get(index) ?? null;
      if (note.slide_s !== undefined) note.slide_s *= this.#pace(pairs);
      return note;
    });
    const heard = notes.filter((note) => note.start_s !== null);
    return { start_s: heard[0].start_s ?? 0, end_s: heard[heard.length - 1].end_s ?? 0, notes: this.#withNotJudged(notes) };
  }

  /** *notes* with those of several holes between, before and after them. @param {HeardNote[]} notes @returns {HeardNote[]} */
  #withNotJudged(notes) {
    const { numbers } = this.score.wanted;
    const [first, last] = [notes[0].index, notes[notes.length - 1].index].map((index) => numbers.indexOf(index));
    const [begin, end] = [(numbers[first - 1] ?? -1) + 1, numbers[last + 1] ?? this.score.all.length];
    const known = new Map(notes.map((note) => [note.index, note]));
    return Array.from({ length: end - begin }, (_, n) => known.get(begin + n) ?? this.#blank(begin + n, 'not-judged'));
  }

  /** With notes left out before the first and after the last, where few are. @param {Pair[]} aligned @param {number} until_s @returns {Pair[]} */
  #withEnds(aligned, until_s) {
    const { seconds } = this.score.wanted;
    const [first, last] = [aligned[0][0], aligned[aligned.length - 1][0]];
    const end = seconds.length - 1;
    let pairs = [...aligned];
    if (first <= this.k.LEADING) pairs = [...missing(0, first), ...pairs];
    const played = this.events[eventsOf(aligned)[eventsOf(aligned).length - 1]];
    const due_s = played.start_s + this.#pace(pairs) * (seconds[end] - seconds[last]);
    if (end - last <= this.k.LEADING && due_s < until_s) pairs.push(...missing(last + 1, end + 1));
    return pairs;
  }

  /** @param {number} index @param {number | null} number @param {Set<number>} used @param {Pair[]} pairs @returns {HeardNote} */
  #note(index, number, used, pairs) {
    const empty = this.#blank(this.score.wanted.numbers[index], 'missed');
    if (number === null) return this.#withoutEvent(empty, index, pairs);
    const event = this.events[number];
    const [way, rest] = [this.#way(number, used), this.#rest(number, used)];
    const start_s = way.length > 0 ? this.events[way[0]].start_s : event.start_s;
    const end_s = rest.length > 0 ? this.events[rest[rest.length - 1]].end_s : event.end_s;
    const found_after_s = this.score.wanted.lifted[index] ? null : event.slid && way.length === 0 ? event.moving_s : Math.max(0, event.steady_s - start_s - this.k.EDGE_S);
    const heard = { ...empty, start_s, end_s, hz: event.hz, steadiness_cents: event.spread_cents, found_after_s };
    return this.#judged(heard, this.#away(index, event), event);
  }

  /** Note *number* of the score before anything of it is measured. @param {number} number @param {Verdict} verdict @returns {HeardNote} */
  #blank(number, verdict) {
    const { tab, role, hz, several, slide_s } = this.score.all[number];
    const before = this.score.all[number - 1];
    return {
      index: number, tab, role, from: before === undefined || before.several || several ? null : before.tab,
      wanted_hz: hz * 2 ** (this.harpCents / 1200), start_s: null, end_s: null, hz: null, cents: null,
      cents_from_anchor: null, steadiness_cents: null, found_after_s: null, early_ms: null, verdict,
      ...(slide_s === null ? {} : { slide_s }),
    };
  }

  /** @param {HeardNote} heard @param {number} cents @param {DetectedNote} event @returns {HeardNote} */
  #judged(heard, cents, event) {
    if (!event.steady || event.doubtful || event.clarity < this.k.UNCLEAR_CLARITY) return { ...heard, verdict: 'unclear' };
    if (Math.abs(cents) <= this.k.SAME_NOTE_CENTS) return { ...heard, verdict: verdictOf(this.tolerance, cents), cents };
    return { ...heard, verdict: 'another-note', heard_as: this.nearestTab(event.cents) };
  }

  /** Cents from the target of note *index*, the harp's own pitch taken into account. @param {number} index @param {DetectedNote} event */
  #away(index, event) {
    return event.cents - this.harpCents - this.score.wanted.cents[index];
  }

  /**
   * Missed, unless the sound of the note before it goes on for long enough: a slide that does not
   * move is judged by where it stayed; whether the same pitch was played again cannot be told.
   * @param {HeardNote} note @param {number} index  of the wanted note @param {Pair[]} pairs @returns {HeardNote}
   */
  #withoutEvent(note, index, pairs) {
    const { seconds, cents, joined } = this.score.wanted;
    const before = pairs.find(([each]) => each === index - 1)?.[1] ?? null;
    if (before === null || notJudgedBetween(this.score.wanted, index - 1, index)) return note;
    const event = this.events[before];
    const own_s = this.#pace(pairs) * (seconds[index] - seconds[index - 1]);
    if (event.end_s - event.start_s <= this.k.HELD_ON * own_s) return note;
    const away = this.#away(index, event);
    if (joined[index] && Math.abs(away) <= this.k.SAME_NOTE_CENTS) {
      const held = { ...note, start_s: event.start_s + own_s, end_s: event.end_s, hz: event.hz, steadiness_cents: event.spread_cents };
      return this.#judged(held, away, event);
    }
    const same = Math.abs(cents[index - 1] - cents[index]) < this.k.SAME_PITCH_CENTS;
    return same ? { ...note, verdict: 'unclear' } : note;
  }

  /** The stays of the same breath that lead to an event, first to last. @param {number} number @param {Set<number>} used */
  #way(number, used) {
    /** @type {number[]} */
    const way = [];
    let at = number;
    while (this.events[at].slid && at - 1 >= 0 && !used.has(at - 1)) {
      at -= 1;
      if (this.events[at].end_s - this.events[at].start_s > this.k.WAY_S) break;
      way.unshift(at);
    }
    return way;
  }

  /** The stays after an event that only go on with it. @param {number} number @param {Set<number>} used */
  #rest(number, used) {
    /** @type {number[]} */
    const rest = [];
    for (let at = number + 1; at < this.events.length && !used.has(at); at += 1) {
      const close = this.events[at].start_s - this.events[at - 1].end_s < this.k.HELD_S;
      if (!close || Math.abs(this.events[at].cents - this.events[number].cents) >= 25) break;
      rest.push(at);
    }
    return rest;
  }

  /** Seconds played for one of the score, the middle of a pass; 1 for a single note. @param {Pair[]} pairs */
  #pace(pairs) {
    const paces = this.paces(pairs);
    return paces.length > 0 ? median(paces) : 1;
  }

  /** How many milliseconds each note came before the pace around it would have it. @param {Pair[]} pairs */
  #early(pairs) {
    const heard = /** @type {[number, number][]} */ (pairs.filter(([, number]) => number !== null));
    const paces = this.paces(pairs);
    /** @type {Map<number, number>} */
    const found = new Map();
    for (let place = 1; place < heard.length; place += 1) {
      const others = [...paces.slice(Math.max(0, place - 4), place - 1), ...paces.slice(place, place + 3)];
      if (others.length < 2) continue;
      const [[i, before], [j, event]] = [heard[place - 1], heard[place]];
      if (this.score.wanted.lifted[j]) continue; // where a chord ends is not heard as exactly as where a note begins
      const score_s = this.score.wanted.seconds[j] - this.score.wanted.seconds[i];
      found.set(j, 1000 * (this.events[before].start_s + median(others) * score_s - this.events[event].start_s));
    }
    return found;
  }
}

/** Pairs for notes that were left out. @param {number} from @param {number} to @returns {Pair[]} */
function missing(from, to) {
  return Array.from({ length: to - from }, (_, n) => [from + n, null]);
}
