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
    /** @type {Map<number, number[]>} */
    this.cents = new Map();
  }

  /** A reading while note *index* was wanted; NaN where it was another note. @param {number} index @param {number} cents */
  take(index, cents) {
    const known = this.cents.get(index) ?? [];
    known.push(Number.isNaN(cents) ? Infinity : Math.abs(cents));
    this.cents.set(index, known);
  }

  /** Whether each of the notes *wanted* was hit, and begin anew. @param {number[]} wanted */
  clean(wanted) {
    const { cents, tolerance } = this;
    this.cents = new Map();
    return wanted.every((index) => {
      const read = (cents.get(index) ?? []).sort((a, b) => a - b);
      return read.length >= LEAST_READINGS && read[read.length >> 1] <= tolerance;
    });
  }
}
