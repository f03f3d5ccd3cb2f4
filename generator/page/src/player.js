/**
 * Playing: looks a quarter of a second ahead and schedules what sounds there.
 *
 * The timer may be late (a phone that sleeps, a busy page); the sound clock never is.  So
 * nothing is played by the timer: it only hands tones to the clock in good time.
 */

import { Click } from './tap.js';
import { Playhead } from './timeline.js';
import { Tones, airOf, sound, waveOf } from './voice.js';

const AHEAD_S = 0.25;
const MOST_BEHIND_S = 0.5; // more than headphones without a wire are
const EVERY_MS = 50;
const START_S = 0.08;

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
 * @property {number | null} [echo]  bars played and then left open, 0 for all of them, null for none
 * @property {number} [fade]  passes over which the tones fade: as they are in the first, silent in the last
 * @property {Climb | null} [climb]
 */

/**
 * @typedef {object} Climb  a ladder of tempi
 * @property {number} step  share of the written tempo added each time
 * @property {number} after  so many clean passes
 * @property {number} highest  share
 */

/**
 * @typedef {object} Sounds  what tones and clicks are made of, from Reedmill
 * @property {number[]} phases  of the harmonics of every reed
 * @property {import('./voice.js').ReedTable[]} tables  of every reed that sounds
 * @property {Record<string, import('./timeline.js').Shape>} [shapes]  by the number of the note, of those that need one
 * @property {import('./voice.js').Manner} manner
 * @property {import('./tap.js').Taps} taps
 * @property {number[]} accents  the notes that are accented
 */

export class Player {
  /** @param {AudioContext} context @param {import('./timeline.js').Timeline} timeline @param {Sounds} sounds */
  constructor(context, timeline, { phases, tables, manner, taps, accents }) {
    this.context = context;
    this.timeline = timeline;
    this.tones = new Tones(context, { phases, tables }, manner);
    this.air = manner.air === undefined ? null : airOf(context, manner.air);
    this.manner = manner;
    this.accents = new Set(accents);
    this.click = new Click(context, taps);
    this.attacks = timeline.attacks();
    this.out = context.createGain();
    this.out.connect(context.destination);
    /** @type {Playhead | null} */
    this.head = null;
    /** @type {ReturnType<typeof setInterval> | undefined} */
    this.timer = undefined;
    this.sounded = 0; // breaths handed to the clock, over all passes
    this.passed = 0; // passes that are over, or will be within the next moment
    this.clean = 0; // of them, since the last climb
    this.clicked = 0; // beats up to which clicks are handed to it; negative in a count-in
    /** @type {() => void} */
    this.onEnd = () => {};
    /** Asked, a moment before a pass ends, whether it was clean. @type {(pass: number) => boolean} */
    this.wasClean = () => true;
    /** Told of a climb: the new share of the tempo. @type {(share: number) => void} */
    this.onClimb = () => {};
    /** Called with each tone that is about to sound: Hz, and from when to when. @type {(hz: number, from_s: number, to_s: number) => void} */
    this.onTone = () => {};
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
    this.pass = this.#breathsOfAPass(this.head);
    this.sounded = 0;
    this.passed = 0;
    this.clean = 0;
    this.clicked = -clicked;
    if (wishes.drone !== null) this.#drone(wishes.drone, start);
    this.schedule();
    this.timer = setInterval(() => this.schedule(), EVERY_MS);
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

  /** Hand the clock what sounds before *until*, in its seconds. @param {number} [until] */
  schedule(until = this.context.currentTime + AHEAD_S) {
    const { head, wishes } = this;
    if (head === null || wishes === undefined) return;
    this.#climbs(head, wishes, until);
    if (wishes.tones) this.#tones(head, wishes, until);
    this.#clicks(head, wishes, until);
    if (!wishes.loop && this.context.currentTime > head.whenPlayed(head.span) + 0.1) {
      this.stop();
      this.onEnd();
    }
  }

  /** The breaths that sound in one pass: when, in beats played since its beginning, and where it is cut off.
   * @param {Playhead} head
   */
  #breathsOfAPass(head) {
    let played = 0;
    return head.stretches.flatMap(({ first, last, open }) => {
      const later = played - first;
      played += last - first;
      if (open) return [];
      return this.attacks
        .filter((breath) => breath[0].start >= first - 1e-9 && breath[0].start < last - 1e-9)
        .map((breath) => ({ breath, later, last }));
    });
  }

  /** @param {Playhead} head @param {Wishes} wishes @param {number} until */
  #tones(head, wishes, until) {
    const { pass: breaths = [] } = this;
    if (breaths.length === 0) return;
    for (;;) {
      const pass = Math.floor(this.sounded / breaths.length);
      if (pass > 0 && !head.loop) return;
      const { breath, later, last } = breaths[this.sounded % breaths.length];
      const when = (/** @type {number} */ beat) => head.whenPlayed(pass * head.span + Math.min(beat, last) + later);
      const start = when(breath[0].start);
      if (start >= until) return;
      this.sounded += 1;
      const amplitude = guideOf(pass, wishes.fade ?? 0) * this.#accentOf(breath);
      if (start >= this.context.currentTime && amplitude > 0) {
        const soft = this.#accentOf(breath) < 1;
        const toneOf = (/** @type {string} */ tab, /** @type {number} */ hz, /** @type {boolean} */ closed) => this.tones.of(tab, hz, closed, soft);
        const how = { toneOf, air: this.air, manner: this.manner, when, amplitude };
        sound(this.context, /** @type {AudioNode} */ (this.bus), breath, how);
        for (const { hz, beside, burst, start: from, end } of breath) {
          for (const each of [hz, ...beside.map((other) => other.hz), ...burst]) this.onTone(each, when(from), when(end));
        }
      }
    }
  }

  /** A pass that ends before *until* may let the next begin faster. @param {Playhead} head @param {Wishes} wishes @param {number} until */
  #climbs(head, wishes, until) {
    while (head.loop && head.whenPlayed((this.passed + 1) * head.span) < until) {
      this.clean += this.wasClean(this.passed) ? 1 : 0;
      this.passed += 1;
      const { climb } = wishes;
      if (!climb || this.clean < climb.after || head.share >= climb.highest - 1e-9) continue;
      this.clean = 0;
      wishes.share = Math.min(climb.highest, head.share + climb.step);
      head.change(wishes.share, head.whenPlayed(this.passed * head.span));
      this.onClimb(wishes.share);
    }
  }

  /** Where some notes are accented the others step back. @param {import('./timeline.js').TimedNote[]} breath */
  #accentOf(breath) {
    return this.accents.size === 0 || this.accents.has(breath[0].index) ? 1 : this.manner.beside_accents;
  }

  /** @param {Playhead} head @param {Wishes} wishes @param {number} until */
  #clicks(head, wishes, until) {
    const { pulse, barBeats } = this.timeline;
    for (;;) {
      const at = head.whenPlayed(this.clicked);
      if (at >= until) return;
      const counting = this.clicked < 0;
      const place = head.placeOf(this.clicked);
      if (place === null) return;
      if ((counting || wishes.click) && at >= this.context.currentTime) {
        const inBar = ((place.beat % barBeats) + barBeats) % barBeats;
        this.click.tap(/** @type {AudioNode} */ (this.bus), at, Math.min(inBar, barBeats - inBar) < 1e-9);
      }
      this.clicked += pulse;
    }
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

/** How loud the tones are in a pass, from 0, that fade over *passes* of them. @param {number} pass @param {number} passes */
export function guideOf(pass, passes) {
  return passes > 1 ? Math.max(0, 1 - pass / (passes - 1)) : 1;
}
