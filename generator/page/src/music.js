/**
 * The music: the lines of staff that the page brings as pictures, lit and touched.
 *
 * Each picture is there for one width of screen; whichever the style shows, all of them are
 * marked alike, so that a phone that is turned shows the same note.  A group of a picture names
 * the notes it is played as: a repeat is written once and played several times.
 */

import { boxOf, shape } from './dom.js';

const LOOP_BELOW = 4;
const LOOP_HOOK = 14;

/** Whether the reader asked for still pages. */
const still = () => matchMedia('(prefers-reduced-motion: reduce)').matches;

export class Music {
  /**
   * @param {Element} place  that holds the pictures
   * @param {HTMLElement[]} buttons  one for every note as it is played, for keys and screen readers
   */
  constructor(place, buttons) {
    this.place = place;
    this.buttons = buttons;
    /** The groups of every played note, those of each width. @type {Element[][]} */
    this.groups = buttons.map(() => []);
    for (const group of place.querySelectorAll('[data-plays]')) {
      group.classList.add('written');
      group.prepend(boxFor(group));
      for (const number of playsOf(group)) this.groups[number]?.push(group);
    }
    /** @type {Element[]} */
    this.loops = [];
    this.lit = -1;
    /** Called with the note where a touch or a key asks to start. @type {(index: number) => void} */
    this.onTouch = () => {};
    /** Called with the notes between which a finger was drawn. @type {(first: number, last: number) => void} */
    this.onDrag = () => {};
    this.#listen();
  }

  /** Show which note sounds, -1 for none, and bring it into view. @param {number} index */
  light(index) {
    if (index === this.lit) return;
    this.#mark(this.lit, 'lit', false);
    this.lit = index;
    this.#mark(index, 'lit', true);
    this.#bringIntoView(index);
  }

  /** Bracket the notes that are played over and over; nothing to take the bracket away.
   * @param {number} [first] @param {number} [last]
   */
  loop(first = -1, last = first) {
    for (const each of this.loops) each.remove();
    this.loops = [];
    if (first < 0) return;
    /** @type {Map<Element, Element[]>} */
    const lines = new Map();
    for (const group of new Set(this.groups.slice(first, last + 1).flat())) {
      const line = /** @type {Element} */ (group.closest('svg'));
      lines.set(line, [...(lines.get(line) ?? []), group]);
    }
    for (const [line, groups] of lines) this.#bracket(line, groups, first, last);
  }

  /** @param {Element} line @param {Element[]} groups @param {number} first @param {number} last */
  #bracket(line, groups, first, last) {
    const boxes = groups.map((group) => boxOf(/** @type {Element} */ (group.firstElementChild)));
    const left = Math.min(...boxes.map((box) => box.left));
    const right = Math.max(...boxes.map((box) => box.right));
    const y = Math.max(...boxes.map((box) => box.bottom)) + LOOP_BELOW;
    const begins = groups.some((group) => this.groups[first].includes(group));
    const ends = groups.some((group) => this.groups[last].includes(group));
    const path = shape('path', { class: 'loop', d: `M${left} ${begins ? y - LOOP_HOOK : y}V${y}H${right}${ends ? `V${y - LOOP_HOOK}` : ''}` }, line);
    this.loops.push(path);
  }

  /** @param {number} index @param {string} as @param {boolean} on */
  #mark(index, as, on) {
    this.buttons[index]?.classList.toggle(as, on);
    for (const group of this.groups[index] ?? []) group.classList.toggle(as, on);
  }

  /** Scroll until the line of a note is clear of what lies over the page. @param {number} index */
  #bringIntoView(index) {
    const line = this.groups[index]?.map((group) => group.closest('svg')).find((each) => each?.checkVisibility());
    if (!line) return;
    const box = line.getBoundingClientRect();
    const over = coverAbove();
    const bottom = window.innerHeight - (document.querySelector('.controls')?.getBoundingClientRect().height ?? 0);
    if (box.top >= (over?.bottom ?? 0) && box.bottom <= bottom) return;
    window.scrollBy({ top: box.top - (over?.height ?? 0) - 8, behavior: still() ? 'instant' : 'smooth' });
  }

  #listen() {
    this.buttons.forEach((button, index) => {
      button.addEventListener('click', () => this.onTouch(index));
      button.addEventListener('focus', () => {
        this.#mark(index, 'focused', true);
        this.#bringIntoView(index);
      });
      button.addEventListener('blur', () => this.#mark(index, 'focused', false));
    });
    /** @type {number | null} */
    let from = null;
    this.place.addEventListener('pointerdown', (event) => {
      from = this.#under(/** @type {PointerEvent} */ (event));
    });
    this.place.addEventListener('pointerup', (event) => {
      const to = this.#under(/** @type {PointerEvent} */ (event));
      if (from !== null && to !== null && from === to) this.onTouch(to);
      else if (from !== null && to !== null) this.onDrag(Math.min(from, to), Math.max(from, to));
      from = null;
    });
    this.place.addEventListener('pointercancel', () => (from = null));
  }

  /** The note of the line under a finger that is nearest to it. @param {PointerEvent} event @returns {number | null} */
  #under(event) {
    const line = document.elementFromPoint(event.clientX, event.clientY)?.closest('.staff svg');
    if (!line) return null;
    /** @type {number | null} */
    let nearest = null;
    let distance = Infinity;
    for (const group of line.querySelectorAll('.written')) {
      const box = /** @type {Element} */ (group.firstElementChild).getBoundingClientRect();
      const away = Math.abs((box.left + box.right) / 2 - event.clientX);
      if (away < distance) [distance, nearest] = [away, playsOf(group)[0]];
    }
    return nearest;
  }
}

/** The numbers of the notes that a group is played as. @param {Element} group */
export function playsOf(group) {
  return (group.getAttribute('data-plays') ?? '').split(' ').map(Number);
}

/** A new box round a note, as the picture says where. @param {Element} group */
function boxFor(group) {
  const [x, width] = (group.getAttribute('data-box') ?? '').split(' ');
  const [y, height] = (group.parentElement?.getAttribute('data-boxes') ?? '').split(' ');
  return shape('rect', { x, y, width, height });
}

/** The ladders where they lie over the music; null where they stand beside it. */
function coverAbove() {
  const ladders = document.querySelector('.ladders')?.getBoundingClientRect();
  const music = document.querySelector('.music')?.getBoundingClientRect();
  return ladders && music && ladders.left < music.right && ladders.right > music.left ? ladders : null;
}
