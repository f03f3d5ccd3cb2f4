/** How late this device's sound is: written by hand or tapped along to a click, and kept. */

import { at, control, setText, turn } from './dom.js';
import { counted } from './keeping.js';
import { LEAST_HEARD, MOST_MS, bounded, latencyOf } from './take/latency.js';

/** Seconds from one click to tap along to, to the next; and how many there are. */
const CLICK_EVERY_S = 0.6;
const CLICKS = 24;

export class LatencySetting {
  /**
   * @param {import('./take/history.js').TakeHistory} history  which keeps it
   * @param {{clock: () => Promise<AudioContext>, click: () => Promise<import('./tap.js').Click>, stop: () => void}} stage
   * @param {() => void} changed
   */
  constructor(history, stage, changed) {
    this.history = history;
    this.stage = stage;
    this.changed = changed;
    this.ms = bounded(history.setting('latency') ?? 0) ?? 0;
    /** While it is tapped along: both by the sound clock. @type {{taps_s: number[], clicks_s: number[], bus: GainNode} | null} */
    this.tapping = null;
    control('tap-click').addEventListener('click', () => this.#tapAlong());
    // The moment of a tap is when the finger or key goes down.
    control('tap').addEventListener('pointerdown', (event) => this.#tapped(event));
    control('tap').addEventListener('keydown', (event) => {
      if ((event.key === ' ' || event.key === 'Enter') && !event.repeat) this.#tapped(event);
    });
    this.input.addEventListener('change', () => this.#set(bounded(this.input.value)));
    this.#show();
  }

  get input() {
    return /** @type {HTMLInputElement} */ (control('latency'));
  }

  /** What was kept is gone. */
  forget() {
    this.ms = 0;
    this.#show();
  }

  #show() {
    this.input.value = String(this.ms);
  }

  /** @param {number | null} ms */
  #set(ms) {
    if (ms !== null) {
      this.ms = ms;
      this.history.set('latency', String(ms));
    }
    this.#show();
    setText(at('latency-told'), ms === null ? `Type a number of milliseconds from 0 to ${MOST_MS}.` : `${ms} ms are taken off.`);
    this.changed();
  }

  async #tapAlong() {
    if (this.tapping !== null) {
      this.#end(this.tapping);
      return;
    }
    this.stage.stop();
    const context = await this.stage.clock();
    const click = await this.stage.click();
    const bus = context.createGain();
    bus.connect(context.destination);
    const begin = context.currentTime + CLICK_EVERY_S;
    const clicks_s = Array.from({ length: CLICKS }, (_, n) => begin + n * CLICK_EVERY_S);
    for (const at_s of clicks_s) click.tap(bus, at_s, false);
    this.tapping = { taps_s: [], clicks_s, bus };
    turn('tap-click', true);
    setText(at('latency-told'), 'Tap with the click, eight times or more, then stop it.');
  }

  /** @param {Event} event */
  async #tapped(event) {
    const { tapping } = this;
    if (tapping === null) return;
    const context = await this.stage.clock();
    tapping.taps_s.push(context.currentTime - (performance.now() - event.timeStamp) / 1000);
  }

  /** @param {{taps_s: number[], clicks_s: number[], bus: GainNode}} tapping */
  #end({ taps_s, clicks_s, bus }) {
    this.tapping = null;
    bus.disconnect();
    turn('tap-click', false);
    const found = latencyOf(taps_s, clicks_s);
    if (found === null) setText(at('latency-told'), `Only ${counted(taps_s.length, 'tap')}: tap at least ${LEAST_HEARD} times with the click.`);
    else this.#set(found);
  }
}
