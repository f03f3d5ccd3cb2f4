/** One note held long: for how many seconds, and within how many cents it stayed. */

const GAP_S = 0.2;
const LEFT_CENTS = 50;
const LEAST_S = 0.5;
/** The attack is not the note that is held. */
const ATTACK_S = 0.25;

export class HeldNote {
  constructor() {
    /** @type {{cents: number, at_s: number}[]} */
    this.readings = [];
    this.longest_s = 0;
  }

  /** The next reading, in cents from the note that is held; NaN for none. @param {number} cents @param {number} at_s */
  take(cents, at_s) {
    const last_s = this.readings[this.readings.length - 1]?.at_s ?? -Infinity;
    if (at_s - last_s > GAP_S || Math.abs(cents) > LEFT_CENTS) this.readings = [];
    if (Number.isNaN(cents) || Math.abs(cents) > LEFT_CENTS) return;
    this.readings.push({ cents, at_s });
    this.longest_s = Math.max(this.longest_s, this.seconds);
  }

  get seconds() {
    const { readings } = this;
    return readings.length > 1 ? readings[readings.length - 1].at_s - readings[0].at_s : 0;
  }

  /** How far the pitch moves about, as a deviation in cents; NaN for too little of it. */
  get steadiness() {
    const begun_s = this.readings[0]?.at_s ?? 0;
    const held = this.readings.filter((each) => each.at_s - begun_s >= ATTACK_S).map((each) => each.cents);
    if (this.seconds < LEAST_S || held.length < 5) return NaN;
    const mean = held.reduce((sum, each) => sum + each, 0) / held.length;
    return Math.sqrt(held.reduce((sum, each) => sum + (each - mean) ** 2, 0) / held.length);
  }

  get words() {
    if (this.seconds < LEAST_S) return this.longest_s >= LEAST_S ? `longest ${this.longest_s.toFixed(1)} s` : '';
    return `held ${this.seconds.toFixed(1)} s, within ${this.steadiness.toFixed(0)} cents; longest ${this.longest_s.toFixed(1)} s`;
  }
}
