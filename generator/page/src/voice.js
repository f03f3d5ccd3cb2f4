/**
 * The reed voice of the page: tones made by the browser's own oscillators, from a score.
 *
 * One oscillator sounds one breath.  Its harmonics come as a table from Reedmill (the same as in
 * its recordings, levelled for the highest note of the breath), its pitch follows the slides
 * of the breath in cents, its loudness the same outline.  Made from the score at the moment of
 * playing, the tones are in tune at any tempo; a recording stretched in time is not.
 */

const CURVE_POINTS = 65;

/** The part of a slide's cents covered at *x* of its time: a smooth step. @param {number} x */
export function glideShare(x) {
  return x * x * (3 - 2 * x);
}

/**
 * @typedef {object} Harmonics  a table for tones up to `to_hz`
 * @property {number} to_hz
 * @property {number[]} cosines  amplitudes, the fundamental first
 * @property {number[]} sines
 */

/** @typedef {import('./timeline.js').TimedNote} TimedNote */

/** @typedef {{attack_s: number, release_s: number, gap_s: number, glide_s: number, beside_accents: number}} Manner  the reed voice's own, from Reedmill */

/**
 * Schedule one breath on *context*.
 *
 * @param {BaseAudioContext} context
 * @param {AudioNode} into
 * @param {TimedNote[]} breath
 * @param {object} how
 * @param {PeriodicWave} how.wave
 * @param {Manner} how.manner
 * @param {(beat: number) => number} how.when  seconds of the context's clock at which a beat sounds
 * @param {number} how.amplitude
 */
export function sound(context, into, breath, { wave, manner, when, amplitude }) {
  const start = when(breath[0].start);
  const end = when(breath[breath.length - 1].end);
  const lasts = end - start;
  const oscillator = context.createOscillator();
  oscillator.setPeriodicWave(wave);
  const base = breath[0].hz;
  oscillator.frequency.setValueAtTime(base, start);
  let before = base;
  for (const note of breath.slice(1)) {
    const from = when(note.start);
    const glide = Math.min(manner.glide_s, (when(note.end) - from) / 2);
    oscillator.detune.setValueCurveAtTime(slide(base, before, note.hz), from, glide);
    before = note.hz;
  }
  const gain = context.createGain();
  const gap = Math.min(manner.gap_s, lasts / 8);
  const fall = Math.min(manner.release_s, lasts / 4);
  const rise = Math.min(manner.attack_s, lasts / 8);
  gain.gain.setValueAtTime(0, start);
  gain.gain.setValueCurveAtTime(curve((x) => amplitude * Math.sin((Math.PI / 2) * x)), start, rise);
  gain.gain.setValueCurveAtTime(curve((x) => amplitude * Math.cos((Math.PI / 2) * x) ** 2), end - gap - fall, fall);
  oscillator.connect(gain).connect(into);
  oscillator.start(start);
  oscillator.stop(end);
  oscillator.onended = () => gain.disconnect();
}

/** Cents over *base* along a slide. @param {number} base @param {number} from @param {number} to */
function slide(base, from, to) {
  const [low, high] = [from, to].map((hz) => 1200 * Math.log2(hz / base));
  return curve((x) => low + (high - low) * glideShare(x));
}

/** @param {(x: number) => number} value */
function curve(value) {
  return Float32Array.from({ length: CURVE_POINTS }, (_, n) => value(n / (CURVE_POINTS - 1)));
}

/** The oscillator's wave from a table. @param {BaseAudioContext} context @param {Harmonics} table */
export function waveOf(context, table) {
  return context.createPeriodicWave([0, ...table.cosines], [0, ...table.sines], { disableNormalization: true });
}
