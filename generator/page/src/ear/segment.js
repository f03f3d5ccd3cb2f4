/**
 * What is heard in a track: each stay on one pitch, where it begins, and how it got there.
 *
 * The track is cut where the air begins anew (the loudness rises and stays up) and where the
 * pitch moves to another place; what lies between two cuts and keeps its pitch is an event.
 */

import { centsOf, clip, evenRound, known, least, median, most, percentile, placeOfLeast, runsOf } from './numbers.js';

/** @typedef {import('./track.js').PitchTrack} PitchTrack */

/**
 * @typedef {object} DetectedNote  one stay on a pitch; times in seconds of the take
 * @property {number} start_s  where its attack is, or where a slide to it has come half way
 * @property {number} steady_s  from where the pitch keeps its place
 * @property {number} end_s
 * @property {number} hz  of the steady part
 * @property {number} cents  above 440 Hz
 * @property {number} spread_cents
 * @property {number} level_db
 * @property {number} clarity
 * @property {boolean} slid  the breath went on from the event before
 * @property {number} moving_s  seconds of a slide to it
 * @property {boolean} steady
 * @property {boolean} doubtful  without what was wanted it would be another note of the harp
 */

/** @typedef {{start_s: number, end_s: number, slid: boolean, moving_s: number}} Passage  a stretch of a breath in which there may be a slow slide */
/** @typedef {{player_db: number, background_db: number, least_db: number, quiet: boolean}} Gate */

/** @param {Record<string, Record<string, any>>} constants */
export function segmenter(constants) {
  const k = known(constants, 'events');
  const { HOP_S, CLEAR, RISE_DB, AGAIN_S, MOVED_CENTS, MOVED_STEADY_CENTS, STILL_CENTS, SIDE, EDGE, LEAST, STAYING } = k;

  /** How loud a sound must be to be the player's: nearer to his level where something else sounds too.
   * @param {PitchTrack} track @returns {Gate}
   */
  function gateOf({ level_db, clarity }) {
    const tonal = level_db.filter((_, n) => clarity[n] >= 0.8);
    const player_db = tonal.length >= 10 ? percentile(tonal, 90) : Math.max(-120, most(level_db));
    const background_db = percentile(level_db, 4);
    const quiet = background_db < player_db + k.QUIET_DB;
    const over = player_db + k.RANGE_DB[quiet ? 0 : 1];
    return { player_db, background_db, quiet, least_db: quiet ? Math.max(over, background_db + 4) : over };
  }

  /** The events of *track* in time order.
   * @param {PitchTrack} track @param {Gate} gate
   * @param {number[][]} [slides]  slow ones that may be in it: the cents they go from and to
   * @param {boolean} [falls]  are written: a note ends before it
   * @returns {DetectedNote[]}
   */
  function findEvents(track, gate, slides = [], falls = false) {
    const voiced = Array.from(track.clarity, (clear, n) => clear >= CLEAR && track.level_db[n] >= gate.least_db);
    const attacks = findAttacks(track.loudness_db);
    const cents = track.hz.map(centsOf);
    const found = runsOf(bridged(voiced))
      .flatMap(([first, last]) => breaths(track, cents, first, last, attacks, slides, falls));
    const doubtful = doubtfulReadings(track, cents, gate);
    return found.map((each) => ({ ...each, doubtful: mostly(doubtful, each) }));
  }

  /**
   * The stays of an event that goes along a slow slide, in which the pitch never moves faster than a
   * player wavers: only who knows that one is written can tell it from a note that drifts.
   * @param {PitchTrack} track @param {Float64Array} cents @param {Passage} event @param {number[][]} slides @returns {DetectedNote[]}
   */
  function slowParts(track, cents, event, slides) {
    const [first, last] = [evenRound(event.start_s / HOP_S) + EDGE, evenRound(event.end_s / HOP_S) - EDGE];
    if (slides.length === 0 || last - first < 3 * STAYING) return [];
    const pitch = smoothed(filled(cents.subarray(first, last)));
    const [begins, ends] = [median(pitch.subarray(0, STAYING)), median(pitch.subarray(-STAYING))];
    for (const levels of slides) {
      const moved = begins - levels[0];
      const there = levels.map((each) => each + moved);
      const goal = there.length - 1;
      if (Math.abs(ends - there[goal]) <= k.MOST_OUT_CENTS) there[goal] = ends;
      const ways = Math.abs(moved) <= k.MOST_MOVED_CENTS ? waysOf(pitch, there) : null;
      const parts = ways === null ? [] : partsOf(track, cents, event, pitch, first, ways);
      if (parts.length > 0) return parts;
    }
    return [];
  }

  /** When *pitch* leaves each of *levels*, is half way to the next and arrives there; null where it does not get to all. @param {Float64Array} pitch @param {number[]} levels */
  function waysOf(pitch, levels) {
    const found = [];
    let at = 0;
    for (let n = 1; n < levels.length; n += 1) {
      const [here, there] = [levels[n - 1], levels[n]];
      if (Math.abs(there - here) < MOVED_STEADY_CENTS) return null;
      const share = Array.from(pitch.subarray(at), (each) => (each - here) / (there - here));
      const arrived = share.findIndex((each) => each >= 1 - k.ENDS_OF_WAY);
      if (arrived < 0) return null;
      const before = share.slice(0, arrived);
      const left = before.findLastIndex((each) => each <= k.ENDS_OF_WAY);
      if (left < 0) return null;
      found.push([at + left + 1, at + before.findLastIndex((each) => each <= 0.5) + 1, at + arrived]);
      at += arrived;
    }
    return found;
  }

  /** The stays of *event* before, between and after *ways*; none where one is brief.
   * @param {PitchTrack} track @param {Float64Array} cents @param {Passage} event @param {Float64Array} pitch @param {number} first @param {number[][]} ways
   */
  function partsOf(track, cents, event, pitch, first, ways) {
    const bounds = [[0, 0, 0], ...ways, [pitch.length, 0, 0]];
    const parts = [];
    for (let n = 0; n <= ways.length; n += 1) {
      const [a, b, slid] = [bounds[n][2], bounds[n + 1][0], event.slid || n > 0];
      const away = (a + b) >> 1; // nearer to a slide a player may already be on his way
      const part = stay(track, cents, pitch, first, a, b, slid) ?? stay(track, cents, pitch, first, n > 0 ? away : a, n > 0 ? b : away, slid);
      if (part === null) return [];
      const [from, half, to] = bounds[n];
      if (n > 0) Object.assign(part, { start_s: (first + half) * HOP_S, moving_s: ((to - from) * HOP_S) / k.INNER_WAY });
      else Object.assign(part, { start_s: event.start_s, moving_s: event.moving_s });
      part.end_s = n < ways.length ? (first + ways[n][1]) * HOP_S : event.end_s;
      parts.push(part);
    }
    return parts;
  }

  /** Where only what was wanted decided; what sounds between the notes too is a drone's.
   * @param {PitchTrack} track @param {Float64Array} cents @param {Gate} gate
   */
  function doubtfulReadings(track, cents, gate) {
    const rival = track.rival_hz.map(centsOf);
    const beside = cents.filter((_, n) => track.level_db[n] < gate.least_db && track.clarity[n] >= CLEAR);
    const doubtful = Array.from(rival, (each) => !Number.isNaN(each));
    for (const place of new Set(Array.from(beside, (each) => evenRound(each / 50) * 50))) {
      const near = beside.filter((each) => Math.abs(each - place) <= 50);
      if (near.length < Math.max(k.LEAST_BESIDE, k.OFTEN_BESIDE * beside.length)) continue;
      const middle = median(near);
      rival.forEach((each, n) => {
        if (Math.abs(each - middle) <= MOVED_CENTS) doubtful[n] = false;
      });
    }
    return doubtful;
  }

  /** @param {boolean[]} readings @param {DetectedNote} event */
  function mostly(readings, event) {
    const inside = readings.slice(evenRound(event.steady_s / HOP_S), evenRound(event.end_s / HOP_S));
    return inside.length > 0 && inside.filter(Boolean).length > 0.5 * inside.length;
  }

  /** Seconds at which the loudness rises within some 40 ms and stays up. @param {Float64Array} loud */
  function findAttacks(loud) {
    if (loud.length < 40) return [];
    const end = loud.length - 1;
    const at = (/** @type {number} */ n) => loud[clip(n, 0, end)];
    const rising = Array.from(loud, (_, n) => {
      let [before, after] = [Infinity, Infinity];
      for (let m = n - 8; m <= n; m += 1) before = Math.min(before, at(m));
      for (let m = n + 3; m <= n + 10; m += 1) after = Math.min(after, at(m));
      return after - before >= RISE_DB;
    });
    /** @type {number[]} */
    const times = [];
    for (const [first, last] of runsOf(rising)) {
      const at_s = (attackAt(loud, first, last) * HOP_S) / 2;
      if (times.length === 0 || at_s - times[times.length - 1] >= AGAIN_S) times.push(at_s);
    }
    return times;
  }

  /** Where in a rise between two places the sound begins. @param {Float64Array} loud @param {number} first @param {number} last */
  function attackAt(loud, first, last) {
    const low = placeOfLeast(Math.max(0, first - 8), Math.min(last + 1, loud.length), (n) => loud[n]);
    const top = most(loud, low, Math.min(last + 10, loud.length));
    const begun = Math.max(top - 12, loud[low] + 0.35 * (top - loud[low]));
    let at = low;
    while (loud[at] < begun) at += 1;
    return at;
  }

  /** Gaps of two readings closed, which a click makes. @param {boolean[]} voiced */
  function bridged(voiced) {
    const filled = [...voiced];
    for (const [first, last] of runsOf(voiced.map((each) => !each))) if (last - first <= 2) filled.fill(true, first, last);
    return filled;
  }

  /** The events of one voiced run, cut at its attacks.
   * @param {PitchTrack} track @param {Float64Array} cents @param {number} first @param {number} last @param {number[]} attacks @param {number[][]} slides @param {boolean} falls
   */
  function breaths(track, cents, first, last, attacks, slides, falls) {
    const inside = attacks.filter((at) => at > (first - 6) * HOP_S && at < (last - 5) * HOP_S);
    const begin = inside.length > 0 && inside[0] < (first + 8) * HOP_S ? inside[0] : first * HOP_S;
    const bounds = [begin, ...inside.filter((each) => each > begin + 0.06), last * HOP_S];
    return bounds.slice(1).flatMap((end_s, n) => stays(track, cents, bounds[n], falls ? beforeFall(cents, bounds[n], end_s) : end_s, slides))
      .flatMap((each) => {
        const parts = slowParts(track, cents, each, slides);
        return parts.length > 0 ? parts : [each];
      });
  }

  /** When a breath begins to fall off at its end; *end_s* where it does not. @param {Float64Array} cents @param {number} start_s @param {number} end_s */
  function beforeFall(cents, start_s, end_s) {
    const [first, last] = [Math.max(0, evenRound(start_s / HOP_S)), Math.min(cents.length, evenRound(end_s / HOP_S))];
    if (last - first < 2 * STAYING) return end_s;
    const pitch = smoothed(filled(cents.subarray(first, last)));
    const near = pitch.subarray(-SIDE);
    const low = pitch.length - SIDE + near.indexOf(Math.min(...near));
    let at = low;
    while (at >= 3 && pitch[at - 3] - pitch[at] >= k.FALLING_CENTS) at -= 1;
    return pitch[at] - pitch[low] >= k.FALLEN_CENTS && low - at <= k.MOST_FALL ? (first + at) * HOP_S : end_s;
  }

  /** The events of one breath: stays on a pitch, with the ways between them; a stretch that never stays may be a slow slide.
   * @param {PitchTrack} track @param {Float64Array} cents @param {number} start_s @param {number} end_s @param {number[][]} slides
   */
  function stays(track, cents, start_s, end_s, slides) {
    const first = Math.max(0, evenRound(start_s / HOP_S));
    const last = Math.min(cents.length, evenRound(end_s / HOP_S));
    if (last - first < 2 * EDGE + LEAST - 1) return [];
    const pitch = smoothed(filled(cents.subarray(first, last)));
    const bounds = [0, ...cutsOf(pitch), last - first];
    /** @type {DetectedNote[]} */
    const found = [];
    for (let n = 0; n + 1 < bounds.length; n += 1) {
      const one = stay(track, cents, pitch, first, bounds[n], bounds[n + 1], n > 0 && found.length > 0);
      if (one === null) {
        const [any, begin_s] = [found.length > 0, (first + bounds[n]) * HOP_S];
        found.push(...slowParts(track, cents, { start_s: any ? begin_s : start_s, end_s: Math.min((first + bounds[n + 1]) * HOP_S, end_s), slid: any, moving_s: 0 }, slides));
        continue;
      }
      if (found.length === 0) one.start_s = start_s;
      one.end_s = Math.min(one.end_s, end_s);
      found.push(one);
    }
    return merged(found);
  }

  /** Without cuts that part what is one stay: the longer part says what it was. @param {DetectedNote[]} breath */
  function merged(breath) {
    /** @type {DetectedNote[]} */
    const found = [];
    for (const after of breath) {
      const before = found[found.length - 1];
      if (before === undefined || !areOne(before, after)) {
        found.push(after);
        continue;
      }
      const longer = after.end_s - after.steady_s > before.end_s - before.steady_s ? after : before;
      const { start_s, steady_s, slid, moving_s } = before;
      found[found.length - 1] = { ...longer, start_s, steady_s, slid, moving_s, end_s: after.end_s };
    }
    return found;
  }

  /** @param {DetectedNote} before @param {DetectedNote} after */
  function areOne(before, after) {
    const brief = Math.min(before.end_s - before.start_s, after.end_s - after.start_s) < k.BRIEF_S;
    return Math.abs(before.cents - after.cents) < (brief ? MOVED_CENTS * 0.6 : k.SAME_CENTS);
  }

  /** Where in a breath the pitch moves from one place to another. @param {Float64Array} pitch */
  function cutsOf(pitch) {
    const count = pitch.length;
    if (count < 2 * LEAST + 2) return [];
    const sides = stretches(padded(pitch, SIDE), SIDE);
    const before = (/** @type {number} */ n) => sides.middles[n];
    const after = (/** @type {number} */ n) => sides.middles[Math.min(n, count - 1) + SIDE + 1];
    const step = Float64Array.from(pitch, (_, n) => Math.abs(after(n) - before(n)));
    const still = Array.from(pitch, (_, n) => Math.max(sides.spans[n], sides.spans[n + SIDE + 1]) < STILL_CENTS);
    const moved = still.map((each, n) => each && step[n] >= MOVED_STEADY_CENTS);
    // A way of some 50 ms lies between two steady sides, so they are looked for around it too.
    const moving = moved.map((_, n) => step[n] >= MOVED_CENTS || (step[n] >= MOVED_STEADY_CENTS && moved.slice(Math.max(0, n - 2), n + 3).some(Boolean)));
    const cuts = runsOf(moving)
      .flatMap(([first, last]) => cutsIn(pitch, step, before, after, first, last))
      .filter((cut) => cut >= 2 && cut <= count - 2);
    return [...new Set([...cuts, ...slowCuts(pitch, cuts)])].sort((a, b) => a - b);
  }

  /** Cuts in slides so slow that the two sides next to a place are never still: sides a little
   * away from it are compared.  @param {Float64Array} pitch @param {number[]} knownCuts
   */
  function slowCuts(pitch, knownCuts) {
    const reach = SIDE + STAYING;
    const count = pitch.length - 2 * reach + 1;
    if (count <= 0) return [];
    const { middles, spans } = stretches(pitch, STAYING);
    const step = Array.from({ length: count }, (_, n) =>
      spans[n] < STILL_CENTS && spans[n + reach + SIDE] < STILL_CENTS ? middles[n + reach + SIDE] - middles[n] : 0);
    /** @type {number[]} */
    const found = [];
    for (const side of [1, -1]) {
      for (const [first, last] of runsOf(step.map((each) => side * each >= MOVED_STEADY_CENTS))) {
        const middle = (first + last) >> 1;
        const half = 0.5 * (middles[middle] + middles[middle + reach + SIDE]);
        const from = middle + reach - SIDE;
        const cut = placeOfLeast(from, Math.min(from + 2 * SIDE, pitch.length), (n) => Math.abs(pitch[n] - half));
        if ([...knownCuts, ...found].every((each) => Math.abs(cut - each) >= STAYING)) found.push(cut);
      }
    }
    return found;
  }

  /** The steps of one stretch in which the pitch moves: its peaks, each where it is half way.
   * @param {Float64Array} pitch @param {Float64Array} step
   * @param {(n: number) => number} before @param {(n: number) => number} after
   * @param {number} first @param {number} last
   */
  function cutsIn(pitch, step, before, after, first, last) {
    /** @type {number[]} */
    const found = [];
    for (let peak = first; peak < last; peak += 1) {
      if (step[peak] < most(step, Math.max(first, peak - 5), Math.min(peak + 6, step.length))) continue;
      if (found.length > 0 && peak - found[found.length - 1] < LEAST) continue;
      const half = 0.5 * (before(peak) + after(peak));
      const cut = placeOfLeast(Math.max(0, peak - 6), Math.min(pitch.length, peak + 7), (n) => Math.abs(pitch[n] - half));
      if (found.length === 0 || cut - found[found.length - 1] >= LEAST) found.push(cut);
    }
    return found;
  }

  /** The event between two cuts of a breath, if there is one.
   * @param {PitchTrack} track @param {Float64Array} cents @param {Float64Array} pitch
   * @param {number} first @param {number} a @param {number} b @param {boolean} slid
   * @returns {DetectedNote | null}
   */
  function stay(track, cents, pitch, first, a, b, slid) {
    const edge = b - a >= 2 * EDGE + LEAST ? EDGE : 1;
    const values = pitch.subarray(a + edge, Math.max(a + edge, b - edge));
    if (values.length < LEAST) return null;
    const third = Math.floor(values.length / 3);
    const rest = median(values.subarray(third));
    const away = values.map((each) => Math.abs(each - rest));
    const spread = median(away.subarray(third)) * 1.48;
    const bound = clip(2.2 * spread + 6, 10, 40);
    const settled = settledAt(Array.from(away, (each) => each <= bound));
    const [from, to] = [first + a + edge + settled, first + b - edge];
    const readings = cents.subarray(from, to);
    const good = Array.from(readings, (each) => Math.abs(each - rest) <= bound);
    const count = good.filter(Boolean).length;
    if (count < LEAST) return null;
    const centre = centreOf(readings, good);
    const kept = readings.filter((_, n) => good[n]);
    return {
      start_s: (first + a) * HOP_S,
      steady_s: from * HOP_S,
      end_s: (first + b) * HOP_S,
      hz: 440 * 2 ** (centre / 1200),
      cents: centre,
      spread_cents: deviation(kept),
      level_db: median(track.level_db.subarray(from, to)),
      clarity: median(track.clarity.subarray(from, to)),
      slid,
      moving_s: slid ? 2 * Math.max(0, from - (first + a)) * HOP_S : 0,
      steady: spread <= k.MOST_SPREAD && count >= 0.6 * readings.length,
      doubtful: false,
    };
  }

  /** The first reading from which (nearly) all are inside. @param {boolean[]} inside */
  function settledAt(inside) {
    let outside = inside.filter((each) => !each).length;
    for (let place = 0; place < inside.length - LEAST; place += 1) {
      const three = inside[place] && inside[place + 1] && inside[place + 2];
      if (three && outside <= 0.12 * (inside.length - place)) return place;
      if (!inside[place]) outside -= 1;
    }
    return inside.slice(0, Math.max(1, inside.length - LEAST)).lastIndexOf(false) + 1;
  }

  return { gateOf, findEvents };
}

/** *cents* with the readings that are missing taken from their neighbours. @param {Float64Array} cents */
function filled(cents) {
  const there = [...cents.keys()].filter((n) => !Number.isNaN(cents[n]));
  if (there.length === 0) return new Float64Array(cents.length);
  let next = 0;
  return cents.map((each, n) => {
    if (!Number.isNaN(each)) return each;
    while (next < there.length && there[next] < n) next += 1;
    if (next === 0) return cents[there[0]];
    if (next === there.length) return cents[there[next - 1]];
    const [a, b] = [there[next - 1], there[next]];
    return cents[a] + ((cents[b] - cents[a]) * (n - a)) / (b - a);
  });
}

/** *values* with its ends held for *by* more places. @param {Float64Array} values @param {number} by */
function padded(values, by) {
  return Float64Array.from({ length: values.length + 2 * by }, (_, n) => values[clip(n - by, 0, values.length - 1)]);
}

/** The median of seven readings, which keeps steps and drops what a click does. @param {Float64Array} cents */
function smoothed(cents) {
  return stretches(padded(cents, 3), 7).middles;
}

/** The median and the span of every stretch of *width* places. @param {Float64Array} values @param {number} width */
function stretches(values, width) {
  const count = Math.max(0, values.length - width + 1);
  const middles = new Float64Array(count);
  const spans = new Float64Array(count);
  for (let n = 0; n < count; n += 1) {
    const stretch = values.subarray(n, n + width);
    middles[n] = median(stretch);
    spans[n] = most(stretch) - least(stretch);
  }
  return { middles, spans };
}

/** The mean under a Hann window, so that half a turn of vibrato more or less does not count.
 * @param {Float64Array} readings @param {boolean[]} good
 */
function centreOf(readings, good) {
  let [sum, weights] = [0, 0];
  readings.forEach((each, n) => {
    if (!good[n]) return;
    const weight = 0.5 - 0.5 * Math.cos((2 * Math.PI * (n + 1)) / (readings.length + 1));
    sum += weight * each;
    weights += weight;
  });
  return sum / weights;
}

/** @param {Float64Array} values */
function deviation(values) {
  const mean = values.reduce((sum, each) => sum + each, 0) / values.length;
  return Math.sqrt(values.reduce((sum, each) => sum + (each - mean) ** 2, 0) / values.length);
}
