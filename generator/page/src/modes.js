/**
 * What the page shows of the live sound: the drill's ladders, one note, one note held long, or the
 * map of the harp.
 */

import { at, control, setText } from './dom.js';
import { centsOf, hzOf, known } from './ear/numbers.js';
import { Ladder } from './ladder.js';
import { HarpMap, holeOf } from './take/harp_map.js';
import { HeldNote } from './take/steadiness.js';

/** @typedef {'drill' | 'note' | 'held' | 'map'} Mode */
/** @typedef {import('./ear/tuning.js').EarReed} EarReed */
/** @typedef {{tab: string, hz: number, name: string, degree: string}} HarpNote */

export class Modes {
  /** @param {import('./ear/hear.js').EarFacts} ear @param {HarpNote[]} harp */
  constructor({ reeds, constants, tolerance }, harp) {
    this.reeds = reeds;
    this.harp = harp;
    this.on = tolerance.on;
    this.select = /** @type {HTMLSelectElement} */ (control('mode'));
    this.choice = /** @type {HTMLSelectElement} */ (control('chosen'));
    this.map = new HarpMap(at('harp-map'), reeds, known(constants, 'judge').NEAR_REED_CENTS);
    this.held = new HeldNote();
    /** @type {Ladder | null} */
    this.ladder = null;
    for (const reed of reeds) this.choice.add(new Option(`${reed.words} (${reed.tab})`, reed.tab));
    this.select.addEventListener('change', () => this.#change());
    this.choice.addEventListener('change', () => this.#change());
  }

  /** @returns {Mode} */
  get mode() {
    return /** @type {Mode} */ (this.select.value);
  }

  /** Begin with this note. @param {string} tab */
  choose(tab) {
    this.choice.value = tab;
    this.#change();
  }

  /** The note that is wanted whatever the drill says; null in the drill and on the map. */
  get wanted() {
    if (this.mode !== 'note' && this.mode !== 'held') return null;
    const reed = /** @type {EarReed} */ (this.reeds.find((each) => each.tab === this.choice.value));
    return { tab: reed.tab, hz: hzOf(reed.cents) };
  }

  /** Show a pitch, or that there is none. @param {number} hz @param {number} cents  from what is wanted @param {number} at_s */
  reading(hz, cents, at_s) {
    const { mode } = this;
    if (mode === 'drill') return;
    if (mode === 'map') {
      setText(at('mode-words'), this.map.show(centsOf(hz)));
      return;
    }
    this.ladder?.show(hz, cents);
    if (mode !== 'held') return;
    this.held.take(cents, at_s);
    setText(at('mode-words'), this.held.words);
  }

  /** A try came to rest. @param {number} hz */
  rest(hz) {
    this.ladder?.rest(hz);
  }

  #change() {
    const { mode } = this;
    const one = mode === 'note' || mode === 'held';
    at('chosen').hidden = !one;
    at('chosen-figure').hidden = !one;
    at('harp-map').hidden = mode !== 'map';
    at('mode-words').hidden = mode === 'drill' || mode === 'note';
    document.querySelector('.ladders')?.classList.toggle('other-mode', mode !== 'drill');
    setText(at('mode-words'), mode === 'map' ? 'Play any note: the holes that have it are marked.' : '');
    this.held = new HeldNote();
    this.map.show(NaN);
    this.ladder = one ? this.#chosenLadder() : null;
  }

  /** The ladder of the chosen note's hole and breath. */
  #chosenLadder() {
    const tab = this.choice.value;
    const { hole, draw } = holeOf(tab);
    const there = this.reeds.filter((reed) => holeOf(reed.tab).hole === hole && holeOf(reed.tab).draw === draw);
    const words = `hole ${hole} ${draw ? 'draw' : 'blow'}`;
    const rungs = there.sort((a, b) => b.cents - a.cents).map((reed) => ({ tab: reed.tab, hz: hzOf(reed.cents), used: true, anchor: false, ...this.#named(reed) }));
    setText(at('chosen-words'), words[0].toUpperCase() + words.slice(1));
    at('ladder-chosen').setAttribute('aria-label', `Pitch ladder of ${words}`);
    const ladder = new Ladder(at('ladder-chosen'), { words, rungs }, this.on);
    ladder.want(tab);
    return ladder;
  }

  /** @param {EarReed} reed */
  #named(reed) {
    const same = this.harp.find((each) => Math.abs(centsOf(each.hz) - reed.cents) < 50);
    return { name: same?.name ?? '', degree: same?.degree ?? '' };
  }
}
