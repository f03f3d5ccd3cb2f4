/**
 * The whole way: the sound of a take and a score in, every note with its verdict out, in the form
 * that `reedmill hear --json` writes.
 *
 * The logic is that of Reedmill's ear and its constants come from there, in the page's data.
 * Work is done in small parts with pauses between them, so that the page stays alive.
 */

import { adviser, byRung } from './advice.js';
import { aligner, eventsOf, harpOffset, pacesOf } from './align.js';
import { Decimator } from './decimate.js';
import { Judge } from './judge.js';
import { centsOf, known, median, roundedTo } from './numbers.js';
import { segmenter } from './segment.js';
import { Tracker } from './track.js';
import { harpCents } from './tuning.js';

const READINGS_AT_ONCE = 64;
const SAMPLES_AT_ONCE = 16_384;

/** @typedef {import('./judge.js').HeardNote} HeardNote */
/** @typedef {import('./align.js').Pair} Pair */
/** @typedef {import('./align.js').ExpectedNotes} ExpectedNotes */
/** @typedef {import('./segment.js').DetectedNote} DetectedNote */

/**
 * @typedef {object} EarFacts  of the page's data, made by reedmill.ear.ear_facts
 * @property {Record<string, Record<string, any>>} constants
 * @property {Record<string, string>} words
 * @property {import('./tuning.js').EarReed[]} reeds
 * @property {number[][]} slides  the slow ones: cents they go from and to
 * @property {number[]} possible_hz @property {[number, number]} range_hz
 * @property {[words: string, cents: number][]} harps  the page's own first
 * @property {import('./judge.js').Tolerance} tolerance
 * @property {Record<string, any>} head  what every take of the drill says alike
 * @property {object} schema  of a take
 */

/** @typedef {Record<string, any>} TakeData  a take as hear --json writes it */

/** @typedef {{words: string, cents: number}} Harp  with its article, and how far it sounds above the page's own */

/**
 * @typedef {object} WantedNote
 * @property {string} tab @property {string} role @property {number} hz @property {number} start_s @property {number} end_s
 * @property {boolean} joined
 * @property {boolean} several  holes at once, which are not told apart and not judged
 * @property {number | null} slide_s  of a slow slide
 * @property {boolean} falls  off its pitch at its end
 */

/** Why a take cannot be heard, as a sentence for its player. */
export class NotHeard extends Error {}

export class Ear {
  /** @param {EarFacts} facts @param {WantedNote[]} notes  of the drill at its own tempo */
  constructor(facts, notes) {
    this.facts = facts;
    /** @type {Harp[]} */
    this.harps = facts.harps.map(([words, cents]) => ({ words, cents }));
    this.k = known(facts.constants, 'hear');
    const reeds = new Map(facts.reeds.map((reed) => [reed.tab, reed]));
    this.reedOf = (/** @type {string} */ tab) => /** @type {import('./tuning.js').EarReed} */ (reeds.get(tab));
    this.wanted = expected(notes);
    const judged = this.wanted.numbers.map((number) => ({ ...notes[number], reed: this.reedOf(notes[number].tab) }));
    this.score = { all: notes, notes: judged, reeds: facts.reeds, wanted: this.wanted };
    this.aligner = aligner(facts.constants);
    this.segmenter = segmenter(facts.constants);
  }

  /**
   * What was played, as the record of a take.
   * @param {Float32Array} sound @param {number} rate  samples a second
   * @param {{recorded?: string | null, pause?: () => Promise<void>}} [how]
   * @returns {Promise<TakeData>}  throws `NotHeard`
   */
  async hear(sound, rate, { recorded = null, pause = async () => {} } = {}) {
    if (this.score.notes.length === 0) throw new NotHeard('Every note of this drill is of several holes at once, and these are not judged. Record a drill that has single notes too.');
    const clipped = this.#checkAudible(sound, rate);
    const steps = await this.#decimated(sound, rate, pause);
    const { possible_hz, range_hz } = this.facts;
    const track = await this.#tracked(steps, { wanted_hz: this.score.notes.map((note) => note.hz), possible_hz, range_hz }, pause);
    const gate = this.segmenter.gateOf(track);
    const all = this.segmenter.findEvents(track, gate, this.facts.slides, this.score.notes.some((note) => note.falls));
    if (all.length * this.wanted.cents.length > this.k.MOST_COMPARED) {
      throw new NotHeard('Too many notes are in this recording to compare each with each. Record a shorter one.');
    }
    const offset = harpOffset(all, this.wanted);
    const events = this.#withoutBackground(all, offset, gate.quiet);
    await pause();
    const { aligned, measured } = this.#aligned(events, offset);
    if (!this.#isThisDrill(events, this.wanted, aligned, measured ?? 0)) throw this.#another(events, await this.#harpsLike(steps, pause));
    if (Math.abs(measured ?? 0) > this.k.FAR_CENTS) {
      const nearer = likeliest(await this.#harpsLike(steps, pause));
      if (nearer !== null && nearer !== this.harps[0]) throw onAnotherHarp(nearer);
    }
    const judge = new Judge(this.facts.constants, this.score, events, measured ?? 0, this.facts.tolerance);
    const seconds = steps.length / this.#rate;
    return this.#record(judge, aligned, measured, recorded, seconds, {
      seconds: roundedTo(seconds, 2), level_dbfs: roundedTo(gate.player_db, 1),
      noise_dbfs: roundedTo(gate.background_db, 1), clipped_share: roundedTo(clipped, 5),
    });
  }

  get #rate() {
    return known(this.facts.constants, 'take').RATE;
  }

  /** The share that is at full scale; throws for a take that is too short, silent or overdriven. @param {Float32Array} sound @param {number} rate */
  #checkAudible(sound, rate) {
    const { SHORTEST_S, SILENT_DB, CLIPPED_AT, MOST_CLIPPED } = known(this.facts.constants, 'take');
    if (sound.length < SHORTEST_S * rate) {
      throw new NotHeard(`This recording lasts ${(sound.length / rate).toFixed(1)} s, which is too short to hear anything in. Record the whole drill.`);
    }
    const block = Math.round(rate / 10);
    let [loudest, power, over] = [0, 0, 0];
    sound.forEach((each, n) => {
      power += each * each;
      if (Math.abs(each) >= CLIPPED_AT) over += 1;
      if ((n + 1) % block === 0 || n + 1 === sound.length) {
        loudest = Math.max(loudest, power / ((n % block) + 1));
        power = 0;
      }
    });
    if (10 * Math.log10(Math.max(loudest, 1e-12)) < SILENT_DB) {
      throw new NotHeard('The microphone heard only silence. Check that it is on and that the harp is near it, then record again.');
    }
    if (over / sound.length > MOST_CLIPPED) {
      throw new NotHeard(`This recording is overdriven: ${((100 * over) / sound.length).toFixed(0)}% of it is at full scale. Move away from the microphone, or turn its level down, and record again.`);
    }
    return over / sound.length;
  }

  /** @param {Float32Array} sound @param {number} rate @param {() => Promise<void>} pause */
  async #decimated(sound, rate, pause) {
    const decimator = new Decimator(rate, this.#rate);
    const steps = new Float32Array(decimator.length(sound.length));
    for (let n = 0; n < steps.length; n += SAMPLES_AT_ONCE) {
      steps.set(decimator.part(sound, n, Math.min(n + SAMPLES_AT_ONCE, steps.length)), n);
      await pause();
    }
    return steps;
  }

  /** @param {Float32Array} steps @param {import('./track.js').Expected} expected @param {() => Promise<void>} pause */
  async #tracked(steps, expected, pause) {
    const tracker = new Tracker(this.facts.constants, expected);
    const track = tracker.empty(steps.length);
    for (let n = 0; n < track.hz.length; n += READINGS_AT_ONCE) {
      tracker.fill(track, steps, n, Math.min(n + READINGS_AT_ONCE, track.hz.length));
      await pause();
    }
    return track;
  }

  /** Without soft tones that are not wanted notes, as of a band or speaker. @param {DetectedNote[]} events @param {number} offset @param {boolean} quiet */
  #withoutBackground(events, offset, quiet) {
    const near = events.map((event) => this.wanted.cents.some((each) => Math.abs(event.cents - offset - each) <= this.k.SAME_NOTE_CENTS));
    const levels = events.filter((_, n) => near[n]).map((each) => each.level_db);
    if (levels.length === 0) return events;
    const least = median(levels) - (quiet ? this.k.SOFTER_DB : this.k.SOFTER_BESIDE_DB);
    return events.filter((each, n) => near[n] || each.level_db >= least);
  }

  /** The passes, and how the harp is tuned, each found with the help of the other. @param {DetectedNote[]} events @param {number} offset */
  #aligned(events, offset) {
    const { wanted } = this;
    /** @type {number | null} */
    let measured = null;
    let aligned = this.aligner.align(events, wanted, offset);
    for (let turn = 0; turn < this.k.TRIES; turn += 1) {
      const paces = pacesOf(events, wanted, aligned.flat());
      if (paces.length >= this.k.ENOUGH_PACES) aligned = this.aligner.align(events, wanted, offset, median(paces), true);
      measured = harpCents(this.facts.constants, this.#distances(events, aligned));
      if (measured === null || Math.abs(measured - offset) < 4) break;
      offset = measured;
    }
    return { aligned: this.aligner.withSubstitutes(aligned, events, wanted), measured };
  }

  /** The reed of each steady note that was heard, with its distance from the target.
   * @param {DetectedNote[]} events @param {Pair[][]} aligned @returns {[import('./tuning.js').EarReed, number][]}
   */
  #distances(events, aligned) {
    return aligned.flat().flatMap(([index, number]) => {
      if (number === null || !events[number].steady) return [];
      return [[this.score.notes[index].reed, events[number].cents - this.wanted.cents[index]]];
    });
  }

  /** True when enough of what is heard is what is wanted, in its order.
   * @param {DetectedNote[]} events @param {ExpectedNotes} wanted @param {Pair[][]} aligned @param {number} offset
   */
  #isThisDrill(events, wanted, aligned, offset) {
    const [good, rows] = this.#countGood(events, wanted, aligned, offset);
    const used = aligned.flatMap(eventsOf).length;
    const open = this.aligner.steppedOver(events, wanted, aligned);
    const other = events.filter((each, n) => !open.has(n) && each.steady && each.end_s - each.start_s > 0.15).length - used;
    const least = Math.min(this.k.ENOUGH_NOTES, Math.ceil(0.6 * wanted.cents.length));
    return good >= least && good >= this.k.LEAST_GOOD * (rows + Math.max(0, other));
  }

  /** How many notes of the passes are what they should be, and how many there are.
   * @param {DetectedNote[]} events @param {ExpectedNotes} wanted @param {Pair[][]} aligned @param {number} offset
   */
  #countGood(events, wanted, aligned, offset) {
    const pairs = aligned.flat();
    const good = pairs.filter(([index, number]) =>
      number !== null && Math.abs(events[number].cents - offset - wanted.cents[index]) <= this.k.SAME_NOTE_CENTS);
    return [good.length, pairs.length];
  }

  /** Why these events cannot be heard as the drill. @param {DetectedNote[]} events @param {HarpFit[]} fits */
  #another(events, fits) {
    const harp = likeliest(fits.filter((fit) => fit.harp !== this.harps[0]));
    if (harp !== null) return onAnotherHarp(harp);
    const steady = events.filter((each) => each.steady).length;
    if (steady < Math.min(this.k.ENOUGH_NOTES, this.wanted.cents.length)) {
      const few = ['No clear note was', 'Only 1 clear note was'][steady] ?? `Only ${steady} clear notes were`;
      return new NotHeard(`${few} heard, too few to compare with the drill. Play the whole drill with the harp near the microphone.`);
    }
    return new NotHeard('What was played is not this drill, so no note is judged. Play the notes on the page in their order.');
  }

  /**
   * The harps, the page's own among them, on which the same drill would sound as it does here.
   * The take is heard again for it, because what was heard for the page's harp ends where that does.
   * @param {Float32Array} steps @param {() => Promise<void>} pause @returns {Promise<HarpFit[]>}
   */
  async #harpsLike(steps, pause) {
    const part = steps.subarray(0, this.k.MOST_S * this.#rate);
    const track = await this.#tracked(part, { wanted_hz: [], possible_hz: [], range_hz: this.k.ANY_HARP_HZ }, pause);
    const events = this.segmenter.findEvents(track, this.segmenter.gateOf(track)).slice(0, this.k.MOST_LOOKED_AT);
    const fits = [];
    for (const harp of this.harps) {
      const there = { ...this.wanted, cents: this.wanted.cents.map((each) => each + harp.cents) };
      const offset = harpOffset(events, there);
      const aligned = this.aligner.align(events, there, offset);
      await pause();
      if (!this.#isThisDrill(events, there, aligned, offset)) continue;
      const [good, rows] = this.#countGood(events, there, aligned, offset);
      fits.push({ harp, share: good / rows, out: Math.abs(offset) });
    }
    return fits;
  }

  /** @param {Judge} judge @param {Pair[][]} aligned @param {number | null} measured @param {string | null} recorded @param {number} seconds @param {object} sound @returns {TakeData} */
  #record(judge, aligned, measured, recorded, seconds, sound) {
    const { facts } = this;
    const passes = judge.passes(aligned, seconds);
    const notes = passes.flatMap((each) => each.notes);
    const rungs = byRung(notes);
    const paces = aligned.flatMap((pairs) => judge.paces(pairs));
    const { advise } = adviser(facts.constants, facts.words, this.reedOf);
    return {
      ...facts.head,
      recorded,
      tempo_heard: paces.length > 0 ? roundedTo(facts.head.tempo / median(paces), 1) : null,
      harp_cents: roundedTo(measured, 1),
      tolerance: { ...facts.tolerance },
      sound,
      passes: passes.map((each) => ({ ...inTime(each), notes: each.notes.map(noteData) })),
      extra: judge.extras(aligned).map((each) => ({ ...inTime(each), hz: roundedTo(each.hz, 3), nearest_tab: each.nearest_tab })),
      by_rung: rungs.map(({ tab, from, count, median_cents, spread_cents, on }) => ({
        tab, from, count, median_cents: roundedTo(median_cents, 1), spread_cents: roundedTo(spread_cents, 1), on,
      })),
      advice: advise(notes, rungs, facts.tolerance),
    };
  }
}

/** @typedef {{harp: Harp, share: number, out: number}} HarpFit  share of notes right, and cents that the harp is out */

/** The best fit; of two harps a semitone apart, the one nearer to its pitch. @param {HarpFit[]} fits */
function likeliest(fits) {
  return fits.reduce((best, fit) => (best === null || fit.share > best.share || (fit.share === best.share && fit.out < best.out) ? fit : best), /** @type {HarpFit | null} */ (null))?.harp ?? null;
}

/** @param {Harp} harp */
function onAnotherHarp(harp) {
  return new NotHeard(`This is the drill, but not on the harp of this page: it sounds like ${harp.words}. Take the other harp, or make a page for this one.`);
}

/** @param {{start_s: number, end_s: number}} each */
function inTime({ start_s, end_s }) {
  return { start_s: roundedTo(start_s, 3), end_s: roundedTo(end_s, 3) };
}

/** @param {HeardNote} note */
function noteData(note) {
  const { index, tab, role, from, verdict } = note;
  return {
    index, tab, role, from, wanted_hz: roundedTo(note.wanted_hz, 3),
    start_s: roundedTo(note.start_s, 3), end_s: roundedTo(note.end_s, 3), hz: roundedTo(note.hz, 3),
    cents: roundedTo(note.cents, 1), cents_from_anchor: roundedTo(note.cents_from_anchor, 1),
    steadiness_cents: roundedTo(note.steadiness_cents, 1), found_after_s: roundedTo(note.found_after_s, 3),
    early_ms: roundedTo(note.early_ms, 0), verdict,
    ...(verdict === 'another-note' ? { heard_as: note.heard_as ?? null } : {}),
    ...(note.slide_s === undefined ? {} : { slide_s: roundedTo(note.slide_s, 3) }),
  };
}

/** The notes that are listened for. @param {import('../timeline.js').Timeline} timeline @param {{notes: {role: string}[]}} drill @returns {WantedNote[]} */
export function wantedNotes(timeline, drill) {
  const beat_s = timeline.beatSeconds(1);
  return timeline.notes.map(({ index, tab, hz, start, end, joined, beside, slide, style }) => ({
    tab, hz, joined, role: drill.notes[index].role, start_s: start * beat_s, end_s: end * beat_s,
    several: beside.length > 0, slide_s: slide === null ? null : slide * beat_s, falls: style.includes('fall'),
  }));
}

/** The notes that are looked for among all of a drill. @param {WantedNote[]} notes @returns {ExpectedNotes} */
function expected(notes) {
  const numbers = notes.flatMap((note, number) => (note.several ? [] : [number]));
  const judged = numbers.map((number) => notes[number]);
  return {
    numbers,
    seconds: Float64Array.from(judged, ({ start_s, slide_s }) => start_s + (slide_s ?? 0) / 2),
    cents: Float64Array.from(judged, (note) => centsOf(note.hz)),
    joined: judged.map((note) => note.joined),
    lifted: numbers.map((number) => notes[number].joined && notes[number - 1]?.several === true),
    before_s: judged.map(({ start_s }, n) => start_s - notes[(numbers[n - 1] ?? -1) + 1].start_s),
    after_s: judged.map(({ start_s }, n) => {
      const next = numbers[n + 1] ?? notes.length;
      return next - numbers[n] > 1 ? notes[next - 1].end_s - start_s : 0;
    }),
  };
}
