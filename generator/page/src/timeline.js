/**
 * A score in time: which note sounds when, at any tempo, looped or not.
 *
 * Beats come as exact text ("7/3") from Reedmill's data of a drill and are turned into numbers
 * once.  A beat here is a beat of the score; `tempo` counts pulses of `pulse` beats a minute.
 */

/**
 * @typedef {object} NoteData  a note in the data of a drill
 * @property {string} start @property {string} length
 * @property {string} sounding_start @property {string} sounding_length
 * @property {string} tab @property {string} name @property {string} degree @property {string} role
 * @property {number} hz @property {boolean} joined
 */

/**
 * @typedef {object} TimedNote
 * @property {number} index  of the note in the data
 * @property {number} start  beats from the start of the score until it sounds
 * @property {number} end
 * @property {number} hz
 * @property {string} tab
 * @property {boolean} joined  reached by a slide, in the breath of the note before
 */

/** The value of exact text: "3" or "7/3". @param {string} text */
export function beatsOf(text) {
  const [over, under = '1'] = text.split('/');
  return Number(over) / Number(under);
}

export class Timeline {
  /** @param {{notes: NoteData[], tempo: number}} data @param {{pulse?: number, barBeats?: number}} [meter] */
  constructor(data, { pulse = 1, barBeats = 4 } = {}) {
    this.tempo = data.tempo;
    this.pulse = pulse;
    this.barBeats = barBeats;
    /** @type {TimedNote[]} */
    this.notes = data.notes.map((note, index) => {
      const start = beatsOf(note.sounding_start);
      return { index, start, end: start + beatsOf(note.sounding_length), hz: note.hz, tab: note.tab, joined: note.joined };
    });
    const last = this.notes.reduce((most, note) => Math.max(most, note.end), 0);
    /** Beats to the end of the last bar. */
    this.length = Math.ceil(last / barBeats - 1e-9) * barBeats;
  }

  /** Seconds of one beat at *share* of the written tempo. @param {number} share */
  beatSeconds(share) {
    return 60 / (this.tempo * share * this.pulse);
  }

  /** The breaths of the score: a note with the notes slid to from it. @returns {TimedNote[][]} */
  attacks() {
    /** @type {TimedNote[][]} */
    const found = [];
    for (const note of this.notes) {
      if (note.joined && found.length > 0) found[found.length - 1].push(note);
      else found.push([note]);
    }
    return found;
  }

  /** The note that sounds at *beat*, or the one before it in a rest of its bar; null before the first.
   * @param {number} beat
   */
  noteAt(beat) {
    let low = 0;
    let high = this.notes.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.notes[middle].start <= beat + 1e-9) low = middle + 1;
      else high = middle;
    }
    const note = this.notes[low - 1];
    return note !== undefined && beat < note.end - 1e-9 ? note : null;
  }
}

/**
 * Where playing is: maps seconds of the sound clock to beats, through loops and tempo changes.
 *
 * A stretch of playing has one tempo and one start; a change begins a new stretch at the very
 * moment it takes hold, so no time is lost and none is counted twice.
 */
export class Playhead {
  /**
   * @param {Timeline} timeline
   * @param {{from?: number, to?: number, share?: number, loop?: boolean}} [how]  beats, and share of the tempo
   */
  constructor(timeline, { from = 0, to = timeline.length, share = 1, loop = false } = {}) {
    this.timeline = timeline;
    this.from = from;
    this.to = to;
    this.loop = loop;
    this.share = share;
    /** Stretches of one tempo, in time order: when each began, and how many beats were played by then.
     * @type {{origin_s: number, origin: number, share: number}[]}
     */
    this.stretches = [];
    this.begin(0);
  }

  /** Begin: the first beat sounds at *at_s* of the sound clock. @param {number} at_s */
  begin(at_s) {
    this.stretches = [{ origin_s: at_s, origin: 0, share: this.share }];
  }

  /** Go on at *share* of the tempo from *at_s* on. @param {number} share @param {number} at_s */
  change(share, at_s) {
    this.stretches.push({ origin_s: at_s, origin: this.playedBeats(at_s), share });
    this.share = share;
  }

  /** Beats played since the beginning, over all passes. @param {number} at_s */
  playedBeats(at_s) {
    const one = this.stretches.findLast((each) => each.origin_s <= at_s) ?? this.stretches[0];
    return one.origin + (at_s - one.origin_s) / this.timeline.beatSeconds(one.share);
  }

  /** When so many beats have been played, in seconds of the sound clock. @param {number} beats */
  whenPlayed(beats) {
    const one = this.stretches.findLast((each) => each.origin <= beats) ?? this.stretches[0];
    return one.origin_s + (beats - one.origin) * this.timeline.beatSeconds(one.share);
  }

  /** Which pass it is (from 0) and which beat of the score; null when all is played. @param {number} at_s */
  at(at_s) {
    const played = this.playedBeats(at_s);
    const span = this.to - this.from;
    if (played < 0) return { pass: 0, beat: this.from + played };
    const pass = Math.floor(played / span + 1e-12);
    if (pass > 0 && !this.loop) return null;
    return { pass, beat: this.from + (played - pass * span) };
  }
}
