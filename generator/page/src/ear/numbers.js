/**
 * Small arithmetic that hearing is made of; each function does what NumPy's of that name does,
 * so that a page and `reedmill hear` come to the same figures.
 */

/** @typedef {ArrayLike<number>} Numbers */

/** The constants of one part of the ear; one that is missing is an error and never `undefined`.
 * @param {Record<string, Record<string, any>>} facts  the page's data under `constants`
 * @param {string} part
 * @returns {Record<string, any>}
 */
export function known(facts, part) {
  return new Proxy(facts[part], {
    get(all, name) {
      if (!(name in all)) throw new Error(`the page's data lack the constant ${part}.${String(name)}`);
      return all[/** @type {string} */ (name)];
    },
  });
}

/** The nearest whole number, of two equally near the even one. @param {number} x */
export function evenRound(x) {
  const below = Math.floor(x);
  const part = x - below;
  if (part !== 0.5) return Math.round(x);
  return below % 2 === 0 ? below : below + 1;
}

/** @param {number | null | undefined} x @param {number} places */
export function roundedTo(x, places) {
  if (x === null || x === undefined) return null;
  return Number(x.toFixed(places)) + 0; // no -0
}

/** @param {Numbers} values */
function sorted(values) {
  return Float64Array.from(values).sort();
}

/** The middle one, or the mean of the two in the middle; NaN of nothing. @param {Numbers} values */
export function median(values) {
  const inOrder = sorted(values);
  const half = inOrder.length >> 1;
  return inOrder.length % 2 ? inOrder[half] : (inOrder[half - 1] + inOrder[half]) / 2;
}

/** @param {Numbers} values @param {number} share  0 to 100 */
export function percentile(values, share) {
  const inOrder = sorted(values);
  const at = ((inOrder.length - 1) * share) / 100;
  const low = Math.floor(at);
  const high = Math.min(low + 1, inOrder.length - 1);
  return inOrder[low] + (inOrder[high] - inOrder[low]) * (at - low);
}

/** @param {Numbers} values @param {number} [from] @param {number} [to] */
export function least(values, from = 0, to = values.length) {
  let found = Infinity;
  for (let n = from; n < to; n += 1) found = Math.min(found, values[n]);
  return found;
}

/** @param {Numbers} values @param {number} [from] @param {number} [to] */
export function most(values, from = 0, to = values.length) {
  let found = -Infinity;
  for (let n = from; n < to; n += 1) found = Math.max(found, values[n]);
  return found;
}

/** The first place of the least value that *price* gives. @param {number} from @param {number} to @param {(n: number) => number} price */
export function placeOfLeast(from, to, price) {
  let best = from;
  for (let n = from + 1; n < to; n += 1) if (price(n) < price(best)) best = n;
  return best;
}

/** First and one after last of every stretch that is true. @param {ArrayLike<boolean | number>} mask */
export function runsOf(mask) {
  /** @type {[number, number][]} */
  const found = [];
  let begun = -1;
  for (let n = 0; n <= mask.length; n += 1) {
    const on = n < mask.length && Boolean(mask[n]);
    if (on && begun < 0) begun = n;
    if (!on && begun >= 0) {
      found.push([begun, n]);
      begun = -1;
    }
  }
  return found;
}

/** Where *x* would be put into *inOrder* before what is not smaller. @param {Numbers} inOrder @param {number} x */
export function placeIn(inOrder, x) {
  let low = 0;
  let high = inOrder.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (inOrder[middle] < x) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** @param {number} x @param {number} low @param {number} high */
export function clip(x, low, high) {
  return Math.min(high, Math.max(low, x));
}

/** Cents above 440 Hz. @param {number} hz */
export function centsOf(hz) {
  return 1200 * Math.log2(hz / 440);
}

/** The frequency so many cents above 440 Hz. @param {number} cents */
export function hzOf(cents) {
  return 440 * 2 ** (cents / 1200);
}

/** Cents from one frequency up to another. @param {number} from @param {number} to */
export function centsBetween(from, to) {
  return 1200 * Math.log2(to / from);
}
