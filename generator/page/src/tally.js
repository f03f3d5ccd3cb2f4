/**
 * Whether a pass was clean, judged while it is played: what a ladder of tempi waits for.
 *
 * A rougher ear than the verdicts of a recorded take: the middle of what was read of each note.
 */

const LEAST_READINGS = 3;

export class Tally {
  /** @param {number} tolerance  cents from the wanted pitch that still pass */
  constructor(tolerance) {
    this.tolerance = tolerance;
    /** Distances in cents by pass and note. @type {Map<number, Map<number, number[]>>} */
    this.passes = new Map();
  }

  /** A reading while note *index* was wanted; NaN where it was another note.
   * @param {number} pass @param {number} index @param {number} cents
   */
  take(pass, index, cents) {
    const notes = this.passes.get(pass) ?? new Map();
    this.passes.set(pass, notes);
    notes.set(index, [...(notes.get(index) ?? []), Number.isNaN(cents) ? Infinity : Math.abs(cents)]);
  }

  /** Whether each of the notes *wanted* was hit in a pass; it and those before it are forgotten.
   * @param {number} pass @param {number[]} wanted
   */
  clean(pass, wanted) {
    const notes = this.passes.get(pass);
    for (const known of this.passes.keys()) if (known <= pass) this.passes.delete(known);
    return wanted.every((index) => {
      const read = (notes?.get(index) ?? []).sort((a, b) => a - b);
      return read.length >= LEAST_READINGS && read[read.length >> 1] <= this.tolerance;
    });
  }

  /** Begin anew. */
  forget() {
    this.passes.clear();
  }
}
