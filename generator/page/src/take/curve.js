/** How takes went over time, as a small picture in two strips that needs no colour. */

import { shape } from '../dom.js';

const [WIDTH, STRIP, LEFT, GAP] = [320, 64, 62, 30];
const MOST_CENTS = 50;

/** @typedef {import('./history.js').Progress} Progress */

/** The curve in words, for whoever does not see it. @param {Progress[]} takes */
export function curveWords(takes) {
  if (takes.length === 0) return 'No take of this drill is kept yet.';
  const [first, last] = [takes[0], takes[takes.length - 1]];
  const percent = (/** @type {number} */ share) => `${Math.round(100 * share)}%`;
  const cents = (/** @type {number | null} */ out) => (out === null ? 'not measured' : `${Math.round(out)} cents out`);
  if (takes.length === 1) return `One take: ${percent(first.clean)} of the notes in their place, the worst rung ${cents(first.worst)}.`;
  return `${takes.length} takes: from ${percent(first.clean)} of the notes in their place to ${percent(last.clean)}; the worst rung from ${cents(first.worst)} to ${cents(last.worst)}.`;
}

/** Draw the takes, oldest first. @param {SVGElement} place @param {Progress[]} takes */
export function drawCurve(place, takes) {
  place.replaceChildren();
  place.setAttribute('viewBox', `0 0 ${WIDTH} ${2 * STRIP + GAP + 24}`);
  place.setAttribute('aria-label', curveWords(takes));
  const clean = takes.map((each) => each.clean);
  const worst = takes.map((each) => (each.worst === null ? null : 1 - Math.min(each.worst, MOST_CENTS) / MOST_CENTS));
  strip(place, 14, clean, { high: '100%', low: '0%', title: 'notes in their place', dotted: false });
  strip(place, 14 + STRIP + GAP, worst, { high: '0', low: `${MOST_CENTS} cents`, title: 'how far the worst rung was out', dotted: true });
}

/** One strip of values from 0 to 1; better is higher.
 * @param {SVGElement} place @param {number} top @param {(number | null)[]} values
 * @param {{high: string, low: string, title: string, dotted: boolean}} how
 */
function strip(place, top, values, { high, low, title, dotted }) {
  text(place, LEFT, top - 4, title, 'title');
  text(place, LEFT - 6, top + 5, high, 'scale');
  text(place, LEFT - 6, top + STRIP + 5, low, 'scale');
  for (const y of [top, top + STRIP]) shape('line', { x1: LEFT, x2: WIDTH - 8, y1: y, y2: y, class: 'edge' }, place);
  const x = (/** @type {number} */ n) => LEFT + 6 + ((WIDTH - LEFT - 20) * n) / Math.max(1, values.length - 1);
  const points = values.flatMap((value, n) => (value === null ? [] : [{ x: x(n), y: top + STRIP * (1 - value) }]));
  shape('polyline', { points: points.map((each) => `${each.x.toFixed(1)},${each.y.toFixed(1)}`).join(' '), class: dotted ? 'curve dotted' : 'curve' }, place);
  for (const at of points) {
    if (dotted) shape('rect', { x: at.x - 3, y: at.y - 3, width: 6, height: 6 }, place);
    else shape('circle', { cx: at.x, cy: at.y, r: 3.5 }, place);
  }
}

/** @param {SVGElement} place @param {number} x @param {number} y @param {string} words @param {string} sort */
function text(place, x, y, words, sort) {
  shape('text', { x, y, class: sort }, place).textContent = words;
}
