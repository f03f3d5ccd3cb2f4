/**
 * The pitch of a take, a hundred times a second, as `reedmill hear` reads it.
 *
 * The autocorrelation of a windowed stretch, divided by the window's own, is 1 at every period of
 * a periodic sound (Boersma, 1993).  The period is found at its first peak and measured over as
 * many periods as fit.  Where a longer and a shorter period are nearly alike the notes that are
 * wanted decide, and the reading says what it would have been without them.
 */

import { Fourier } from './fourier.js';
import { clip, evenRound, known, placeIn } from './numbers.js';

/**
 * @typedef {object} PitchTrack  arrays of one length, but for the last
 * @property {Float64Array} hz  NaN where there is no period
 * @property {Float64Array} clarity
 * @property {Float64Array} level_db
 * @property {Float64Array} rival_hz
 * @property {Float64Array} loudness_db  twice as often
 */

/** @typedef {{wanted_hz: number[], possible_hz: number[], range_hz: [number, number]}} Expected */

export class Tracker {
  /** @param {Record<string, Record<string, any>>} constants @param {Expected} expected */
  constructor(constants, expected) {
    this.k = known(constants, 'track');
    const { WINDOW, SIZE, FINER, RATE, LONGEST_LAG, FADE_HZ } = this.k;
    const [lowest, most] = expected.range_hz;
    const highest = Math.min(most, 0.45 * RATE);
    this.window = Float64Array.from({ length: WINDOW }, (_, n) => 0.5 - 0.5 * Math.cos((2 * Math.PI * n) / WINDOW));
    this.windowPower = this.window.reduce((sum, each) => sum + each * each, 0);
    this.spectrum = new Fourier(SIZE);
    this.finer = new Fourier(SIZE * FINER);
    this.keep = Float64Array.from({ length: SIZE / 2 + 1 }, (_, n) => {
      const hz = (n * RATE) / SIZE;
      return clip((FADE_HZ[1] - hz) / (FADE_HZ[1] - FADE_HZ[0]), 0, 1) * clip((hz - 0.6 * lowest) / (0.25 * lowest), 0, 1);
    });
    this.lowLag = Math.max(2 * FINER, Math.floor((FINER * RATE) / highest));
    this.highLag = Math.min(LONGEST_LAG - 2, Math.floor((FINER * RATE) / lowest) + 2);
    this.wanted = keys(expected.wanted_hz);
    this.possible = keys(expected.possible_hz);
    this.re = new Float64Array(SIZE * FINER);
    this.im = new Float64Array(SIZE * FINER);
    /** The lags of two readings, worked on at once. */
    this.pair = [new Float64Array(LONGEST_LAG + 2), new Float64Array(LONGEST_LAG + 2)];
    this.powers = [new Float64Array(SIZE / 2 + 1), new Float64Array(SIZE / 2 + 1)];
    this.own = this.#ownLags();
  }

  /** An empty track for so many samples. @param {number} samples @returns {PitchTrack} */
  empty(samples) {
    const count = Math.floor(samples / this.k.HOP) + 1;
    const [hz, clarity, level_db, rival_hz] = Array.from({ length: 4 }, () => new Float64Array(count));
    return { hz, clarity, level_db, rival_hz, loudness_db: new Float64Array(2 * count) };
  }

  /** Fill in the readings from number *first*, an even one, to *last*.
   * @param {PitchTrack} track @param {Float32Array} sound @param {number} first @param {number} last
   */
  fill(track, sound, first, last) {
    for (let n = first; n < last; n += 2) {
      const energies = this.#lagsOfTwo(sound, n);
      for (const which of [0, 1]) {
        if (n + which < last) this.#read(track, n + which, this.pair[which], energies[which]);
      }
    }
    for (let n = first; n < last; n += 1) this.#loudness(track, sound, n);
  }

  /** The window's own autocorrelation, 1 at no lag. */
  #ownLags() {
    const { SIZE } = this.k;
    const re = new Float64Array(SIZE);
    const im = new Float64Array(SIZE);
    re.set(this.window);
    this.spectrum.transform(re, im);
    this.re.fill(0);
    this.im.fill(0);
    for (let n = 0; n <= SIZE / 2; n += 1) this.#even(this.re, n, re[n] ** 2 + im[n] ** 2);
    this.finer.transform(this.re, this.im);
    const own = this.re.slice(0, this.k.LONGEST_LAG + 2);
    return own.map((each) => Math.max(each / own[0], 0.02));
  }

  /** Put *value* into a spectrum that is the same from both ends. @param {Float64Array} into @param {number} n @param {number} value */
  #even(into, n, value) {
    into[n] = value;
    if (n > 0) into[into.length - n] = value;
  }

  /** The lags of readings *n* and *n* + 1 go to `pair`; gives their energies.
   * @param {Float32Array} sound @param {number} n
   */
  #lagsOfTwo(sound, n) {
    const { HOP, WINDOW, SIZE, FINER, LONGEST_LAG } = this.k;
    const { re, im, window, keep } = this;
    const a = re.subarray(0, SIZE);
    const b = im.subarray(0, SIZE);
    a.fill(0);
    b.fill(0);
    const start = n * HOP - WINDOW / 2;
    for (let m = 0; m < WINDOW; m += 1) {
      a[m] = (sound[start + m] ?? 0) * window[m];
      b[m] = (sound[start + HOP + m] ?? 0) * window[m];
    }
    this.spectrum.transform(a, b);
    for (let m = 0; m <= SIZE / 2; m += 1) {
      // Two real sounds in one transform: the even and odd part of each place tell them apart.
      const o = (SIZE - m) % SIZE;
      this.powers[0][m] = 0.25 * ((a[m] + a[o]) ** 2 + (b[m] - b[o]) ** 2) * keep[m];
      this.powers[1][m] = 0.25 * ((b[m] + b[o]) ** 2 + (a[o] - a[m]) ** 2) * keep[m];
    }
    re.fill(0);
    im.fill(0);
    for (let m = 0; m <= SIZE / 2; m += 1) {
      this.#even(re, m, this.powers[0][m]);
      this.#even(im, m, this.powers[1][m]);
    }
    this.finer.transform(re, im);
    const energies = [re[0], im[0]];
    for (let lag = 0; lag < LONGEST_LAG + 2; lag += 1) {
      this.pair[0][lag] = re[lag] / Math.max(energies[0], 1e-9) / this.own[lag];
      this.pair[1][lag] = im[lag] / Math.max(energies[1], 1e-9) / this.own[lag];
    }
    return energies.map((each) => each / (SIZE * FINER));
  }

  /** @param {PitchTrack} track @param {number} n @param {Float64Array} lags @param {number} energy */
  #read(track, n, lags, energy) {
    const { FINER, RATE } = this.k;
    const { period, clarity, rival } = this.#period(lags);
    track.hz[n] = (FINER * RATE) / period;
    track.clarity[n] = clarity;
    track.rival_hz[n] = (FINER * RATE) / rival;
    track.level_db[n] = 10 * Math.log10(Math.max(energy / this.windowPower, 1e-12));
  }

  /** The period in lags, how periodic it is there, and the period of its rival. @param {Float64Array} lags */
  #period(lags) {
    const { ENOUGH, LIKELY, EVEN, MOST_SHARES, ON_THE_HARP, SLIPPED } = this.k;
    let [lag, height] = this.#chosenPeak(lags);
    if (height < ENOUGH) return { period: NaN, clarity: 0, rival: NaN };
    const [longest, tallest] = [lag, height];
    let doubtful = false;
    for (let share = 2; share <= MOST_SHARES; share += 1) {
      const shorter = evenRound(longest / share);
      if (shorter < this.lowLag) break;
      const [at, high] = this.#climbed(lags, shorter);
      if (high < LIKELY * tallest || high < ENOUGH) continue;
      const [here, there] = [this.#strangeness(lag), this.#strangeness(at)];
      if (there < here && here <= ON_THE_HARP) doubtful = true;
      if (there < here || (there === here && high >= EVEN * tallest)) [lag, height] = [at, high];
    }
    const period = this.#overMany(lags, lag);
    if (Math.abs(period / lag - 1) >= SLIPPED) return { period: NaN, clarity: 0, rival: NaN };
    return { period, clarity: height, rival: doubtful ? longest : NaN };
  }

  /** The shortest lag that is (nearly) as high a peak as the highest. @param {Float64Array} lags @returns {[number, number]} */
  #chosenPeak(lags) {
    let best = 0;
    for (let lag = this.lowLag; lag <= this.highLag; lag += 1) best = Math.max(best, peakAt(lags, lag));
    let chosen = this.lowLag;
    while (chosen < this.highLag && peakAt(lags, chosen) < this.k.PLAIN * best) chosen += 1;
    return interpolated(lags, chosen);
  }

  /** The highest place within two lags of *at*, interpolated. @param {Float64Array} lags @param {number} at */
  #climbed(lags, at) {
    let best = -1;
    for (let step = -2; step <= 2; step += 1) {
      const place = clip(at + step, 1, this.k.LONGEST_LAG - 1);
      if (best < 0 || lags[place] > lags[best]) best = place;
    }
    return interpolated(lags, best);
  }

  /** The period measured over as many as fit, by doubling, so that none is miscounted. @param {Float64Array} lags @param {number} lag */
  #overMany(lags, lag) {
    let times = 1;
    let period = lag;
    // In a click the top may lie at no lag at all, which no number of periods would fill.
    while (times < this.k.LONGEST_LAG && period * times * 2 < this.k.LONGEST_LAG - 4) {
      times *= 2;
      period = this.#climbed(lags, evenRound(period * times))[0] / times;
    }
    return period;
  }

  /** 0 for a note that is wanted, 1 for one that the harp has, 2 for any other. @param {number} lag */
  #strangeness(lag) {
    const { FINER, RATE, NEAR } = this.k;
    const key = 12 * Math.log2((FINER * RATE) / lag);
    if (away(key, this.wanted) <= NEAR) return 0;
    return away(key, this.possible) <= NEAR ? 1 : 2;
  }

  /** The level of 15 ms around every half hop, of what is not hum or rumble. @param {PitchTrack} track @param {Float32Array} sound @param {number} n */
  #loudness(track, sound, n) {
    const half = this.k.HOP / 2;
    for (const which of [0, 1]) {
      const start = (2 * n + which) * half - 1.5 * half;
      let power = 0;
      let before = sound[start - 1] ?? 0;
      for (let m = start; m < start + 3 * half; m += 1) {
        const now = sound[m] ?? 0;
        power += (now - 0.9 * before) ** 2;
        before = now;
      }
      track.loudness_db[2 * n + which] = 10 * Math.log10(Math.max(power / (3 * half), 1e-12));
    }
  }
}

/** The height of a peak at *lag*, the top of a parabola through three; 0 where there is none. @param {Float64Array} lags @param {number} lag */
function peakAt(lags, lag) {
  const [below, top, above] = [lags[lag - 1], lags[lag], lags[lag + 1]];
  if (!(top > below && top >= above)) return 0;
  return top + (below - above) ** 2 / (8 * Math.max(2 * top - below - above, 1e-9));
}

/** Place and height of the top of a parabola through three lags. @param {Float64Array} lags @param {number} at @returns {[number, number]} */
function interpolated(lags, at) {
  const [below, top, above] = [lags[at - 1], lags[at], lags[at + 1]];
  const bend = below - 2 * top + above;
  const beside = bend < 0 ? clip((0.5 * (below - above)) / bend, -1, 1) : 0;
  return [at + beside, top - 0.25 * (below - above) * beside];
}

/** Frequencies as semitones above 1 Hz, from low to high. @param {number[]} hz */
function keys(hz) {
  return Float64Array.from(new Set(hz), (each) => 12 * Math.log2(each)).sort();
}

/** Semitones to the nearest one that is known. @param {number} key @param {Float64Array} inOrder */
function away(key, inOrder) {
  const place = clip(placeIn(inOrder, key), 1, Math.max(1, inOrder.length - 1));
  const last = Math.min(place, inOrder.length - 1);
  return Math.min(Math.abs(key - inOrder[place - 1]), Math.abs(key - inOrder[last]));
}
