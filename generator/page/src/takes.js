/**
 * A take in the page: recorded, judged note by note, told, and saved.
 *
 * Writes to the document; what it writes comes from the modules in `take/` and `ear/`.
 */

import { at, control, isOn, setText, turn } from './dom.js';
import { Ear, NotHeard, wantedNotes } from './ear/hear.js';
import { known } from './ear/numbers.js';
import { Keeping } from './keeping.js';
import { download } from './saving.js';
import { LatencySetting } from './latency_setting.js';
import { TakeHistory, storage } from './take/history.js';
import { earlyOnClick, onClickWords } from './take/latency.js';
import { mark, writtenTogether } from './take/marking.js';
import { Recorder } from './take/recorder.js';
import { keyWords, marksOf, sentenceOf } from './take/summing.js';
import { wavOf } from './take/wav.js';

/** How long the page may be busy before it looks at its controls again. */
const BUSY_MS = 24;

/** @typedef {import('./take/recording.js').Recording} Recording */
/** @typedef {import('./timeline.js').Playhead} Playhead */
/** @typedef {import('./ear/hear.js').EarFacts & {known_as: string, file: string}} PageEar */

/**
 * @typedef {object} Stage  what the page does for a take
 * @property {any} drill @property {PageEar} ear @property {import('./timeline.js').Timeline} timeline
 * @property {() => Promise<AudioContext>} clock
 * @property {() => Promise<import('./tap.js').Click>} click
 * @property {() => Promise<import('./listen.js').Microphone | null>} listening  null where there is no microphone, which is told
 * @property {(recording: {tones: boolean}) => Playhead | null} playThrough
 * @property {() => void} stop
 */

export class Takes {
  /** @param {Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.ear = new Ear(stage.ear, wantedNotes(stage.timeline, stage.drill));
    this.recorder = new Recorder();
    const history = new TakeHistory(storage(), stage.ear.schema);
    const { harp, position } = stage.ear.head;
    this.keeping = new Keeping(history, { known_as: stage.ear.known_as, harp, position });
    this.latency = new LatencySetting(history, stage, () => this.#show());
    this.keeping.onForget = () => {
      this.said = undefined;
      this.latency.forget();
    };
    /** The newest recording, and how it was played. @type {{recording: Recording, head: Playhead} | null} */
    this.newest = null;
    /** The verdicts of the newest. @type {Record<string, any> | null} */
    this.take = null;
    /** @type {AudioBufferSourceNode | null} */
    this.replaying = null;
    this.#wire();
  }

  get on() {
    return this.recorder.on;
  }

  /** What the player said: true for headphones, false for speakers, null before he was asked. */
  get headphones() {
    const said = this.keeping.history.setting('headphones') ?? this.said ?? null;
    return said === null ? null : said === 'yes';
  }

  get ownAnchor() {
    return isOn('own-anchor');
  }

  get latency_ms() {
    return this.latency.ms;
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
    };
    for (const [what, handle] of Object.entries(does)) control(what).addEventListener('click', handle);
  }

  // --- recording ---------------------------------------------------------------------------

  async #record() {
    if (this.on) {
      this.stage.stop();
      return;
    }
    const microphone = await this.stage.listening();
    if (microphone === null || this.on) return;
    this.#stopReplay();
    this.askHeadphones();
    const headphones = this.headphones === true;
    const head = this.stage.playThrough({ tones: headphones });
    if (head === null) return;
    this.recorder.begin(microphone, head.whenPlayed(0), (recording) => this.#judge({ recording, head }));
    turn('record', true);
    setText(at('take-told'), `Recording after the count-in.${headphones ? '' : ' The tones are silent, because without headphones the microphone would hear them.'} Press Record again to end it sooner.`);
  }

  /** Judge a recording; another may be begun, and even end, while this goes on. @param {{recording: Recording, head: Playhead}} played */
  async #judge(played) {
    this.stage.stop();
    turn('record', false);
    setText(at('take-told'), 'Comparing what you played with the drill.');
    this.newest = played;
    this.take = null;
    const { recording } = played;
    const recorded = new Date().toISOString().replace(/\.\d+Z$/, 'Z');
    try {
      const take = await this.ear.hear(recording.samples(), recording.rate, { recorded, pause: breather() });
      const trouble = this.keeping.add(take);
      if (this.newest !== played) return;
      this.take = take;
      this.#show(trouble);
      document.dispatchEvent(new CustomEvent('reedmill-take', { detail: take }));
    } catch (error) {
      if (!(error instanceof NotHeard)) console.error(error);
      if (this.newest !== played) return;
      this.#clearMarks();
      setText(at('take-told'), error instanceof NotHeard ? error.message : 'This take could not be compared with the drill, because of a fault in this page. Save its sound: reedmill hear reads it.');
    }
    at('take-does').hidden = false;
    control('save-data').hidden = this.take === null;
  }

  /** @param {string | null} [trouble] */
  #show(trouble = null) {
    const { take } = this;
    if (take === null) return;
    this.#clearMarks();
    const marks = marksOf(take, this.ownAnchor, writtenTogether());
    for (const [index, verdict] of marks) mark(index, verdict);
    at('take-key').hidden = false;
    at('take-key').replaceChildren(...keyWords(take.tolerance, this.stage.timeline.notes.some((note) => note.beside.length > 0)).map((words) => element('span', words)));
    at('take-advice').replaceChildren(...take.advice.map((/** @type {string} */ sentence) => element('li', sentence)));
    const sameHarp = known(this.stage.ear.constants, 'harp_tuning').SAME_HARP_CENTS;
    setText(at('take-told'), sentenceOf(take, this.ownAnchor, sameHarp) + this.#onClick(take) + (trouble === null ? '' : ` ${trouble}`));
  }

  #clearMarks() {
    for (const note of this.stage.timeline.notes) mark(note.index, null);
    at('take-key').hidden = true;
    at('take-advice').replaceChildren();
  }

  /** How he was with the click, where he had one. @param {Record<string, any>} take */
  #onClick(take) {
    const { recording, head } = this.newest ?? {};
    if (!head || head.loop || recording?.start_s == null || take.passes.length !== 1 || !isOn('click')) return '';
    const { notes } = this.stage.timeline;
    const due_s = (/** @type {number} */ index) => head.when(0, notes[index].start);
    return onClickWords(earlyOnClick(take.passes[0].notes, recording.start_s, due_s, this.latency_ms), this.latency_ms);
  }

  #toggleAnchor() {
    turn('own-anchor', !this.ownAnchor);
    this.#show();
  }

  // --- again, and saved ----------------------------------------------------------------------

  async #replay() {
    if (this.replaying !== null) {
      this.#stopReplay();
      return;
    }
    if (this.newest === null || this.on) return;
    const { recording } = this.newest;
    const context = await this.stage.clock();
    this.stage.stop();
    const sound = context.createBuffer(1, Math.max(1, recording.count), recording.rate);
    sound.copyToChannel(recording.samples(), 0);
    const source = context.createBufferSource();
    source.buffer = sound;
    source.connect(context.destination);
    source.onended = () => this.#stopReplay();
    source.start();
    this.replaying = source;
    turn('replay', true);
  }

  #stopReplay() {
    const { replaying } = this;
    this.replaying = null;
    turn('replay', false);
    replaying?.stop();
    replaying?.disconnect();
  }

  get #name() {
    const when = (this.take?.recorded ?? new Date().toISOString()).slice(0, 19).replace(/[^0-9]+/g, '-');
    return `${this.stage.ear.file}-take-${when}`;
  }

  #save() {
    if (this.newest === null) return;
    const { recording } = this.newest;
    download(`${this.#name}.wav`, 'audio/wav', wavOf(recording.samples(), recording.rate));
  }

  #saveData() {
    if (this.take !== null) download(`${this.#name}.json`, 'application/json', JSON.stringify(this.take, null, 1));
  }

  // --- headphones ------------------------------------------------------------------------------

  /** @param {'yes' | 'no'} said */
  #answer(said) {
    this.said = said;
    this.keeping.history.set('headphones', said);
    at('headphones').hidden = true;
    setText(at('told'), said === 'yes' ? 'Headphones: the tones may sound while you play.' : 'Speakers: the tones are silent while you record, and a pitch that the page itself is playing is not counted as yours.');
  }
}

/** @param {string} kind @param {string} words */
function element(kind, words) {
  const made = document.createElement(kind);
  made.textContent = words;
  return made;
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
