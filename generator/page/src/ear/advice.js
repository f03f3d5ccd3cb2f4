/** What the verdicts come to: every rung by where it was reached from, and a teacher's sentences. */

import { inPlace, isMeasured } from './judge.js';
import { known, median } from './numbers.js';

/** @typedef {import('./judge.js').HeardNote} HeardNote */
/** @typedef {import('./judge.js').Tolerance} Tolerance */
/** @typedef {import('./tuning.js').EarReed} EarReed */

/**
 * @typedef {object} HeardRung  all tries of one reed that were reached from one other
 * @property {string} tab @property {string | null} from @property {number} count
 * @property {number} median_cents @property {number} spread_cents @property {number} on
 * @property {number[]} tries_cents
 */

/** The measured notes by reed and by the reed before, the furthest from its place first. @param {HeardNote[]} notes @returns {HeardRung[]} */
export function byRung(notes) {
  /** @type {Map<string, HeardNote[]>} */
  const groups = new Map();
  for (const note of notes) {
    if (note.cents === null) continue;
    const which = `${note.tab} ${note.from}`;
    groups.set(which, [...(groups.get(which) ?? []), note]);
  }
  return [...groups.values()].map(rungOf).sort((a, b) => Math.abs(b.median_cents) - Math.abs(a.median_cents));
}

/** @param {HeardNote[]} tries @returns {HeardRung} */
function rungOf(tries) {
  const cents = tries.map((note) => /** @type {number} */ (note.cents));
  const middle = median(cents);
  return {
    tab: tries[0].tab, from: tries[0].from, count: tries.length, median_cents: middle,
    spread_cents: median(cents.map((each) => Math.abs(each - middle))),
    on: tries.filter((note) => inPlace(note.verdict)).length, tries_cents: cents,
  };
}

/**
 * @param {Record<string, Record<string, any>>} constants
 * @param {Record<string, string>} words  sentences with what is to be put in in braces
 * @param {(tab: string) => EarReed} reedOf
 */
export function adviser(constants, words, reedOf) {
  const { MOST_SENTENCES, SCATTERED_CENTS, SLOW_S, OFTEN_MISSED, MOSTLY } = known(constants, 'advice');

  /** @param {string} which @param {Record<string, string | number>} what */
  function said(which, what) {
    return words[which].replace(/\{(\w+)\}/g, (_, name) => String(what[name]));
  }

  /** @param {string} tab */
  function capital(tab) {
    const named = reedOf(tab).words;
    return named[0].toUpperCase() + named.slice(1);
  }

  /** @param {HeardRung} rung */
  function named(rung) {
    return rung.from === null ? capital(rung.tab) : said('from', { reed: capital(rung.tab), before: reedOf(rung.from).words });
  }

  /** At most a few sentences, what matters most first. @param {HeardNote[]} all @param {HeardRung[]} rungs @param {Tolerance} tolerance */
  function advise(all, rungs, tolerance) {
    const notes = all.filter((note) => note.verdict !== 'not-judged');
    const told = [...ofPitch(rungs, tolerance), ...ofOtherNotes(notes), ...ofMissed(notes), ...ofScatter(rungs), ...ofTime(notes)];
    return told.length > 0 ? told.slice(0, MOST_SENTENCES) : [praise(notes)];
  }

  /** @param {HeardRung[]} rungs @param {Tolerance} tolerance */
  function ofPitch(rungs, tolerance) {
    const out = rungs.filter((each) => Math.abs(each.median_cents) > tolerance.on);
    return out.slice(0, 2).map((each) => outOfPlace(each, rungs, tolerance));
  }

  /** @param {HeardRung} rung @param {HeardRung[]} rungs @param {Tolerance} tolerance */
  function outOfPlace(rung, rungs, tolerance) {
    const side = rung.median_cents > 0 ? 1 : -1;
    const out = rung.tries_cents.filter((each) => side * each > tolerance.on);
    const always = out.length === rung.count;
    const cents = always ? rung.median_cents : median(out);
    const told = said('out', {
      rung: named(rung), cents: Math.abs(cents).toFixed(0), side: words[side > 0 ? 'sharp' : 'flat'],
      often: rung.count > 1 ? said('often', { out: out.length, count: rung.count }) : '',
      cause: words[causeOf(reedOf(rung.tab), side > 0 ? 'sharp' : 'flat', always)],
    });
    const right = rungs.find((each) =>
      each.tab === rung.tab && each.from !== null && each.from !== rung.from && Math.abs(each.median_cents) <= tolerance.on);
    return right === undefined ? told : told + said('right', { reed: reedOf(/** @type {string} */ (right.from)).words });
  }

  /** @param {HeardNote[]} notes */
  function ofOtherNotes(notes) {
    const wrong = notes.filter((note) => note.verdict === 'another-note' && note.heard_as);
    const [most, count] = commonest(wrong.map((note) => `${note.tab} ${note.heard_as}`));
    if (most === null) return [];
    const [tab, heard] = most.split(' ');
    const of = notes.filter((note) => note.tab === tab).length;
    return [said('another', { reed: capital(tab), heard: reedOf(heard).words, count, of })];
  }

  /** @param {HeardNote[]} notes */
  function ofMissed(notes) {
    const missed = notes.filter((note) => note.verdict === 'missed').length;
    return missed > 0 && missed >= OFTEN_MISSED * notes.length ? [said('missed', { missed, of: notes.length })] : [];
  }

  /** @param {HeardRung[]} rungs */
  function ofScatter(rungs) {
    const wide = rungs.filter((each) => each.spread_cents > SCATTERED_CENTS && (each.count >= 3 || (each.on === 0 && onBothSides(each))));
    if (wide.length === 0) return [];
    const worst = wide.reduce((most, each) => (each.spread_cents > most.spread_cents ? each : most));
    return [said('scattered', { rung: named(worst) })];
  }

  /** The reed that takes longest to find its pitch. @param {HeardNote[]} notes */
  function ofTime(notes) {
    /** @type {Map<string, number[]>} */
    const times = new Map();
    for (const { tab, found_after_s, verdict, slide_s } of notes) {
      if (slide_s === undefined && found_after_s !== null && isMeasured(verdict)) times.set(tab, [...(times.get(tab) ?? []), found_after_s]);
    }
    let [slowest, tab] = [SLOW_S, ''];
    for (const [each, seconds] of times) {
      if (seconds.length >= 2 && median(seconds) > slowest) [slowest, tab] = [median(seconds), each];
    }
    return tab === '' ? [] : [said('slow', { reed: capital(tab), seconds: slowest.toFixed(1) })];
  }

  /** @param {HeardNote[]} notes */
  function praise(notes) {
    const good = notes.filter((note) => inPlace(note.verdict)).length;
    return said(good / Math.max(1, notes.length) < MOSTLY ? 'stay' : 'faster', { good, of: notes.length });
  }

  return { advise };
}

/** @param {HeardRung} rung */
function onBothSides({ tries_cents }) {
  return Math.min(...tries_cents) < 0 && Math.max(...tries_cents) > 0;
}

/** @param {EarReed} reed @param {'sharp' | 'flat'} side @param {boolean} always */
function causeOf(reed, side, always) {
  if (reed.kind === 'bend') return `bend-${side}`;
  if (reed.kind !== 'natural') return `overbend-${side}`;
  return side === 'sharp' && always ? 'natural-sharp-always' : `natural-${side}`;
}

/** What is there most often, and how often; of several the first. @param {string[]} what @returns {[string | null, number]} */
export function commonest(what) {
  const counts = new Map();
  for (const each of what) counts.set(each, (counts.get(each) ?? 0) + 1);
  let [most, count] = [null, 0];
  for (const [each, times] of counts) if (times > count) [most, count] = [each, times];
  return [most, count];
}
