/**
 * What the page itself sounds, so that a microphone that hears its speakers is not believed.
 *
 * Without headphones a reading that lies on a tone of the page's own is the page's.
 */

import { centsBetween } from '../ear/numbers.js';

/** A tone hangs on in a room and in the buffers of the way there and back. */
const LINGERS_S = 0.35;
const ALIKE_CENTS = 40;
const DRONE_PARTIALS = 4;

/** @typedef {{hz: number, from_s: number, to_s: number}} Sounding  by the sound clock */

export class OwnTones {
  constructor() {
    /** @type {Sounding[]} */
    this.tones = [];
    /** @type {number | null} */
    this.drone_hz = null;
  }

  /** A tone that sounds, or is about to. @param {number} hz @param {number} from_s @param {number} to_s */
  add(hz, from_s, to_s) {
    this.tones = [...this.tones.filter((each) => each.to_s > from_s - 2), { hz, from_s, to_s }];
  }

  /** All tones are cut off. @param {number} at_s */
  stop(at_s) {
    this.tones = this.tones.filter((each) => each.from_s < at_s).map((each) => ({ ...each, to_s: Math.min(each.to_s, at_s) }));
    this.drone_hz = null;
  }

  /** True where what was read may be one of them, or an octave that it is taken for. @param {number} hz @param {number} at_s */
  mayBe(hz, at_s) {
    const near = (/** @type {number} */ own) => Math.abs(centsBetween(own, hz)) <= ALIKE_CENTS;
    const drone = this.drone_hz;
    if (drone !== null && Array.from({ length: DRONE_PARTIALS }, (_, n) => drone * (n + 1)).some(near)) return true;
    return this.tones.some(({ hz: own, from_s, to_s }) => at_s >= from_s && at_s <= to_s + LINGERS_S && [own / 2, own, 2 * own].some(near));
  }
}
