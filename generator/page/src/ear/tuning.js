/** How the harp itself is tuned, told apart from what its player does. */

import { known } from './numbers.js';

/** @typedef {{tab: string, words: string, kind: string, bends: boolean, cents: number}} EarReed */

/**
 * How many cents the harp lies over its nominal pitch; null where nothing tells.
 *
 * A reed that cannot bend down says most, for no player can move it far; an anchor played twenty
 * times is still one reed.  The answer is the middle of the reeds, each by its own middle.
 * @param {Record<string, Record<string, any>>} constants
 * @param {[EarReed, number][]} naturals  reeds with how far they were from their targets
 */
export function harpCents(constants, naturals) {
  const { MOST_HARP_CENTS, NEAR_CENTS } = known(constants, 'harp_tuning');
  /** @type {Map<EarReed, number[]>} */
  const heard = new Map();
  for (const [reed, cents] of naturals) {
    if (reed.kind !== 'natural' || Math.abs(cents) > MOST_HARP_CENTS + 15) continue;
    heard.set(reed, [...(heard.get(reed) ?? []), cents]);
  }
  if (heard.size === 0) return null;
  const values = [...heard.values()].map((each) => middleOf(each, each.map(() => 1), NEAR_CENTS));
  const weights = [...heard].map(([reed, each]) => Math.sqrt(each.length) * (reed.bends ? 1 : 2));
  return middleOf(values, weights, NEAR_CENTS);
}

/** The mean of what lies near the median: one far out has no say, the others all do.
 * @param {number[]} values @param {number[]} weights @param {number} near
 */
function middleOf(values, weights, near) {
  let place = weightedMedian(values, weights);
  for (let turn = 0; turn < 5; turn += 1) {
    const say = values.map((each, n) => weights[n] * Math.exp(-0.5 * ((each - place) / near) ** 2));
    const all = say.reduce((sum, each) => sum + each, 0);
    place = say.reduce((sum, each, n) => sum + each * values[n], 0) / all;
  }
  return place;
}

/** The value with half of the weight on either side, between two where it lies between.
 * @param {number[]} values @param {number[]} weights
 */
export function weightedMedian(values, weights) {
  const order = [...values.keys()].sort((a, b) => values[a] - values[b] || weights[a] - weights[b]);
  const all = weights.reduce((sum, each) => sum + each, 0);
  let gone = 0;
  const centres = order.map((n) => {
    gone += weights[n];
    return (gone - weights[n] / 2) / all;
  });
  const after = centres.findIndex((centre) => centre >= 0.5);
  if (after < 0) return values[order[order.length - 1]];
  if (after === 0) return values[order[0]];
  const [a, b] = [values[order[after - 1]], values[order[after]]];
  return a + ((b - a) * (0.5 - centres[after - 1])) / (centres[after] - centres[after - 1]);
}
