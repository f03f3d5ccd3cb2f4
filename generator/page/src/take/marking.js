/** The marks of a take on the music: the one place that writes them. */

import { boxOf, shape } from '../dom.js';
import { playsOf } from '../music.js';

/** @typedef {import('./summing.js').Mark} Mark */

// Of a picture's pixels: from a note's box to the line its mark stands on, and to the next line.
const [BELOW, ROW] = [14, 13];

/** The notes that are written once and played several times: each index with all of its kind. @returns {(index: number) => number[]} */
export function writtenTogether() {
  /** @type {Map<number, number[]>} */
  const found = new Map();
  for (const group of document.querySelectorAll('.written[data-plays]')) {
    const plays = playsOf(group);
    for (const index of plays) found.set(index, plays);
  }
  return (index) => found.get(index) ?? [index];
}

/** Show what was heard of note *index* wherever it stands, or take it away.
 * @param {number} index @param {Mark | null} verdict
 */
export function mark(index, verdict) {
  for (const place of document.querySelectorAll(`[data-note="${index}"]`)) {
    place.querySelector('.mark')?.remove();
    named(place, verdict);
    if (verdict !== null) place.append(written(verdict));
  }
  for (const group of document.querySelectorAll(`.written[data-plays~="${index}"]`)) {
    group.querySelector('.mark')?.remove();
    if (verdict !== null) drawn(group, verdict);
  }
}

/** What a screen reader says of the note, with the verdict after it. @param {Element} place @param {Mark | null} verdict */
function named(place, verdict) {
  const own = (place.getAttribute('aria-label') ?? '').split('; heard: ')[0];
  place.setAttribute('aria-label', verdict === null ? own : `${own}; heard: ${verdict.words}`);
}

/** @param {Mark} verdict */
function written({ sign, figure }) {
  const shown = document.createElement('span');
  shown.className = 'mark';
  shown.setAttribute('aria-hidden', 'true');
  shown.textContent = `${sign}${figure}`;
  return shown;
}

/** Under a note of a staff, whose first part is the box round it: the shape, and the figure below it.
 * @param {Element} group @param {Mark} verdict
 */
function drawn(group, { sign, figure }) {
  const { left, right, bottom } = boxOf(/** @type {Element} */ (group.firstElementChild));
  const shown = shape('g', { class: 'mark' }, group);
  [sign, figure].forEach((words, row) => {
    shape('text', { x: (left + right) / 2, y: bottom + BELOW + row * ROW }, shown).textContent = words;
  });
}
