/**
 * The pitch of a live sound: which note a reed gives just now, in hertz.
 *
 * Two looks at the newest sound.  A coarse one, at about 16,000 samples a second, finds which
 * period it has and so the octave.  A fine one at the full rate measures that period over the
 * newest few of them, so that a moving bend is read where it is and not where it was.
 *
 * Both use the normalised square difference function: 1 where a stretch of sound repeats itself
 * exactly after a lag (McLeod and Wyvill, "A smarter way to find pitch", 2005).
 */

const COARSE_RATE = 16_000;
/** The coarse look hears no higher: partials near its half rate would hide peaks between samples. */
const COARSE_HZ = 5_500;
/** Of the highest peak: the first peak this near to it is the period, not a multiple of it. */
const NEARLY_HIGHEST = 0.92;
/** Periods of the longest lag that the coarse look compares. */
const COARSE_PERIODS = 2.2;
/** Periods the fine look measures over: more are steadier, fewer follow a bend. */
const FINE_PERIODS = 4;
const FINE_LEAST_S = 0.012;
/** Readings under this clarity are not a pitch but noise, breath, two reeds at once. */
const CLEAR = 0.8;

/**
 * @typedef {object} Reading
 * @property {number} hz  NaN where there is no pitch
 * @property {number} clarity  0 to 1, of the fine look
 * @property {number} level  the root of the mean square of the newest sound, 1 is full scale
 * @property {number} ago_s  how long before the newest sample the reading holds
 */

/** A low-pass at COARSE_HZ, a windowed sinc of eight turns on each side, for sound at *rate*.
 * @param {number} rate
 */
function lowPass(rate) {
  const half = Math.round((4 * rate) / COARSE_HZ);
  const taps = new Float64Array(2 * half + 1);
  let sum = 0;
  for (let n = -half; n <= half; n += 1) {
    const x = (2 * COARSE_HZ * n) / rate;
    const sinc = n === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
    const window = 0.5 + 0.5 * Math.cos((Math.PI * n) / (half + 1));
    taps[n + half] = sinc * window;
    sum += sinc * window;
  }
  return taps.map((tap) => tap / sum);
}

/** Listens to blocks of sound and reads the pitch of the newest. */
export class PitchDetector {
  /**
   * @param {number} rate  samples a second
   * @param {{lowestHz?: number, highestHz?: number}} [bounds]  of the notes that may come
   */
  constructor(rate, { lowestHz = 70, highestHz = 3200 } = {}) {
    this.rate = rate;
    this.factor = Math.max(1, Math.floor(rate / COARSE_RATE));
    this.coarseRate = rate / this.factor;
    this.taps = lowPass(rate);
    this.longest = Math.ceil(this.coarseRate / lowestHz) + 1;
    this.shortest = Math.max(2, Math.floor(this.coarseRate / highestHz) - 1);
    this.coarseSize = Math.ceil(COARSE_PERIODS * this.longest);
    const coarseSpan = this.coarseSize * this.factor + this.taps.length;
    const fineSpan = Math.ceil((FINE_PERIODS + 2) * (rate / lowestHz)) + 4;
    this.size = Math.max(coarseSpan, fineSpan);
    this.sound = new Float32Array(this.size);
    this.coarse = new Float64Array(this.coarseSize);
    this.likeness = new Float64Array(this.longest + 2);
    this.heard = 0;
    /** @type {number[]} */
    this.newest = [];
  }

  /** Take in the next block of mono sound. @param {Float32Array} block */
  push(block) {
    const part = block.length > this.size ? block.subarray(block.length - this.size) : block;
    this.sound.copyWithin(0, part.length);
    this.sound.set(part, this.size - part.length);
    this.heard += block.length;
  }

  /** The pitch of the newest sound, the median of this reading and the two before it.
   * @returns {Reading}
   */
  read() {
    const level = this.#level();
    const lag = this.heard < this.size || level < 1e-5 ? NaN : this.#coarsePeriod();
    const fine = Number.isNaN(lag) ? { period: NaN, clarity: 0, span: 0 } : this.#finePeriod(lag);
    const hz = fine.clarity >= CLEAR ? this.rate / fine.period : NaN;
    this.newest = [...this.newest.slice(-2), hz];
    return { hz: this.#middle(), clarity: fine.clarity, level, ago_s: fine.span / 2 / this.rate };
  }

  #middle() {
    const now = this.newest.at(-1) ?? NaN;
    if (this.newest.length < 3 || this.newest.some(Number.isNaN)) return now;
    return [...this.newest].sort((a, b) => a - b)[1];
  }

  #level() {
    const count = Math.min(this.size, Math.round(0.03 * this.rate));
    let sum = 0;
    for (let n = this.size - count; n < this.size; n += 1) sum += this.sound[n] ** 2;
    return Math.sqrt(sum / count);
  }

  #thinOut() {
    const { taps, factor, sound, coarse } = this;
    for (let n = 0; n < this.coarseSize; n += 1) {
      const end = this.size - (this.coarseSize - 1 - n) * factor;
      let sum = 0;
      for (let k = 0; k < taps.length; k += 1) sum += taps[k] * sound[end - taps.length + k];
      coarse[n] = sum;
    }
  }

  /** The period in samples of the full rate, to the nearest coarse sample; NaN for none. */
  #coarsePeriod() {
    this.#thinOut();
    const { coarse, likeness, longest, shortest, coarseSize } = this;
    const width = coarseSize - longest - 1;
    let highest = 0;
    for (let lag = shortest - 1; lag <= longest; lag += 1) {
      // The stretch that is compared ends with the newest sample, at every lag.
      likeness[lag] = likenessAt(coarse, coarseSize - width - lag, width, lag);
    }
    const peaks = [];
    for (let lag = shortest; lag < longest; lag += 1) {
      const [a, b, c] = [likeness[lag - 1], likeness[lag], likeness[lag + 1]];
      if (b > 0 && b > a && b >= c) {
        const top = topOf(a, b, c);
        peaks.push([lag + top.beside, top.height]);
        highest = Math.max(highest, top.height);
      }
    }
    if (highest < 0.5) return NaN;
    const peak = peaks.find(([, height]) => height >= NEARLY_HIGHEST * highest);
    return peak === undefined ? NaN : peak[0] * this.factor;
  }

  /** The period near *lag*, measured over several, and how clear it is.
   * @param {number} lag  samples of the full rate
   */
  #finePeriod(lag) {
    const most = Math.floor((this.size - 4) / lag) - 1;
    const times = Math.max(1, Math.min(most, Math.max(FINE_PERIODS - 2, Math.ceil((FINE_LEAST_S * this.rate) / lag) - 2)));
    let period = lag;
    let clarity = 0;
    let span = 0;
    // First over one period, then over more: the error of the first look shrinks with each.
    for (const count of [...new Set([1, Math.ceil(times / 2), times])]) {
      const width = Math.ceil(2 * period);
      const found = this.#topNear(period * count, width, count === 1 ? this.factor + 1 : 2);
      if (found.height < CLEAR && count > 1) break;
      period = found.lag / count;
      clarity = count === 1 ? found.height : Math.min(clarity, found.height);
      span = width + found.lag;
      if (clarity < CLEAR) break;
    }
    return { period, clarity, span };
  }

  /** The highest likeness within *reach* samples of *lag*, between samples.
   * @param {number} lag @param {number} width @param {number} reach
   */
  #topNear(lag, width, reach) {
    const middle = Math.round(lag);
    const values = [];
    for (let at = middle - reach - 1; at <= middle + reach + 1; at += 1) {
      values.push(at < 1 ? 0 : likenessAt(this.sound, this.size - width - at, width, at));
    }
    let best = 1;
    for (let n = 1; n < values.length - 1; n += 1) if (values[n] > values[best]) best = n;
    const top = topOf(values[best - 1], values[best], values[best + 1]);
    return { lag: middle - reach - 1 + best + top.beside, height: top.height };
  }
}

/** How alike two stretches of *width* samples are, one *lag* after the other; 1 for the same.
 * @param {Float32Array | Float64Array} sound @param {number} from @param {number} width @param {number} lag
 */
function likenessAt(sound, from, width, lag) {
  let product = 0;
  let power = 0;
  for (let n = from; n < from + width; n += 1) {
    const a = sound[n];
    const b = sound[n + lag];
    product += a * b;
    power += a * a + b * b;
  }
  return power > 0 ? (2 * product) / power : 0;
}

/** The top of a parabola through three values one apart. @param {number} a @param {number} b @param {number} c */
function topOf(a, b, c) {
  const bend = a - 2 * b + c;
  const beside = bend < 0 ? Math.max(-1, Math.min(1, (0.5 * (a - c)) / bend)) : 0;
  return { beside, height: b - 0.25 * (a - c) * beside };
}
