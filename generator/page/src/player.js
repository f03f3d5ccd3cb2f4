/**
 * Playing: looks a quarter of a second ahead and schedules what sounds there.
 *
 * The timer may be late (a phone that sleeps, a busy page); the sound clock never is.  So
 * nothing is played by the timer: it only hands tones to the clock in good time.
 */

import { Playhead } from './timeline.js';
import { sound, waveOf } from './voice.js';

const AHEAD_S = 0.25;
const MOST_BEHIND_S = 0.5; // more than headphones without a wire are
const EVERY_MS = 50;
const START_S = 0.08;
const CLICK_S = 0.03;

/**
 * What comes out of the speaker at this moment, on the clock of *context*: it was scheduled a little
 * earlier. WebKitGTK 2.50 adds the clock's own time to the moment it tells, which then runs away
 * from the page's: what cannot be is not believed.
 *
 * @param {Pick<AudioContext, 'currentTime' | 'outputLatency' | 'getOutputTimestamp'>} context
 * @param {number} now_ms  of `performance.now()`
 * @returns {number}  seconds
 */
export function soundingNow(context, now_ms) {
  const { contextTime = 0, performanceTime } = context.getOutputTimestamp?.() ?? {};
  const usual = Math.max(0, context.currentTime - (context.outputLatency || 0));
  if (contextTime === 0 || performanceTime === undefined) return usual;
  const told = contextTime + (now_ms - performanceTime) / 1000;
  return Math.abs(context.currentTime - told) > MOST_BEHIND_S ? usual : told;
}

/**
 * @typedef {object} Wishes
 * @property {number} share  of the written tempo
 * @property {boolean} loop
 * @property {number} from  beats
 * @property {number} to
 * @property {boolean} click
 * @property {number} countIn  bars
 * @property {boolean} tones
 * @property {import('./voice.js').Harmonics | null} drone
 */

export class Player {
  /**
   * @param {AudioContext} context
   * @param {import('./timeline.js').Timeline} timeline
   * @param {import('./voice.js').Harmonics[]} tables  for higher and higher tones
   */
  constructor(context, timeline, tables) {
    this.context = context;
    this.timeline = timeline;
    this.tables = tables;
    this.waves = tables.map((table) => waveOf(context, table));
    this.attacks = timeline.attacks();
    this.out = context.createGain();
    this.out.connect(context.destination);
    /** @type {Playhead | null} */
    this.head = null;
    /** @type {ReturnType<typeof setInterval> | undefined} */
    this.timer = undefined;
    this.sounded = 0; // breaths handed to the clock, over all passes
    this.clicked = 0; // beats up to which clicks are handed to it; negative in a count-in
    /** @type {() => void} */
    this.onEnd = () => {};
  }

  get playing() {
    return this.head !== null;
  }

  /** Begin. @param {Wishes} wishes */
  play(wishes) {
    this.stop();
    this.wishes = wishes;
    this.bus = this.context.createGain();
    this.bus.connect(this.out);
    const beat_s = this.timeline.beatSeconds(wishes.share);
    const clicked = wishes.countIn * this.timeline.barBeats;
    const start = this.context.currentTime + START_S;
    this.head = new Playhead(this.timeline, wishes);
    this.head.begin(start + clicked * beat_s);
    this.sounded = 0;
    this.clicked = -clicked;
    if (wishes.drone !== null) this.#drone(wishes.drone, start);
    this.#ahead();
    this.timer = setInterval(() => this.#ahead(), EVERY_MS);
  }

  stop() {
    clearInterval(this.timer);
    this.bus?.disconnect();
    this.bus = undefined;
    this.head = null;
  }

  /** Go on at another share of the tempo: what is scheduled within the next moment still sounds. @param {number} share */
  changeTempo(share) {
    if (this.wishes === undefined) return;
    this.wishes.share = share;
    this.head?.change(share, this.context.currentTime + AHEAD_S);
  }

  /** Where playing is at this moment of the sound clock. @param {number} [at_s] */
  where(at_s = this.context.currentTime) {
    return this.head?.at(at_s) ?? null;
  }

  #ahead() {
    const { head, wishes } = this;
    if (head === null || wishes === undefined) return;
    const until = this.context.currentTime + AHEAD_S;
    if (wishes.tones) this.#tones(head, until);
    this.#clicks(head, wishes, until);
    if (!wishes.loop && this.context.currentTime > head.whenPlayed(head.to - head.from) + 0.1) {
      this.stop();
      this.onEnd();
    }
  }

  /** @param {Playhead} head @param {number} until */
  #tones(head, until) {
    const inside = this.attacks.filter((breath) => breath[0].start >= head.from - 1e-9 && breath[0].start < head.to - 1e-9);
    if (inside.length === 0) return;
    const span = head.to - head.from;
    for (;;) {
      const pass = Math.floor(this.sounded / inside.length);
      if (pass > 0 && !head.loop) return;
      const breath = inside[this.sounded % inside.length];
      const when = (/** @type {number} */ beat) => head.whenPlayed(pass * span + Math.min(beat, head.to) - head.from);
      const start = when(breath[0].start);
      if (start >= until) return;
      this.sounded += 1;
      if (start >= this.context.currentTime) {
        sound(this.context, /** @type {AudioNode} */ (this.bus), breath, this.#waveFor(breath), when);
      }
    }
  }

  /** @param {import('./timeline.js').TimedNote[]} breath */
  #waveFor(breath) {
    const highest = Math.max(...breath.map((note) => note.hz));
    const place = this.tables.findIndex((table) => table.to_hz >= highest - 1e-6);
    return this.waves[place < 0 ? this.waves.length - 1 : place];
  }

  /** @param {Playhead} head @param {Wishes} wishes @param {number} until */
  #clicks(head, wishes, until) {
    const { pulse, barBeats } = this.timeline;
    for (;;) {
      const at = head.whenPlayed(this.clicked);
      if (at >= until) return;
      const counting = this.clicked < 0;
      const past = !head.loop && this.clicked >= head.to - head.from;
      if ((counting || wishes.click) && !past && at >= this.context.currentTime) {
        const inBar = (((head.from + this.clicked) % barBeats) + barBeats) % barBeats;
        this.#click(at, inBar < 1e-9);
      }
      if (past) return;
      this.clicked += pulse;
    }
  }

  /** @param {number} at @param {boolean} strong */
  #click(at, strong) {
    const oscillator = this.context.createOscillator();
    const gain = this.context.createGain();
    oscillator.frequency.value = strong ? 2093 : 1568;
    gain.gain.setValueAtTime(strong ? 0.5 : 0.3, at);
    gain.gain.exponentialRampToValueAtTime(1e-4, at + CLICK_S);
    oscillator.connect(gain).connect(/** @type {AudioNode} */ (this.bus));
    oscillator.start(at);
    oscillator.stop(at + CLICK_S);
  }

  /** @param {import('./voice.js').Harmonics} table @param {number} start */
  #drone(table, start) {
    const oscillator = this.context.createOscillator();
    const gain = this.context.createGain();
    oscillator.setPeriodicWave(waveOf(this.context, table));
    oscillator.frequency.value = table.to_hz;
    gain.gain.setValueAtTime(0, start);
    gain.gain.linearRampToValueAtTime(1, start + 0.3);
    oscillator.connect(gain).connect(/** @type {AudioNode} */ (this.bus));
    oscillator.start(start);
  }
}
