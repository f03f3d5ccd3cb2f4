/** The fast Fourier transform of a power of two, in place: Cooley and Tukey's of radix 2, its first
 * two rounds, which turn nothing but by right angles, taken as one.
 */
export class Fourier {
  /** @param {number} size  a power of two, 8 or more */
  constructor(size) {
    this.size = size;
    /** What each later round turns by, in the order in which it is asked for. */
    this.rounds = [];
    for (let half = 4; half < size; half *= 2) {
      const turns = Array.from({ length: half }, (_, n) => (Math.PI * n) / half);
      this.rounds.push({ cosines: Float64Array.from(turns, Math.cos), sines: Float64Array.from(turns, (turn) => -Math.sin(turn)) });
    }
    this.places = new Uint32Array(size);
    const bits = Math.log2(size);
    for (let n = 0; n < size; n += 1) {
      let turned = 0;
      for (let bit = 0; bit < bits; bit += 1) turned |= ((n >> bit) & 1) << (bits - 1 - bit);
      this.places[n] = turned;
    }
  }

  /** @param {Float64Array} re @param {Float64Array} im */
  transform(re, im) {
    this.#reorder(re, im);
    this.#firstTwoRounds(re, im);
    for (const { cosines, sines } of this.rounds) {
      const half = cosines.length;
      for (let first = 0; first < this.size; first += 2 * half) {
        for (let n = 0, a = first, b = first + half; n < half; n += 1, a += 1, b += 1) {
          const x = re[b] * cosines[n] - im[b] * sines[n];
          const y = re[b] * sines[n] + im[b] * cosines[n];
          re[b] = re[a] - x;
          im[b] = im[a] - y;
          re[a] += x;
          im[a] += y;
        }
      }
    }
  }

  /** @param {Float64Array} re @param {Float64Array} im */
  #reorder(re, im) {
    for (let n = 0; n < this.size; n += 1) {
      const to = this.places[n];
      if (to <= n) continue;
      const [x, y] = [re[n], im[n]];
      re[n] = re[to];
      im[n] = im[to];
      re[to] = x;
      im[to] = y;
    }
  }

  /** @param {Float64Array} re @param {Float64Array} im */
  #firstTwoRounds(re, im) {
    for (let n = 0; n < this.size; n += 4) {
      const [ar, ai, br, bi] = [re[n] + re[n + 1], im[n] + im[n + 1], re[n] - re[n + 1], im[n] - im[n + 1]];
      const [cr, ci, dr, di] = [re[n + 2] + re[n + 3], im[n + 2] + im[n + 3], re[n + 2] - re[n + 3], im[n + 2] - im[n + 3]];
      re[n] = ar + cr;
      im[n] = ai + ci;
      re[n + 2] = ar - cr;
      im[n + 2] = ai - ci;
      re[n + 1] = br + di;
      im[n + 1] = bi - dr;
      re[n + 3] = br - di;
      im[n + 3] = bi + dr;
    }
  }
}
