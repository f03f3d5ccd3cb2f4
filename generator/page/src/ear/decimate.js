/**
 * Sound at any rate brought to the ear's own, in steps of 16 bits as a take from a file has it.
 *
 * A windowed sinc for each of the places that a sample of the new rate may have between two of
 * the old: 441 samples of a CD make 160 here.
 */

const ZEROS = 16; // of the sinc, on each side
const PASSED = 0.97; // of half the lower rate
const BETA = 9; // of Kaiser's window: what is folded down lies 90 dB below

/** @param {number} a @param {number} b @returns {number} */
const common = (a, b) => (b === 0 ? a : common(b, a % b));

export class Decimator {
  /** @param {number} from  samples a second @param {number} to */
  constructor(from, to) {
    const both = common(from, to);
    this.up = to / both;
    this.down = from / both;
    const lower = Math.min(from, to);
    this.half = Math.ceil((ZEROS * from) / (PASSED * lower));
    /** Cycles a sample of the old rate. */
    this.cut = (0.5 * PASSED * lower) / from;
    this.phases = Array.from({ length: this.up }, (_, n) => this.#taps(n / this.up));
  }

  /** The taps for a place that lies *beside* a sample, 0 to 1. @param {number} beside */
  #taps(beside) {
    const taps = new Float64Array(2 * this.half);
    let sum = 0;
    for (let n = 0; n < taps.length; n += 1) {
      const x = n - this.half + 1 - beside;
      const turn = 2 * Math.PI * this.cut * x;
      const window = bessel(BETA * Math.sqrt(Math.max(0, 1 - (x / this.half) ** 2)));
      taps[n] = (x === 0 ? 1 : Math.sin(turn) / turn) * window;
      sum += taps[n];
    }
    return taps.map((tap) => tap / sum);
  }

  /** How many samples come of so many. @param {number} count */
  length(count) {
    return Math.ceil((count * this.up) / this.down);
  }

  /** The samples of the new rate from number *first* to *last*.
   * @param {Float32Array} sound  at the old rate @param {number} first @param {number} last
   */
  part(sound, first, last) {
    const out = new Float32Array(last - first);
    for (let n = first; n < last; n += 1) {
      const at = n * this.down;
      const whole = Math.floor(at / this.up);
      const taps = this.phases[at % this.up];
      const begin = whole - this.half + 1;
      const from = Math.max(0, -begin);
      const to = Math.min(taps.length, sound.length - begin);
      let sum = 0;
      for (let k = from; k < to; k += 1) sum += taps[k] * sound[begin + k];
      out[n - first] = steps(sum);
    }
    return out;
  }
}

/** The modified Bessel function of order 0, by its series. @param {number} x */
function bessel(x) {
  let [sum, term] = [1, 1];
  for (let n = 1; term > 1e-12 * sum; n += 1) {
    term *= (x / (2 * n)) ** 2;
    sum += term;
  }
  return sum;
}

/** A sample as one of 16 bits holds it, -1 to 1. @param {number} x */
function steps(x) {
  return Math.round(32767 * Math.max(-1, Math.min(1, x))) / 32768;
}
