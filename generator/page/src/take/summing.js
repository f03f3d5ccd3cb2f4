/**
 * What is said of a take: a mark for each note of the sheet, and a sentence for all of them.
 *
 * Marks are those of the printed sheet: a filled dot is in its place, an open one nearly, a
 * triangle points to where the note was, a cross was not heard.  Shape and figure say it all.
 */

import { commonest } from '../ear/advice.js';
import { inPlace, isMeasured, verdictOf } from '../ear/judge.js';
import { evenRound, median } from '../ear/numbers.js';

/** @typedef {import('../ear/judge.js').HeardNote} HeardNote */
/** @typedef {import('../ear/judge.js').Verdict} Verdict */
/** @typedef {import('../ear/judge.js').Tolerance} Tolerance */
/** @typedef {{verdict: Verdict, cents: number | null, heard_as: string | null, good: number, count: number}} NoteSummary */
/** @typedef {{sign: string, figure: string, words: string}} Mark */

/** @type {Record<Verdict, string>} */
const SIGNS = { on: '●', near: '○', sharp: '▲', flat: '▼', 'another-note': '=', missed: '×', unclear: '?', 'not-judged': '–' };

/** What each mark means. @param {Tolerance} tolerance @param {boolean} [several]  holes at once are in the drill */
export function keyWords({ on, near }, several = false) {
  const words = { on: `within ${on} cents`, near: `within ${near}`, sharp: 'sharp', flat: 'flat', 'another-note': 'another note, its tab', missed: 'not heard', unclear: 'unclear', ...(several ? { 'not-judged': 'several holes at once, not judged' } : {}) };
  return Object.entries(words).map(([verdict, said]) => `${SIGNS[/** @type {Verdict} */ (verdict)]} ${said}`);
}

/** Whole cents with their sign, as on paper. @param {number} cents */
export function printedCents(cents) {
  const whole = evenRound(cents);
  return whole > 0 ? `+${whole}` : String(whole + 0).replace('-', '−');
}

/** A note as it is against the anchor played before it; as it is where none was. @param {HeardNote} note @param {Tolerance} tolerance @returns {HeardNote} */
function fromOwnAnchor(note, tolerance) {
  if (note.cents_from_anchor === null) return note;
  return { ...note, cents: note.cents_from_anchor, verdict: verdictOf(tolerance, note.cents_from_anchor) };
}

/**
 * What all tries of one written note come to: where at least half were measured their median is
 * judged, otherwise what was said most often.
 * @param {HeardNote[]} tries @param {Tolerance} tolerance @returns {NoteSummary}
 */
function summaryOf(tries, tolerance) {
  const measured = tries.filter((each) => isMeasured(each.verdict) && each.cents !== null);
  const [good, count] = [tries.filter((each) => inPlace(each.verdict)).length, tries.length];
  if (2 * measured.length >= count) {
    const cents = median(measured.map((each) => each.cents ?? 0));
    return { verdict: verdictOf(tolerance, cents), cents, heard_as: null, good, count };
  }
  const [said] = commonest(tries.filter((each) => !isMeasured(each.verdict)).map((each) => each.verdict));
  const verdict = /** @type {Verdict} */ (said);
  const [heard_as] = commonest(tries.filter((each) => each.verdict === verdict && each.heard_as).map((each) => String(each.heard_as)));
  return { verdict, cents: null, heard_as, good, count };
}

/** @param {NoteSummary} summary @returns {Mark} */
function markOf({ verdict, cents, heard_as, good, count }) {
  const often = count > 1 ? `, in place in ${good} of ${count} passes` : '';
  return { sign: SIGNS[verdict], figure: figureOf(verdict, cents, heard_as), words: wordsOf(verdict, cents, heard_as) + often };
}

/** @param {Verdict} verdict @param {number | null} cents @param {string | null} heard_as */
function figureOf(verdict, cents, heard_as) {
  if (verdict === 'another-note') return heard_as ?? '';
  return cents === null ? '' : printedCents(cents);
}

/** @param {Verdict} verdict @param {number | null} cents @param {string | null} heard_as */
function wordsOf(verdict, cents, heard_as) {
  const away = Math.abs(evenRound(cents ?? 0));
  switch (verdict) {
    case 'on': return 'in its place';
    case 'near': return `nearly in its place, ${away} cents ${(cents ?? 0) > 0 ? 'sharp' : 'flat'}`;
    case 'sharp': return `${away} cents sharp`;
    case 'flat': return `${away} cents flat`;
    case 'another-note': return heard_as ? `another note, ${heard_as}` : 'another note';
    case 'missed': return 'not heard';
    case 'not-judged': return 'several holes at once, not judged';
    default: return 'unclear, so not judged';
  }
}

/** The notes of a take as they are judged. @param {Record<string, any>} take @param {boolean} ownAnchor  against the anchor the player gave @returns {HeardNote[]} */
function notesOf(take, ownAnchor) {
  const notes = take.passes.flatMap((/** @type {{notes: HeardNote[]}} */ pass) => pass.notes);
  return ownAnchor ? notes.map((/** @type {HeardNote} */ note) => fromOwnAnchor(note, take.tolerance)) : notes;
}

/** The marks of a take by the number of their note.
 * @param {Record<string, any>} take @param {boolean} ownAnchor
 * @param {(index: number) => number[]} [together]  all notes that are written as one
 * @returns {Map<number, Mark>}
 */
export function marksOf(take, ownAnchor, together = (index) => [index]) {
  const notes = notesOf(take, ownAnchor);
  return new Map([...new Set(notes.map((note) => note.index))].map((index) => {
    const all = together(index);
    return [index, markOf(summaryOf(notes.filter((note) => all.includes(note.index)), take.tolerance))];
  }));
}

/** The take in a sentence or two. @param {Record<string, any>} take @param {boolean} ownAnchor @param {number} sameHarp  cents that a harp may be out and still be in tune */
export function sentenceOf(take, ownAnchor, sameHarp) {
  const notes = notesOf(take, ownAnchor);
  const judged = notes.filter((note) => note.verdict !== 'not-judged');
  const said = [`${judged.filter((note) => inPlace(note.verdict)).length} of ${judged.length} notes in their place`];
  for (const [verdict, words] of /** @type {[Verdict, string][]} */ ([
    ['sharp', 'sharp'], ['flat', 'flat'], ['another-note', 'another note'], ['missed', 'not heard'], ['unclear', 'unclear'], ['not-judged', 'of several holes not judged'],
  ])) {
    const count = notes.filter((note) => note.verdict === verdict).length;
    if (count > 0) said.push(`${count} ${words}`);
  }
  const passes = take.passes.length > 1 ? ` in ${take.passes.length} passes` : '';
  const harp = take.harp_cents !== null && Math.round(Math.abs(take.harp_cents)) >= sameHarp
    ? ` Your harp is ${Math.abs(Math.round(take.harp_cents))} cents ${take.harp_cents > 0 ? 'sharp' : 'flat'} as a whole, which is taken off.` : '';
  const against = ownAnchor ? ' Judged against your own anchor.' : '';
  return `${said.join(', ')}${passes}.${harp}${against}`;
}
