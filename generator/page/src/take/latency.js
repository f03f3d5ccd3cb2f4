/**
 * How late what is played is heard: measured by tapping along to the click, or set by hand.
 *
 * The middle of the taps counts, so that one tap astray does not.
 */

import { median } from '../ear/numbers.js';

/** Fewer taps or notes have no middle that can be trusted. */
export const LEAST_HEARD = 4;
export const MOST_MS = 500;

/** How late the taps were, in milliseconds; null for too few of them.
 * @param {number[]} taps_s @param {number[]} clicks_s  both by one clock
 */
export function latencyOf(taps_s, clicks_s) {
  if (taps_s.length < LEAST_HEARD || clicks_s.length === 0) return null;
  const late = taps_s.map((tap) => clicks_s.map((click) => tap - click).reduce((best, each) => (Math.abs(each) < Math.abs(best) ? each : best)));
  return bounded(1000 * median(late));
}

/** A latency that may be used, of whatever was written. @param {unknown} value @returns {number | null} */
export function bounded(value) {
  const ms = typeof value === 'string' && value.trim() !== '' ? Number(value) : value;
  if (typeof ms !== 'number' || !Number.isFinite(ms)) return null;
  return Math.round(Math.min(MOST_MS, Math.max(0, ms)));
}

/**
 * How many milliseconds the notes of a take came before the click, in the middle; null where too
 * few were heard.  Negative is late.
 * @param {{index: number, start_s: number | null}[]} notes @param {number} start_s  of the take, by the sound clock
 * @param {(index: number) => number} due_s  when the note was due, by the same clock @param {number} latency_ms
 */
export function earlyOnClick(notes, start_s, due_s, latency_ms) {
  const early = notes.flatMap((note) => (note.start_s === null ? [] : [1000 * (due_s(note.index) - start_s - note.start_s) + latency_ms]));
  return early.length >= LEAST_HEARD ? Math.round(median(early)) : null;
}

/** @param {number | null} early_ms @param {number} latency_ms */
export function onClickWords(early_ms, latency_ms) {
  if (early_ms === null) return '';
  const off = latency_ms > 0 ? ` (${latency_ms} ms of latency taken off)` : '';
  if (Math.abs(early_ms) < 15) return ` You were with the click${off}.`;
  return ` You were ${Math.abs(early_ms)} ms ${early_ms > 0 ? 'before' : 'after'} the click${off}.`;
}
