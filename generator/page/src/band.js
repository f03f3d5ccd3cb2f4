/**
 * The band: a recording of the pack beside the page, kept in time with what the page plays.
 *
 * A media element plays it, because that stretches time without changing the pitch.  Its clock is
 * not the sound clock, so it is compared with the playhead and led back by a little more or less
 * speed; only where it is far off, as after a loop, does it jump.
 */

import { clip } from './ear/numbers.js';

const EVERY_MS = 40;
/** Further off than this it jumps; nearer than this it is left alone; once led, it is led so far. */
const JUMP_S = 0.15;
const LEAD_S = 0.015;
const THERE_S = 0.004;
/** Of its speed, for each second it is off; and at most. */
const LEADING = 1.5;
const MOST_LEADING = 0.06;

/**
 * @typedef {object} BandData  a sound file of the same exercise
 * @property {string} ending  of its name, where the page's has `.page.html`
 * @property {number} first_s  seconds from its start to the first beat
 * @property {number} tempo  pulses a minute
 * @property {boolean} tones  that are in it too, so the page leaves out its own
 */

const PAGE = /\.page\.html$/;

/** The address of the band's file beside the page's; null where the page has another name. @param {string} address @param {string} ending */
export function besidePage(address, ending) {
  const plain = address.split(/[?#]/)[0];
  return PAGE.test(plain) ? plain.replace(PAGE, ending) : null;
}

/** What a led recording is to do: jump there, or go on at a speed.
 * @param {{at_s: number, due_s: number, rate: number, leading: boolean}} now
 * @returns {{jump_s: number} | {rate: number, leading: boolean}}
 */
export function ledBack({ at_s, due_s, rate, leading }) {
  const off = at_s - due_s;
  if (Math.abs(off) > JUMP_S) return { jump_s: due_s };
  if (Math.abs(off) < (leading ? THERE_S : LEAD_S)) return { rate, leading: false };
  return { rate: rate * (1 - clip(LEADING * off, -MOST_LEADING, MOST_LEADING)), leading: true };
}

export class Band {
  /** @param {BandData} data @param {string} address  of its file @param {import('./timeline.js').Timeline} timeline @param {() => void} lost  called where it cannot be played */
  constructor({ first_s, tempo, tones }, address, timeline, lost) {
    this.tones = tones;
    this.tempo = tempo;
    this.first_s = first_s;
    this.timeline = timeline;
    this.lost = lost;
    this.audio = new Audio();
    this.audio.preload = 'auto';
    this.audio.addEventListener('error', () => this.#lose());
    this.audio.src = address;
    /** @type {import('./timeline.js').Playhead | null} */
    this.head = null;
    this.leading = false;
    /** @type {ReturnType<typeof setInterval> | undefined} */
    this.timer = undefined;
  }

  /** Play along. @param {import('./timeline.js').Playhead} head @param {() => number} soundsNow  seconds of the sound clock that are heard at this moment */
  play(head, soundsNow) {
    this.stop();
    this.head = head;
    this.timer = setInterval(() => this.#keep(head, soundsNow()), EVERY_MS);
    this.#keep(head, soundsNow());
  }

  stop() {
    clearInterval(this.timer);
    this.head = null;
    this.audio.pause();
  }

  /** @param {import('./timeline.js').Playhead} head @param {number} now_s */
  #keep(head, now_s) {
    const { audio, timeline } = this;
    const place = head.at(now_s);
    const due_s = place === null ? -1 : this.first_s + place.beat * timeline.beatSeconds(this.tempo / timeline.tempo);
    if (place === null || due_s < 0 || (Number.isFinite(audio.duration) && due_s > audio.duration)) {
      audio.pause();
      return;
    }
    // In a count-in it already runs, unheard, so that it is there at the first beat.
    audio.muted = place.beat < head.bounds.first - 1e-6;
    const rate = (timeline.tempo * head.share) / this.tempo;
    if (audio.paused) {
      audio.playbackRate = rate;
      audio.currentTime = due_s;
      audio.play().catch(() => audio.error && this.#lose());
    } else if (!audio.seeking) {
      const next = ledBack({ at_s: audio.currentTime, due_s, rate, leading: this.leading });
      if ('jump_s' in next) audio.currentTime = next.jump_s;
      else {
        this.leading = next.leading;
        if (audio.playbackRate !== next.rate) audio.playbackRate = next.rate;
      }
    }
  }

  #lose() {
    this.stop();
    this.lost();
  }
}
