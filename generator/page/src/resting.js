/**
 * Where a try comes to rest: the pitch that is kept for a while before it moves on or ends.
 */

const LEAST_S = 0.3;
const SPREAD_CENTS = 18;

export class RestingPlace {
  /** @param {(hz: number) => void} found  called once for each place that was kept, when it is left */
  constructor(found) {
    this.found = found;
    /** @type {{cents: number, at_s: number}[]} */
    this.kept = [];
  }

  /** The next reading; NaN for none. @param {number} hz @param {number} at_s */
  take(hz, at_s) {
    const cents = 1200 * Math.log2(hz / 440);
    const middle = this.#middle();
    if (!Number.isNaN(hz) && (this.kept.length === 0 || Math.abs(cents - middle) <= SPREAD_CENTS)) {
      this.kept.push({ cents, at_s });
      return;
    }
    if (this.kept.length > 2 && this.kept[this.kept.length - 1].at_s - this.kept[0].at_s >= LEAST_S) {
      this.found(440 * 2 ** (middle / 1200));
    }
    this.kept = Number.isNaN(hz) ? [] : [{ cents, at_s }];
  }

  #middle() {
    const sorted = this.kept.map((each) => each.cents).sort((a, b) => a - b);
    return sorted[sorted.length >> 1] ?? NaN;
  }
}
