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
 * @property {number} hz @property {boolean} [joined]
 * @property {{tab: string, hz: number}[]} [beside]  the other holes of the breath, the lowest first
 * @property {string[]} [style] @property {number} [a_beat]  how often a vibrato or a shake goes to and fro
 * @property {string} [sounding_slide]  beats of a slow slide
 * @property {number[]} [held]  of a lift: the holes that sound on from the note before
 */

/** @typedef {{burst?: number[], room?: number}} Shape  Hz of what sounds for an instant in a slap or a pull; cents of a scoop or a fall */

/**
 * @typedef {object} TimedNote
 * @property {number} index  of the note in the data
 * @property {number} start  beats from the start of the score until it sounds
 * @property {number} end
 * @property {number} written  beats from the start of the score as it is written; a shuffle plays some later
 * @property {number} writtenEnd
 * @property {number} hz
 * @property {string} tab
 * @property {boolean} joined  reached by a slide or a lift, in the breath of the note before
 * @property {boolean} lifted  by a lift: holes of the note before sound on, others join or leave
 * @property {{tab: string, hz: number}[]} beside  the other holes of the breath, the lowest first
 * @property {string[]} style
 * @property {number} aBeat
 * @property {number | null} slide  beats of its slide, null where that is as quick as usual
 * @property {number[]} burst
 * @property {number} room
 */

/** The value of exact text: "3" or "7/3". @param {string} text */
export function beatsOf(text) {
  const [over, under = '1'] = text.split('/');
  return Number(over) / Number(under);
}

export class Timeline {
  /** @param {{notes: NoteData[], tempo: number}} data @param {{pulse?: number, barBeats?: number, shapes?: Record<string, Shape>}} [of] */
  constructor(data, { pulse = 1, barBeats = 4, shapes = {} } = {}) {
    this.tempo = data.tempo;
    this.pulse = pulse;
    this.barBeats = barBeats;
    /** @type {TimedNote[]} */
    this.notes = data.notes.map((note, index) => {
      const start = beatsOf(note.sounding_start);
      const written = beatsOf(note.start);
      return {
        index, start, end: start + beatsOf(note.sounding_length), written, writtenEnd: written + beatsOf(note.length),
        hz: note.hz, tab: note.tab, joined: note.joined ?? false, lifted: note.held !== undefined,
        beside: note.beside ?? [], style: note.style ?? [], aBeat: note.a_beat ?? 0,
        slide: note.sounding_slide === undefined ? null : beatsOf(note.sounding_slide),
        burst: shapes[index]?.burst ?? [], room: shapes[index]?.room ?? 0,
      };
    });
    const last = this.notes.reduce((most, note) => Math.max(most, note.end), 0);
    /** Beats to the end of the last bar. */
    this.length = Math.ceil(last / barBeats - 1e-9) * barBeats;
  }

  /** Seconds of one beat at *share* of the written tempo. @param {number} share */
  beatSeconds(share) {
    return 60 / (this.tempo * share * this.pulse);
  }

  /** The breaths of the score: a note with those that are joined to it. @returns {TimedNote[][]} */
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
 * @typedef {object} Stretch  bars gone through once
 * @property {number} first  beats of the score
 * @property {number} last
 * @property {boolean} open  left to whoever plays: no tone sounds
 */

/**
 * The stretches from *from* to *to*; with an echo each is played, then left open.
 *
 * An echo cuts every *echo* bars, later where a note or a slide crosses the bar line; 0 leaves
 * the whole open at once, null nothing.  Reedmill's recordings are cut the same way.
 * @param {Timeline} timeline @param {number} from @param {number} to @param {number | null} echo @returns {Stretch[]}
 */
export function stretchesOf(timeline, from, to, echo) {
  if (echo === null) return [{ first: from, last: to, open: false }];
  const { barBeats } = timeline;
  const cuts = [from];
  const crosses = (/** @type {number} */ line) =>
    timeline.attacks().some((breath) => breath[0].written < line - 1e-9 && breath[breath.length - 1].writtenEnd > line + 1e-9);
  let since = 0;
  for (let line = (Math.floor(from / barBeats + 1e-9) + 1) * barBeats; echo > 0 && line < to - 1e-9; line += barBeats) {
    since += 1;
    if (since >= echo && !crosses(line)) {
      cuts.push(line);
      since = 0;
    }
  }
  return cuts.flatMap((first, n) => [false, true].map((open) => ({ first, last: cuts[n + 1] ?? to, open })));
}

/**
 * Where playing is: maps seconds of the sound clock to beats, through loops, echoes and changes
 * of tempo.
 *
 * A pace has one tempo and one start; a change begins a new one at the very moment it takes
 * hold, so no time is lost and none is counted twice.
 */
export class Playhead {
  /**
   * @param {Timeline} timeline
   * @param {{from?: number, to?: number, share?: number, loop?: boolean, echo?: number | null}} [how]
   *   beats, share of the tempo, bars of an echo
   */
  constructor(timeline, { from = 0, to = timeline.length, share = 1, loop = false, echo = null } = {}) {
    this.timeline = timeline;
    this.loop = loop;
    this.share = share;
    this.stretches = stretchesOf(timeline, from, to, echo);
    /** Beats of one pass through all stretches. */
    this.span = this.stretches.reduce((sum, each) => sum + each.last - each.first, 0);
    /** In time order: when each pace began, and how many beats were played by then.
     * @type {{origin_s: number, origin: number, share: number}[]}
     */
    this.paces = [];
    this.begin(0);
  }

  /** The score's first and last beat that is played. */
  get bounds() {
    return { first: this.stretches[0].first, last: this.stretches[this.stretches.length - 1].last };
  }

  /** Begin: the first beat sounds at *at_s* of the sound clock. @param {number} at_s */
  begin(at_s) {
    this.paces = [{ origin_s: at_s, origin: 0, share: this.share }];
  }

  /** Go on at *share* of the tempo from *at_s* on; what was to change later is forgotten. @param {number} share @param {number} at_s */
  change(share, at_s) {
    const origin = this.playedBeats(at_s);
    this.paces = this.paces.filter((each, n) => n === 0 || each.origin_s < at_s);
    this.paces.push({ origin_s: at_s, origin, share });
    this.share = share;
  }

  /** Beats played since the beginning, over all passes. @param {number} at_s */
  playedBeats(at_s) {
    const one = this.paces.findLast((each) => each.origin_s <= at_s) ?? this.paces[0];
    return one.origin + (at_s - one.origin_s) / this.timeline.beatSeconds(one.share);
  }

  /** When so many beats have been played, in seconds of the sound clock. @param {number} beats */
  whenPlayed(beats) {
    const one = this.paces.findLast((each) => each.origin <= beats + 1e-9) ?? this.paces[0];
    return one.origin_s + (beats - one.origin) * this.timeline.beatSeconds(one.share);
  }

  /** When a beat of the score comes up in a pass, in seconds of the sound clock: where the stretch it
   * lies in sounds, or where it is left open.
   * @param {number} pass @param {number} beat @param {boolean} [open]
   */
  when(pass, beat, open = false) {
    let played = pass * this.span;
    for (const stretch of this.stretches) {
      if (stretch.open === open && beat >= stretch.first - 1e-9 && beat < stretch.last - 1e-9) return this.whenPlayed(played + beat - stretch.first);
      played += stretch.last - stretch.first;
    }
    return this.whenPlayed(played);
  }

  /** Which pass it is (from 0), which beat of the score, and whether that is left open; null when
   * all is played.  Before the beginning the beat lies before the first.
   * @param {number} at_s
   */
  at(at_s) {
    return this.placeOf(this.playedBeats(at_s));
  }

  /** The same by the beats played so far. @param {number} played */
  placeOf(played) {
    if (played < 0) return { pass: 0, beat: this.stretches[0].first + played, open: false };
    const pass = Math.floor(played / this.span + 1e-12);
    if (pass > 0 && !this.loop) return null;
    let left = played - pass * this.span;
    for (const { first, last, open } of this.stretches) {
      if (left < last - first - 1e-9) return { pass, beat: first + left, open };
      left -= last - first;
    }
    const { last, open } = this.stretches[this.stretches.length - 1];
    return { pass, beat: last, open };
  }
}
