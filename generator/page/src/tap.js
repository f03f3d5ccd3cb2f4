/** The click: a tap of wood, sample by sample the one of Reedmill's recordings. */

/**
 * @typedef {object} Taps  figures from Reedmill
 * @property {{hz: number, peak: number}} bar  where a bar begins
 * @property {{hz: number, peak: number}} pulse
 * @property {[times: number, level: number, fall_s: number][]} modes  of a struck bar of wood, by its lowest frequency
 * @property {number} attack_s @property {number} length_s
 */

/** The samples of one tap. @param {Taps} taps @param {{hz: number, peak: number}} which @param {number} rate */
export function tapOf({ modes, attack_s, length_s }, { hz, peak }, rate) {
  const burst = Float32Array.from({ length: Math.round(length_s * rate) }, (_, n) => {
    const at = n / rate;
    const struck = modes.reduce((sum, [times, level, fall_s]) => sum + level * Math.exp(-at / fall_s) * Math.sin(2 * Math.PI * hz * times * at), 0);
    return struck * Math.min(1, at / attack_s) * Math.cos(((Math.PI / 2) * at) / length_s);
  });
  const most = burst.reduce((loudest, each) => Math.max(loudest, Math.abs(each)), 0);
  return burst.map((each) => (each * peak) / most);
}

export class Click {
  /** @param {BaseAudioContext} context @param {Taps} taps */
  constructor(context, taps) {
    this.context = context;
    this.bar = this.#held(tapOf(taps, taps.bar, context.sampleRate));
    this.pulse = this.#held(tapOf(taps, taps.pulse, context.sampleRate));
  }

  /** Schedule one tap. @param {AudioNode} into @param {number} at_s  of the sound clock @param {boolean} bar  that it begins */
  tap(into, at_s, bar) {
    const source = this.context.createBufferSource();
    source.buffer = bar ? this.bar : this.pulse;
    source.connect(into);
    source.start(at_s);
  }

  /** @param {Float32Array<ArrayBuffer>} samples */
  #held(samples) {
    const buffer = this.context.createBuffer(1, samples.length, this.context.sampleRate);
    buffer.copyToChannel(samples, 0);
    return buffer;
  }
}
