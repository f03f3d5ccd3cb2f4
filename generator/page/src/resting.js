/**
 * Where a try comes to rest: the pitch that is kept for a while before it moves on or ends.
 */

import { centsOf, hzOf } from './ear/numbers.js';

const LEAST_S = 0.3;
const SPREAD_CENTS = 18;
/** A breath takes longer; a microphone that stutters, or a click over the note, does not. */
const GAP_S = 0.15;

export class RestingPlace {
  /** @param {(hz: number) => void} found  called once for each place that was kept, when it is left */
  constructor(found) {
    this.found = found;
    /** @type {{cents: number, at_s: number}[]} */
    this.kept = [];
  }

  /** The next reading; NaN for none. @param {number} hz @param {number} at_s */
  take(hz, at_s) {
    const last_s = this.kept[this.kept.length - 1]?.at_s ?? -Infinity;
    if (at_s - last_s > GAP_S) this.#leave();
    if (Number.isNaN(hz)) return;
    const cents = centsOf(hz);
    if (this.kept.length > 0 && Math.abs(cents - this.#middle()) > SPREAD_CENTS) this.#leave();
    this.kept.push({ cents, at_s });
  }

  #leave() {
    const { kept } = this;
    if (kept.length > 2 && kept[kept.length - 1].at_s - kept[0].at_s >= LEAST_S) this.found(hzOf(this.#middle()));
    this.kept = [];
  }

  #middle() {
    const sorted = this.kept.map((each) => each.cents).sort((a, b) => a - b);
    return sorted[sorted.length >> 1] ?? NaN;
  }
}
