/**
 * The ladder: the neck that a harp lacks, with the player's own pitch on it.
 *
 * Rungs lie at their true distance in cents.  The wanted rung is thick, the anchor has a double
 * line, a rung the drill does not use is thin.  The player is a point with a short trail;
 * footprints stay where tries came to rest.
 */

import { shape } from './dom.js';
import { centsBetween } from './ear/numbers.js';

const WIDTH = 320;
const LEFT = 70;
const RIGHT = 244;
const TOP = 26;
const PER_CENT = 0.78;
const TRAIL = 24;
const TRIES = 12;

/**
 * @typedef {object} Rung
 * @property {string} tab @property {string} name @property {string} degree @property {number} hz
 * @property {boolean} used  by the drill
 * @property {boolean} anchor
 */

/** @typedef {{words: string, rungs: Rung[]}} Reed  one breath of one hole, from high to low */

/** The rung nearest to *hz*, and how many cents over it that is. @param {Rung[]} rungs @param {number} hz */
function nearest(rungs, hz) {
  let best = rungs[0];
  for (const rung of rungs) {
    if (Math.abs(centsBetween(rung.hz, hz)) < Math.abs(centsBetween(best.hz, hz))) best = rung;
  }
  return { rung: best, cents: centsBetween(best.hz, hz) };
}

/** Further from every rung a try leaves no footprint. */
const NEAR_CENTS = 60;

/**
 * What is said of a pitch: a sign, a figure and words, so that nothing rests on colour.
 * @param {{tab: string}} wanted @param {number} cents @param {number} on  cents within which it is in its place
 * @returns {{sign: string, figure: string, words: string}}
 */
export function wordsFor(wanted, cents, on) {
  const figure = String(Math.abs(Math.round(cents)));
  if (Math.abs(cents) <= on) return { sign: '●', figure, words: `on ${wanted.tab}` };
  const [lower, higher] = whatHelps(wanted.tab);
  if (cents > 0) return { sign: '▲', figure, words: `cents above ${wanted.tab}: ${lower}` };
  return { sign: '▼', figure, words: `cents below ${wanted.tab}: ${higher}` };
}

/** What brings a note down, and what brings it up; common practice, no published source. @param {string} tab @returns {[string, string]} */
function whatHelps(tab) {
  if (tab.includes("'")) return ['bend a little deeper', 'let it come up a little'];
  if (tab.includes('^')) return ['ease off a little', 'hold it firmer'];
  return ['use less air', 'open up, do not bend it'];
}

export class Ladder {
  /** @param {Element} place  an svg element @param {Reed} reed @param {number} on  cents within which a note is in its place */
  constructor(place, reed, on) {
    this.place = place;
    this.reed = reed;
    this.on = on;
    const low = Math.min(...reed.rungs.map((rung) => rung.hz));
    this.top_hz = Math.max(...reed.rungs.map((rung) => rung.hz));
    this.height = TOP + centsBetween(low, this.top_hz) * PER_CENT + 26;
    /** @type {number[]} */
    this.trail = [];
    /** @type {string | null} */
    this.wanted = null;
    /** @type {Map<string, number>} */
    this.tries = new Map();
    this.#draw();
  }

  /** @param {number} hz */
  y(hz) {
    return TOP + centsBetween(hz, this.top_hz) * PER_CENT;
  }

  #draw() {
    this.place.replaceChildren();
    this.place.setAttribute('viewBox', `0 0 ${WIDTH} ${this.height}`);
    shape('rect', { class: 'neck', x: LEFT + 8, y: 6, width: RIGHT - LEFT - 16, height: this.height - 12, rx: 6 }, this.place);
    /** @type {Map<string, Element[]>} */
    this.lines = new Map();
    for (const rung of this.reed.rungs) {
      const y = this.y(rung.hz);
      const sort = rung.anchor ? 'anchor' : rung.used ? 'used' : 'spare';
      const group = shape('g', { class: `rung ${sort}` }, this.place);
      shape('line', { x1: LEFT, x2: RIGHT, y1: y, y2: y }, group);
      if (rung.anchor) shape('line', { x1: LEFT, x2: RIGHT, y1: y - 5, y2: y - 5, class: 'second' }, group);
      shape('text', { x: LEFT - 8, y: y + 5, class: 'tab' }, group).textContent = rung.tab;
      shape('text', { x: RIGHT + 8, y: y + 5, class: 'name' }, group).textContent = rung.name;
      shape('text', { x: RIGHT + 44, y: y + 5, class: 'degree' }, group).textContent = rung.degree;
      this.lines.set(rung.tab, [group]);
    }
    this.prints = shape('g', { class: 'footprints' }, this.place);
    this.trailLine = shape('polyline', { class: 'trail', points: '' }, this.place);
    this.point = shape('g', { class: 'point', visibility: 'hidden' }, this.place);
    shape('circle', { r: 12 }, this.point);
    this.arrow = shape('path', { d: '' }, this.point);
  }

  /** Mark the rung that is wanted now. @param {string | null} tab */
  want(tab) {
    if (this.wanted === tab) return;
    this.wanted = tab;
    for (const [name, groups] of this.lines ?? []) groups.forEach((group) => group.classList.toggle('wanted', name === tab));
  }

  /** Show a pitch, or that there is none. @param {number} hz @param {number} cents  from what is wanted */
  show(hz, cents) {
    const y = this.y(hz);
    if (Number.isNaN(hz) || y < 4 || y > this.height - 4) {
      this.point?.setAttribute('visibility', 'hidden');
      this.trail = [];
      this.trailLine?.setAttribute('points', '');
      return;
    }
    this.trail = [...this.trail.slice(1 - TRAIL), y];
    const x = (LEFT + RIGHT) / 2 + 28;
    const points = this.trail.map((each, n) => `${(x - (this.trail.length - 1 - n) * 3).toFixed(1)},${each.toFixed(1)}`);
    this.trailLine?.setAttribute('points', points.join(' '));
    this.point?.setAttribute('transform', `translate(${x} ${y.toFixed(1)})`);
    this.point?.setAttribute('visibility', 'visible');
    this.arrow?.setAttribute('d', Math.abs(cents) <= this.on ? 'M-4 0h8' : cents > 0 ? 'M0 -6L6 4H-6Z' : 'M0 6L6 -4H-6Z');
  }

  /** Leave a footprint where a try came to rest, if that is near a rung in use. @param {number} hz */
  rest(hz) {
    const { rung, cents } = nearest(this.reed.rungs, hz);
    if (Math.abs(cents) > NEAR_CENTS || !rung.used) return;
    const number = this.tries.get(rung.tab) ?? 0;
    this.tries.set(rung.tab, number + 1);
    const x = LEFT + 16 + (number % TRIES) * 8;
    shape('line', { x1: x, x2: x + 7, y1: this.y(hz), y2: this.y(hz) }, this.prints);
  }
}
