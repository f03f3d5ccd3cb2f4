/**
 * The live ear: what the microphone gives now, on ladders and map, in a figure and words.
 */

import { at, setText } from './dom.js';
import { centsBetween } from './ear/numbers.js';
import { Ladder, wordsFor } from './ladder.js';
import { Modes } from './modes.js';
import { RestingPlace } from './resting.js';
import { Tally } from './tally.js';
import { OwnTones } from './take/bleed.js';
import { Phrases } from './take/phrases.js';

/** @typedef {import('./modes.js').HarpNote} HarpNote */
/** @typedef {import('./timeline.js').Playhead} Playhead */

/** Further from the note that is wanted it is another note, and cents say nothing. */
const ASTRAY_CENTS = 150;
/** The note before may still be heard for so long. */
const SETTLES_S = 0.1;
/** A shorter note is not asked for in a clean pass: too little of it is heard. */
const LEAST_HEARD_S = 0.3;

/**
 * @typedef {object} Stage
 * @property {any} drill @property {import('./timeline.js').Timeline} timeline @property {import('./app.js').PageData} page
 * @property {{echo: () => boolean, tones: () => boolean}} wishes  whether these are switched on
 */

export class Live {
  /** @param {Stage} stage */
  constructor({ drill, timeline, page, wishes }) {
    this.timeline = timeline;
    this.harp = page.harp;
    this.wishes = wishes;
    const { on, near } = page.ear.tolerance;
    this.on = on;
    this.ladders = page.reeds.map((reed, number) => new Ladder(at(`ladder-${number}`), reed, on));
    this.modes = new Modes(page.ear, page.harp);
    this.phrases = new Phrases((sentence) => setText(at('phrase-told'), sentence), on);
    this.tally = new Tally(near);
    this.resting = new RestingPlace((hz) => this.#rested(hz));
    /** What the page itself sounds. */
    this.own = new OwnTones();
    /** Called with each reading: whether there is a tone. @type {(tone: boolean, at_s: number) => void} */
    this.onReading = () => {};
    /** What was said of takes. @type {{on: boolean, headphones: boolean | null, ownAnchor: boolean, latency_ms: number}} */
    this.takes = { on: false, headphones: null, ownAnchor: false, latency_ms: 0 };
    /** The note that the music is at, -1 for none, and since when by the sound clock. */
    this.lit = -1;
    this.litSince_s = 0;
    /** Where the music is. @type {{pass: number, open: boolean} | null} */
    this.place = null;
    /** How far the anchor he played last lies from its place, in cents. */
    this.anchorOff = 0;
    const alone = drill.notes.filter((/** @type {any} */ note) => note.beside === undefined);
    const [first] = alone;
    this.anchor = (alone.find((/** @type {any} */ note) => note.role === 'anchor') ?? first)?.tab;
    this.modes.choose((alone.find((/** @type {any} */ note) => /['q]/.test(note.tab)) ?? first ?? page.ear.reeds[0]).tab);
  }

  /** Playing begins: no pass has been heard yet. */
  begin() {
    this.tally.forget();
  }

  /** The music is at note *index*, -1 for none; false where it was there before. @param {number} index @param {number} at_s */
  want(index, at_s) {
    if (index === this.lit) return false;
    const before = this.several;
    this.lit = index;
    if (this.several !== null) this.#saySeveral(this.several.tab);
    else if (before !== null) this.#say('', '');
    this.litSince_s = at_s;
    const tab = this.timeline.notes[index]?.tab;
    if (tab !== undefined) for (const ladder of this.ladders) ladder.want(ladder.reed.rungs.some((rung) => rung.tab === tab) ? tab : null);
    return true;
  }

  /** Whether the notes of a pass that have been heard for long enough by *now_s* were hit.
   * @param {Playhead} head @param {number} pass @param {number} now_s  of the sound clock
   */
  clean(head, pass, now_s) {
    const { first, last } = head.bounds;
    const open = this.wishes.echo();
    const heard = this.timeline.notes.filter(({ start, end, beside }) => {
      if (beside.length > 0 || start < first - 1e-9 || start >= last - 1e-9) return false;
      const from_s = head.when(pass, start, open);
      const to_s = Math.min(from_s + (end - start) * this.timeline.beatSeconds(head.share), now_s - this.takes.latency_ms / 1000);
      return to_s - from_s - SETTLES_S >= LEAST_HEARD_S;
    });
    return this.tally.clean(pass, heard.map((note) => note.index));
  }

  /** Nothing is listened to any more. */
  silence() {
    for (const ladder of this.ladders) ladder.show(NaN, 0);
    this.modes.reading(NaN, NaN, Infinity);
    this.#say('', '');
  }

  /** @param {import('./pitch.js').Reading} reading @param {number} at_s */
  heard(reading, at_s) {
    this.onReading(!Number.isNaN(reading.hz), at_s);
    const bleeds = this.takes.headphones !== true && this.own.mayBe(reading.hz, at_s);
    if (bleeds) setText(at('told'), 'A pitch that the page itself is playing is not counted as yours: without headphones the microphone hears both.');
    const hz = bleeds ? NaN : reading.hz;
    this.resting.take(this.several === null ? hz : NaN, at_s);
    this.phrases.reading(!Number.isNaN(hz), at_s);
    if (Number.isNaN(hz)) this.#none(at_s, reading.clarity);
    else this.#tone(hz, at_s, reading.clarity);
  }

  /** @param {number} at_s @param {number} clarity */
  #none(at_s, clarity) {
    for (const ladder of this.ladders) ladder.show(NaN, 0);
    this.modes.reading(NaN, NaN, at_s);
    tell({ hz: null, tab: null, cents: null, clarity });
  }

  /** @param {number} hz @param {number} at_s @param {number} clarity */
  #tone(hz, at_s, clarity) {
    const note = this.timeline.notes[this.lit] ?? null;
    if (this.several !== null) {
      this.#notJudged(this.several.tab, hz, at_s, clarity);
      return;
    }
    const near = this.#nearest(hz);
    const asked = note !== null && (this.takes.on || !this.wishes.tones()) ? note : near;
    const wanted = this.modes.wanted ?? asked;
    const cents = this.#against(centsBetween(wanted.hz, hz));
    for (const ladder of this.ladders) ladder.show(hz, cents);
    this.modes.reading(hz, cents, at_s);
    this.#count(note, near, hz, at_s);
    const said = Math.abs(cents) > ASTRAY_CENTS
      ? { sign: '', figure: near.tab, words: `is what you play; play ${wanted.tab}` }
      : wordsFor(wanted, cents, this.on);
    this.#say(`${said.sign} ${said.figure}`, this.takes.ownAnchor ? `${said.words} (from your own anchor)` : said.words);
    tell({ hz, tab: near.tab, cents: centsBetween(near.hz, hz), clarity });
  }

  /** Several holes are to sound: their pitches are not told apart, so nothing is said of them.
   * @param {string} tab @param {number} hz @param {number} at_s @param {number} clarity
   */
  #notJudged(tab, hz, at_s, clarity) {
    for (const ladder of this.ladders) ladder.show(NaN, 0);
    this.modes.reading(hz, NaN, at_s);
    this.#saySeveral(tab);
    tell({ hz, tab: null, cents: null, clarity });
  }

  /** The note of several holes that the music is at, where the drill is what is listened for. */
  get several() {
    const note = this.timeline.notes[this.lit];
    return note !== undefined && note.beside.length > 0 && this.modes.wanted === null ? note : null;
  }

  /** @param {string} tab */
  #saySeveral(tab) {
    this.#say(tab, 'several holes at once are not judged');
  }

  /** @param {string} figure @param {string} words */
  #say(figure, words) {
    setText(at('heard-figure'), figure);
    setText(at('heard-words'), words);
  }

  /** Count a reading for the pass; an echo is judged where it is the player's turn.
   * @param {import('./timeline.js').TimedNote | null} note @param {HarpNote} near @param {number} hz @param {number} at_s
   */
  #count(note, near, hz, at_s) {
    const { place } = this;
    if (note === null || place === null || at_s - this.litSince_s <= SETTLES_S) return;
    if (!place.open && this.wishes.echo()) return;
    this.tally.take(place.pass, note.index, near.tab === note.tab ? centsBetween(note.hz, hz) : NaN);
  }

  /** A try came to rest. @param {number} hz */
  #rested(hz) {
    const near = this.#nearest(hz);
    const away = centsBetween(near.hz, hz);
    if (near.tab === this.anchor) this.anchorOff = away;
    this.phrases.rest(near.tab, this.#against(away));
    this.modes.rest(hz);
    for (const ladder of this.ladders) ladder.rest(hz);
  }

  /** The note of the harp that is nearest to a pitch. @param {number} hz */
  #nearest(hz) {
    return this.harp.reduce((best, each) => (Math.abs(centsBetween(each.hz, hz)) < Math.abs(centsBetween(best.hz, hz)) ? each : best));
  }

  /** Takes off what the player's own anchor is out, where he asks for that. @param {number} cents */
  #against(cents) {
    return this.takes.ownAnchor ? cents - this.anchorOff : cents;
  }
}

/** @param {object} detail */
function tell(detail) {
  document.dispatchEvent(new CustomEvent('reedmill-reading', { detail }));
}
