/** The marks of a take on the music: the one place that writes them. */

/** @typedef {import('./summing.js').Mark} Mark */

const SVG = 'http://www.w3.org/2000/svg';
// Of a picture's pixels: from a note's box to the line its mark stands on, and to the next line.
const [BELOW, ROW] = [14, 13];

/** The notes that are written once and played several times: each index with all of its kind. @returns {(index: number) => number[]} */
export function writtenTogether() {
  /** @type {Map<number, number[]>} */
  const found = new Map();
  for (const group of document.querySelectorAll('.written[data-plays]')) {
    const plays = (group.getAttribute('data-plays') ?? '').split(' ').map(Number);
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
  const box = group.firstElementChild;
  if (box === null) return;
  const [left, top, width, height] = ['x', 'y', 'width', 'height'].map((name) => Number(box.getAttribute(name)));
  const shown = document.createElementNS(SVG, 'g');
  shown.setAttribute('class', 'mark');
  [sign, figure].forEach((words, row) => {
    const text = document.createElementNS(SVG, 'text');
    text.setAttribute('x', String(left + width / 2));
    text.setAttribute('y', String(top + height + BELOW + row * ROW));
    text.textContent = words;
    shown.append(text);
  });
  group.append(shown);
}
