/** The fast Fourier transform of a power of two, in place: Cooley and Tukey's of radix 2. */
export class Fourier {
  /** @param {number} size  a power of two */
  constructor(size) {
    this.size = size;
    this.cosines = new Float64Array(size / 2);
    this.sines = new Float64Array(size / 2);
    for (let n = 0; n < size / 2; n += 1) {
      this.cosines[n] = Math.cos((2 * Math.PI * n) / size);
      this.sines[n] = -Math.sin((2 * Math.PI * n) / size);
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
    const { size, cosines, sines } = this;
    for (let half = 1; half < size; half *= 2) {
      const step = size / (2 * half);
      for (let first = 0; first < size; first += 2 * half) {
        for (let n = 0, turn = 0; n < half; n += 1, turn += step) {
          const a = first + n;
          const b = a + half;
          const x = re[b] * cosines[turn] - im[b] * sines[turn];
          const y = re[b] * sines[turn] + im[b] * cosines[turn];
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
      [re[n], re[to]] = [re[to], re[n]];
      [im[n], im[to]] = [im[to], im[n]];
    }
  }
}
