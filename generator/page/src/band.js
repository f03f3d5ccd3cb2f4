/**
 * The band: a recording of the pack beside the page, kept in time with what the page plays.
 *
 * A media element plays it, because that stretches time without changing the pitch.  Its clock is
 * not the sound clock, so it is compared with the playhead and led back by a little more or less
 * speed; only where it is far off, as after a loop, does it jump.
 */

const EVERY_MS = 40;
/** Further off than this it jumps; nearer than this it is left alone; once led, it is led so far. */
const JUMP_S = 0.15;
const LEAD_S = 0.015;
const THERE_S = 0.004;
/** Of its speed: where it is led from afar, and from nearer. */
const [FAST, EASY] = [0.06, 0.03];
const FAR_S = 0.03;
/** So many readings are looked at together. */
const READINGS = 9;

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

/** What a recording is to do: jump to where it is due, or be led there, a share of its speed faster or slower.
 *
 * It keeps one speed until it is there: at each change WebKit's stands still for some hundredths of
 * a second, and with a change every 40 ms it stayed 50 ms behind for good.
 *
 * @param {{behind_s: number[], led: number}} now  behind_s: by how much it was late, the last readings of it; led: the share so far, 0 where it goes on by itself
 * @returns {{jump: true} | {led: number}}
 */
export function ledBack({ behind_s, led }) {
  if (Math.abs(behind_s[behind_s.length - 1]) > JUMP_S) return { jump: true };
  // Firefox tells a place up to 40 ms old: the middle one of several readings is not led astray.
  const behind = median(behind_s);
  if (led * behind > 0 && Math.abs(behind) > THERE_S) return { led };
  if (behind_s.length < READINGS || Math.abs(behind) < LEAD_S) return { led: 0 };
  return { led: Math.sign(behind) * (Math.abs(behind) > FAR_S ? FAST : EASY) };
}

/** @param {number[]} values  one or more */
const median = (values) => [...values].sort((a, b) => a - b)[values.length >> 1];

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
    this.led = 0;
    /** @type {number[]} */
    this.behind_s = [];
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
      this.#jump(due_s);
      audio.play().catch(() => audio.error && this.#lose());
    } else if (!audio.seeking) {
      this.behind_s = [...this.behind_s, due_s - audio.currentTime].slice(-READINGS);
      const next = ledBack(this);
      if ('jump' in next) return this.#jump(due_s);
      this.led = next.led;
      const wanted = rate * (1 + next.led);
      if (audio.playbackRate !== wanted) audio.playbackRate = wanted;
    }
  }

  /** @param {number} due_s */
  #jump(due_s) {
    this.audio.currentTime = due_s;
    this.led = 0;
    this.behind_s = [];
  }

  #lose() {
    this.stop();
    this.lost();
  }
}
