/**
 * A take in the page: recorded, judged note by note, told, kept and saved.
 *
 * Writes to the document; what it writes comes from the modules in `take/` and `ear/`.
 */

import { Ear, NotHeard, wantedNotes } from './ear/hear.js';
import { curveWords, drawCurve } from './take/curve.js';
import { MOST_BYTES, MOST_TAKES, TakeHistory, progressOf, storage } from './take/history.js';
import { bounded, earlyOnClick, latencyOf, onClickWords } from './take/latency.js';
import { mark, writtenTogether } from './take/marking.js';
import { Recorder } from './take/recorder.js';
import { keyWords, marksOf, sentenceOf } from './take/summing.js';
import { wavOf } from './take/wav.js';

/** How long the page may be busy before it looks at its controls again. */
const BUSY_MS = 24;
/** Seconds from one click to tap along to, to the next. */
const CLICK_EVERY_S = 0.6;

/** @typedef {import('./take/recording.js').Recording} Recording */
/** @typedef {import('./ear/hear.js').EarFacts & {known_as: string, file: string}} PageEar */

/**
 * @typedef {object} Stage  what the page does for a take
 * @property {any} drill @property {PageEar} ear @property {import('./timeline.js').Timeline} timeline
 * @property {() => Promise<AudioContext>} clock
 * @property {() => Promise<import('./listen.js').Microphone | null>} listening  null where there is no microphone, which is told
 * @property {(recording: {tones: boolean}) => import('./timeline.js').Playhead | null} playThrough
 * @property {() => void} stop
 * @property {() => number} soundingNow  seconds of the sound clock that are heard at this moment
 */

/** @template {HTMLElement} T @param {string} id @returns {T} */
const at = (id) => /** @type {T} */ (document.getElementById(id));
/** @template {HTMLElement} T @param {string} what @returns {T} */
const control = (what) => /** @type {T} */ (document.querySelector(`[data-does="${what}"], [data-sets="${what}"]`));
/** @param {string} id @param {string} text */
const tell = (id, text) => {
  if (at(id).textContent !== text) at(id).textContent = text;
};

export class Takes {
  /** @param {Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.ear = new Ear(stage.ear, wantedNotes(stage.timeline, stage.drill));
    this.recorder = new Recorder({ done: (recording) => this.#judge(recording) });
    this.history = new TakeHistory(storage(), stage.ear.schema);
    const { harp, position } = stage.ear.head;
    this.played = { known_as: stage.ear.known_as, harp, position };
    /** @type {Recording | null} */
    this.recording = null;
    /** @type {Record<string, any> | null} */
    this.take = null;
    /** @type {AudioBufferSourceNode | null} */
    this.replaying = null;
    /** @type {import('./timeline.js').Playhead | null} */
    this.head = null;
    this.clicked = false;
    this.tap = { on: false, taps_s: /** @type {number[]} */ ([]), clicks_s: /** @type {number[]} */ ([]), bus: /** @type {GainNode | null} */ (null) };
    this.latency_ms = bounded(this.history.setting('latency') ?? 0) ?? 0;
    this.#wire();
    this.#showHistory();
  }

  get on() {
    return this.recorder.on;
  }

  /** What the player said: true for headphones, false for speakers, null before he was asked. */
  get headphones() {
    const said = this.history.setting('headphones') ?? this.said ?? null;
    return said === null ? null : said === 'yes';
  }

  get ownAnchor() {
    return control('own-anchor').getAttribute('aria-pressed') === 'true';
  }

  /** Ask once, when the microphone is first used. */
  askHeadphones() {
    if (this.headphones === null) at('headphones').hidden = false;
  }

  /** The next reading of the live detector. @param {boolean} tone @param {number} at_s */
  reading(tone, at_s) {
    this.recorder.reading(tone, at_s);
  }

  /** The drill's end has passed. @param {number} at_s */
  drillEnded(at_s) {
    this.recorder.drillEnded(at_s);
  }

  finish() {
    this.recorder.finish();
  }

  #wire() {
    const does = {
      record: () => this.#record(), replay: () => this.#replay(), save: () => this.#save(), 'save-data': () => this.#saveData(),
      'own-anchor': () => this.#toggleAnchor(), headphones: () => this.#answer('yes'), speakers: () => this.#answer('no'),
      'ask-headphones': () => (at('headphones').hidden = false),
      export: () => this.#export(), forget: () => (at('forget-sure').hidden = false), 'forget-none': () => (at('forget-sure').hidden = true),
      'forget-all': () => this.#forget(), 'tap-click': () => this.#tapAlong(), tap: () => {},
    };
    for (const [what, handle] of Object.entries(does)) control(what).addEventListener('click', handle);
    // The moment of a tap is when the finger or key goes down.
    control('tap').addEventListener('pointerdown', (event) => this.#tapped(event));
    control('tap').addEventListener('keydown', (event) => {
      if ((event.key === ' ' || event.key === 'Enter') && !event.repeat) this.#tapped(event);
    });
    const latency = /** @type {HTMLInputElement} */ (control('latency'));
    latency.value = String(this.latency_ms);
    latency.addEventListener('change', () => this.#setLatency(bounded(latency.value)));
    const file = /** @type {HTMLInputElement} */ (control('import'));
    file.addEventListener('change', () => this.#import(file));
  }

  // --- recording ---------------------------------------------------------------------------

  async #record() {
    if (this.on) {
      this.stage.stop();
      this.finish();
      return;
    }
    const microphone = await this.stage.listening();
    if (microphone === null || this.on) return;
    this.#stopReplay();
    this.askHeadphones();
    const headphones = this.headphones === true;
    const head = this.stage.playThrough({ tones: headphones });
    if (head === null) return;
    this.head = head;
    this.recorder.begin(microphone, head.whenPlayed(0));
    control('record').setAttribute('aria-pressed', 'true');
    tell('take-told', `Recording after the count-in.${headphones ? '' : ' The tones are silent, because without headphones the microphone would hear them.'} Press Record again to end it sooner.`);
  }

  /** @param {Recording} recording */
  async #judge(recording) {
    this.stage.stop();
    control('record').setAttribute('aria-pressed', 'false');
    tell('take-told', 'Comparing what you played with the drill.');
    this.recording = recording;
    const recorded = new Date().toISOString().replace(/\.\d+Z$/, 'Z');
    let take = null;
    try {
      take = await this.ear.hear(recording.samples(), recording.rate, { recorded, pause: breather() });
    } catch (error) {
      tell('take-told', error instanceof NotHeard ? error.message : 'This take could not be compared with the drill, for a reason that lies in this page. Save its sound: reedmill hear reads it.');
      if (!(error instanceof NotHeard)) console.error(error);
    }
    this.take = take;
    at('take-does').hidden = false;
    control('save-data').hidden = take === null;
    if (take === null) {
      this.#clearMarks();
      return;
    }
    const { trouble } = this.history.add(this.played, take);
    this.#show(trouble);
    this.#showHistory();
    document.dispatchEvent(new CustomEvent('reedmill-take', { detail: take }));
  }

  /** @param {string | null} [trouble] */
  #show(trouble = null) {
    const { take } = this;
    if (take === null) return;
    this.#clearMarks();
    const marks = marksOf(take, this.ownAnchor, writtenTogether());
    for (const [index, verdict] of marks) mark(index, verdict);
    at('take-key').hidden = false;
    at('take-key').replaceChildren(...keyWords(take.tolerance).map((words) => element('span', words)));
    at('take-advice').replaceChildren(...take.advice.map((/** @type {string} */ sentence) => element('li', sentence)));
    tell('take-told', sentenceOf(take, this.ownAnchor) + this.#onClick(take) + (trouble === null ? '' : ` ${trouble}`));
  }

  #clearMarks() {
    for (const note of this.stage.timeline.notes) mark(note.index, null);
    at('take-key').hidden = true;
    at('take-advice').replaceChildren();
  }

  /** How he was with the click, where he had one. @param {Record<string, any>} take */
  #onClick(take) {
    const { head, recording } = this;
    if (head === null || head.loop || recording?.start_s == null || take.passes.length !== 1 || control('click').getAttribute('aria-pressed') !== 'true') return '';
    const notes = this.stage.timeline.notes;
    const due_s = (/** @type {number} */ index) => head.whenPlayed(notes[index].start - head.stretches[0].first);
    return onClickWords(earlyOnClick(take.passes[0].notes, recording.start_s, due_s, this.latency_ms), this.latency_ms);
  }

  #toggleAnchor() {
    control('own-anchor').setAttribute('aria-pressed', String(!this.ownAnchor));
    this.#show();
  }

  // --- again, and saved ----------------------------------------------------------------------

  async #replay() {
    if (this.replaying !== null) {
      this.#stopReplay();
      return;
    }
    if (this.recording === null || this.on) return;
    const context = await this.stage.clock();
    this.stage.stop();
    const sound = context.createBuffer(1, Math.max(1, this.recording.count), this.recording.rate);
    sound.copyToChannel(this.recording.samples(), 0);
    const source = context.createBufferSource();
    source.buffer = sound;
    source.connect(context.destination);
    source.onended = () => this.#stopReplay();
    source.start();
    this.replaying = source;
    control('replay').setAttribute('aria-pressed', 'true');
  }

  #stopReplay() {
    const { replaying } = this;
    this.replaying = null;
    control('replay').setAttribute('aria-pressed', 'false');
    replaying?.stop();
    replaying?.disconnect();
  }

  /** @param {string} what */
  #file(what) {
    const when = (this.take?.recorded ?? new Date().toISOString()).slice(0, 19).replace(/[^0-9]+/g, '-');
    return `${this.stage.ear.file}-${what}-${when}`;
  }

  #save() {
    if (this.recording === null) return;
    download(`${this.#file('take')}.wav`, new Blob([wavOf(this.recording.samples(), this.recording.rate)], { type: 'audio/wav' }));
  }

  #saveData() {
    if (this.take === null) return;
    download(`${this.#file('take')}.json`, new Blob([JSON.stringify(this.take, null, 1)], { type: 'application/json' }));
  }

  // --- history ---------------------------------------------------------------------------------

  /** @param {string} [said] */
  #showHistory(said = '') {
    const takes = this.history.takes(this.played).map(progressOf);
    drawCurve(/** @type {any} */ (document.getElementById('history-curve')), takes);
    const bound = takes.length >= MOST_TAKES ? ` The newest ${MOST_TAKES} are kept.` : '';
    tell('history-told', [said, curveWords(takes) + bound, this.history.trouble ?? ''].filter(Boolean).join(' '));
  }

  #export() {
    download('reedmill-takes.json', new Blob([this.history.export()], { type: 'application/json' }));
  }

  /** @param {HTMLInputElement} input */
  async #import(input) {
    const [file] = input.files ?? [];
    if (file === undefined) return;
    try {
      if (file.size > MOST_BYTES) throw new Error(`This file has more than ${MOST_BYTES / 1e6} MB, which is more than any history. Choose a file that this page has exported.`);
      const { added, drills, trouble } = this.history.import(await file.text());
      this.#showHistory(`${counted(added, 'take')} of ${counted(drills, 'drill')} taken in.${trouble === null ? '' : ` ${trouble}`}`);
    } catch (error) {
      tell('history-told', error instanceof Error ? error.message : String(error));
    }
    input.value = '';
  }

  #forget() {
    const { takes, drills, settings } = this.history.forget();
    at('forget-sure').hidden = true;
    this.said = undefined;
    this.latency_ms = 0;
    /** @type {HTMLInputElement} */ (control('latency')).value = '0';
    this.#showHistory(`Forgotten: ${counted(takes, 'take')} of ${counted(drills, 'drill')}, and ${counted(settings, 'setting')}.`);
  }

  // --- headphones and latency --------------------------------------------------------------------

  /** @param {'yes' | 'no'} said */
  #answer(said) {
    this.said = said;
    this.history.set('headphones', said);
    at('headphones').hidden = true;
    tell('told', said === 'yes' ? 'Headphones: the tones may sound while you play.' : 'Speakers: the tones are silent in a take, and what you play on a tone of the page is not counted.');
  }

  /** @param {number | null} ms */
  #setLatency(ms) {
    if (ms !== null) {
      this.latency_ms = ms;
      this.history.set('latency', String(ms));
    }
    /** @type {HTMLInputElement} */ (control('latency')).value = String(this.latency_ms);
    tell('latency-told', ms === null ? 'Write a number of milliseconds from 0 to 500.' : `${ms} ms are taken off.`);
    this.#show();
  }

  async #tapAlong() {
    const { tap } = this;
    if (tap.on) {
      this.#endTapping();
      return;
    }
    this.stage.stop();
    const context = await this.stage.clock();
    tap.on = true;
    tap.taps_s = [];
    tap.bus = context.createGain();
    tap.bus.connect(context.destination);
    const begin = context.currentTime + 0.6;
    tap.clicks_s = Array.from({ length: 24 }, (_, n) => begin + n * CLICK_EVERY_S);
    for (const click of tap.clicks_s) this.#blip(context, tap.bus, click);
    control('tap-click').setAttribute('aria-pressed', 'true');
    tell('latency-told', 'Tap with the click, eight times or more, then stop it.');
  }

  /** @param {AudioContext} context @param {AudioNode} into @param {number} at_s */
  #blip(context, into, at_s) {
    const [oscillator, gain] = [context.createOscillator(), context.createGain()];
    oscillator.frequency.value = 1568;
    gain.gain.setValueAtTime(0.4, at_s);
    gain.gain.exponentialRampToValueAtTime(1e-4, at_s + 0.03);
    oscillator.connect(gain).connect(into);
    oscillator.start(at_s);
    oscillator.stop(at_s + 0.03);
  }

  /** @param {Event} event */
  async #tapped(event) {
    if (!this.tap.on) return;
    const context = await this.stage.clock();
    this.tap.taps_s.push(context.currentTime - (performance.now() - event.timeStamp) / 1000);
  }

  #endTapping() {
    const { tap } = this;
    tap.on = false;
    tap.bus?.disconnect();
    control('tap-click').setAttribute('aria-pressed', 'false');
    const found = latencyOf(tap.taps_s, tap.clicks_s);
    if (found === null) tell('latency-told', `Only ${counted(tap.taps_s.length, 'tap')}: tap at least 4 times with the click.`);
    else this.#setLatency(found);
  }
}

/** @param {string} kind @param {string} words */
function element(kind, words) {
  const made = document.createElement(kind);
  made.textContent = words;
  return made;
}

/** @param {number} count @param {string} what */
function counted(count, what) {
  return `${count} ${what}${count === 1 ? '' : 's'}`;
}

/** Gives way to the page when it has been busy for a while. */
function breather() {
  let begun = performance.now();
  return async () => {
    if (performance.now() - begun < BUSY_MS) return;
    await new Promise((go) => setTimeout(go, 0));
    begun = performance.now();
  };
}

/** @param {string} name @param {Blob} content */
function download(name, content) {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(content);
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}
