/**
 * A take while it is recorded: the microphone's own samples, kept in the pieces they come in.
 *
 * Bounded, because a phone that is put down while it records must not fill its memory.
 */

export const LONGEST_S = 600;

export class Recording {
  /** @param {number} rate  samples a second @param {number} from_s  of the sound clock: what came earlier is left out */
  constructor(rate, from_s) {
    this.rate = rate;
    this.from_s = from_s;
    /** When the first sample that is kept was heard, by the sound clock. @type {number | null} */
    this.start_s = null;
    /** @type {Float32Array[]} */
    this.parts = [];
    this.count = 0;
  }

  get seconds() {
    return this.count / this.rate;
  }

  get full() {
    return this.count >= LONGEST_S * this.rate;
  }

  /** Take in the next piece. @param {Float32Array} sound @param {number} at_s  when its first sample was heard */
  add(sound, at_s) {
    const early = Math.round((this.from_s - at_s) * this.rate);
    const room = LONGEST_S * this.rate - this.count;
    const part = sound.subarray(Math.max(0, early), Math.max(0, early) + room);
    if (part.length === 0) return;
    this.start_s ??= at_s + Math.max(0, early) / this.rate;
    this.parts.push(part);
    this.count += part.length;
  }

  /** All of it in one piece. */
  samples() {
    const whole = new Float32Array(this.count);
    let at = 0;
    for (const part of this.parts) {
      whole.set(part, at);
      at += part.length;
    }
    return whole;
  }
}
