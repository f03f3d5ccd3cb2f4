/**
 * A pass recorded: count-in, the player's own sound, and the moment at which it is over.
 *
 * It is over when the drill's end has passed and he has come to rest, when he says so, or when
 * no more is kept.
 */

import { Recording } from './recording.js';

/** Before the first beat: whoever comes in early is heard whole. */
const BEFORE_S = 0.3;
/** Of silence after the drill's end; and how long is waited for it. */
const QUIET_S = 0.7;
const MOST_LATE_S = 8;
/** For the piece that the worklet still holds. */
const LAST_MS = 120;

export class Recorder {
  constructor() {
    /** What is done with a take when it is over. @type {(recording: Recording) => void} */
    this.done = () => {};
    /** @type {Recording | null} */
    this.recording = null;
    /** When the drill ended, by the sound clock. @type {number | null} */
    this.ended_s = null;
    this.lastTone_s = -Infinity;
    /** @type {import('../listen.js').Microphone | null} */
    this.microphone = null;
    this.finishing = false;
  }

  get on() {
    return this.recording !== null;
  }

  /**
   * @param {import('../listen.js').Microphone} microphone @param {number} firstBeat_s  of the sound clock
   * @param {(recording: Recording) => void} done  called once, when the take is over
   */
  begin(microphone, firstBeat_s, done) {
    this.done = done;
    this.microphone = microphone;
    this.recording = new Recording(microphone.context.sampleRate, firstBeat_s - BEFORE_S);
    this.ended_s = null;
    this.lastTone_s = -Infinity;
    microphone.onSound = (sound, at_s) => this.#take(sound, at_s);
    microphone.record(true);
  }

  /** The next reading of the live detector: is he still playing? @param {boolean} tone @param {number} at_s */
  reading(tone, at_s) {
    if (!this.on) return;
    if (tone) this.lastTone_s = at_s;
    if (this.ended_s === null) return;
    if (at_s - Math.max(this.ended_s, this.lastTone_s) >= QUIET_S || at_s - this.ended_s >= MOST_LATE_S) this.finish();
  }

  /** The drill's end has passed. @param {number} at_s */
  drillEnded(at_s) {
    if (this.on) this.ended_s ??= at_s;
  }

  /** @param {Float32Array} sound @param {number} at_s */
  #take(sound, at_s) {
    this.recording?.add(sound, at_s);
    if (this.recording?.full) this.finish();
  }

  /** Stop and hand the take on. */
  finish() {
    if (!this.on || this.finishing) return;
    this.finishing = true;
    this.microphone?.record(false);
    setTimeout(() => {
      const { recording } = this;
      this.recording = null;
      this.finishing = false;
      if (recording !== null) this.done(recording);
    }, LAST_MS);
  }
}
