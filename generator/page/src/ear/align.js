/**
 * Which heard event is which note of the score: a cheapest path over both, pass after pass.
 *
 * The student keeps his own pace and wanders; he leaves notes out, puts others in, breaks off,
 * starts again.  Each step of the path is priced by how far the pitch is off, how far the time
 * between the two notes is from the pace so far, and what it passes over.
 */

import { clip, known, median } from './numbers.js';

/** @typedef {import('./segment.js').DetectedNote} DetectedNote */
/**
 * @typedef {object} ExpectedNotes  the notes to look for; several holes at once are not told apart, and stepped over
 * @property {number[]} numbers  of the notes in the score
 * @property {Float64Array} seconds  of a slow slide, when it is half way
 * @property {Float64Array} cents
 * @property {boolean[]} joined
 * @property {boolean[]} lifted  left alone by the other holes of a chord: no onset of its own
 * @property {number[]} before_s  seconds of the notes that are not judged just before it, 0 for none
 * @property {number[]} after_s  seconds from its start to the end of those just after it, 0 for none
 */
/** @typedef {[number, number | null]} Pair  number of the wanted note, number of its event */

/** Whether notes that are not judged lie between two of those wanted. @param {ExpectedNotes} wanted @param {number} before @param {number} after */
export function notJudgedBetween({ before_s }, before, after) {
  for (let n = before + 1; n <= after; n += 1) if (before_s[n] > 0) return true;
  return false;
}

/**
 * How many cents all events together lie over the notes wanted; a first guess.
 * @param {DetectedNote[]} events @param {ExpectedNotes} wanted @param {number} [mostCents]
 */
export function harpOffset(events, wanted, mostCents = 50) {
  const steady = events.filter((each) => each.steady);
  if (steady.length === 0) return 0;
  const notes = [...new Set(Array.from(wanted.cents, (each) => Math.round(each * 100) / 100))];
  let [best, place] = [-Infinity, 0];
  for (let offset = -mostCents; offset <= mostCents; offset += 2) {
    let fit = 0;
    for (const event of steady) {
      const away = Math.min(...notes.map((note) => Math.abs(event.cents - offset - note)));
      fit += Math.min(1, event.end_s - event.start_s) * Math.exp(-((away / 12) ** 2));
    }
    fit *= 1 - Math.abs(offset) / 400;
    if (fit > best) [best, place] = [fit, offset];
  }
  return place;
}

/** Seconds played for one of the score, from each note heard to the next.
 * @param {DetectedNote[]} events @param {ExpectedNotes} wanted @param {Pair[]} pairs
 */
export function pacesOf(events, wanted, pairs) {
  const heard = pairs.filter(([, number]) => number !== null);
  /** @type {number[]} */
  const found = [];
  for (let n = 1; n < heard.length; n += 1) {
    const [[i, a], [j, b]] = /** @type {[number, number][]} */ ([heard[n - 1], heard[n]]);
    if (j > i) found.push((events[b].start_s - events[a].start_s) / (wanted.seconds[j] - wanted.seconds[i]));
  }
  return found;
}

/** @param {Record<string, Record<string, any>>} constants */
export function aligner(constants) {
  const k = known(constants, 'align');
  const { SAME_NOTE_CENTS, MISSED, SLOPE_CENTS, FOUND, OTHER, FAR, TIME, MOST_TIME, TIME_SPREAD, BACK, SKIP, LEARN, TIE, STEPPED_OVER, AS_LONG } = k;

  /**
   * The passes over *wanted* that *events* are most cheaply taken for, in time order.
   * @param {DetectedNote[]} events @param {ExpectedNotes} wanted @param {number} offset  cents
   * @param {number} [pace]  seconds played for one of the score
   * @param {boolean} [knownPace]  that is what the student keeps to, and no mere guess
   * @returns {Pair[][]}
   */
  function align(events, wanted, offset, pace = 1, knownPace = false) {
    if (events.length === 0 || wanted.cents.length === 0) return [];
    return walk(events, wanted, pace, fill(events, wanted, offset, pace, knownPace));
  }

  /** @typedef {{best: Float64Array[], paces: Float64Array[], came: Int32Array[], ended: Float64Array, endedAt: Int32Array}} Tables  rows are events, columns notes */

  /** @param {DetectedNote[]} events @param {ExpectedNotes} wanted @param {number} offset @param {number} pace @param {boolean} knownPace @returns {Tables} */
  function fill(events, wanted, offset, pace, knownPace) {
    const notes = wanted.cents.length;
    const rows = (/** @type {() => any} */ of) => events.map(of);
    const tables = {
      best: rows(() => new Float64Array(notes)), paces: rows(() => new Float64Array(notes).fill(pace)),
      came: rows(() => new Int32Array(notes).fill(-1)),
      ended: new Float64Array(events.length + 1), endedAt: new Int32Array(events.length + 1).fill(-1),
    };
    const extra = events.map((_, n) => extraPrice(events, n));
    let openUntil_s = -Infinity;
    events.forEach(({ start_s }, row) => {
      const best = tables.best[row];
      for (let n = 0; n < notes; n += 1) best[n] = tables.ended[firstOf(events, wanted, pace, tables, row, n)] + Math.min(k.SKIPPED_START * n, k.MOST_SKIPPED) + k.NEW_PASS;
      stepsTo(events, wanted, tables, row, extra, pace, knownPace);
      let [least, at] = [Infinity, 0];
      for (let n = 0; n < notes; n += 1) {
        best[n] += matchPrice(events, wanted, offset, row, n);
        const done = best[n] + Math.min(k.SKIPPED_END * (notes - 1 - n), k.MOST_SKIPPED);
        if (done < least - TIE) [least, at] = [done, n];
      }
      const passedOver = tables.ended[row] + (start_s >= openUntil_s ? extra[row] : 0);
      const ends = least < passedOver - TIE;
      tables.ended[row + 1] = ends ? least : passedOver;
      if (!ends) return;
      tables.endedAt[row + 1] = at;
      openUntil_s = start_s + AS_LONG * pace * wanted.after_s[at];
    });
    return tables;
  }

  /** The first event of a pass that begins at event *row* with *note*: an earlier one where notes that are not judged come before.
   * @param {DetectedNote[]} events @param {ExpectedNotes} wanted @param {number} pace @param {Pick<Tables, 'endedAt'>} tables @param {number} row @param {number} note
   */
  function firstOf(events, wanted, pace, { endedAt }, row, note) {
    if (wanted.before_s[note] <= 0) return row;
    const from_s = events[row].start_s - AS_LONG * pace * wanted.before_s[note];
    let first = row;
    while (first > 0 && events[first - 1].start_s >= from_s && endedAt[first] < 0) first -= 1;
    return first;
  }

  /** The price of an event that is not a note. @param {DetectedNote[]} events @param {number} number */
  function extraPrice(events, number) {
    const event = events[number];
    const lasts_s = event.end_s - event.start_s;
    if (!event.steady || (lasts_s < k.BRIEF_S && events[number + 1]?.slid)) return k.PASSING;
    return k.EXTRA * Math.min(1, 0.4 + lasts_s / 0.3);
  }

  /** The price of an event as a note, by pitch and by how it begins.
   * @param {DetectedNote[]} events @param {ExpectedNotes} wanted @param {number} offset @param {number} row @param {number} note
   */
  function matchPrice(events, wanted, offset, row, note) {
    const event = events[row];
    const away = Math.abs(event.cents - offset - wanted.cents[note]);
    let price = away <= SAME_NOTE_CENTS + 10 ? away / SLOPE_CENTS - FOUND : OTHER;
    if (away > 900) price = FAR;
    if (leadsOn(events, row)) price += k.WAY_STOP;
    // how the ear cuts the end of a chord off tells nothing of how the note was played
    return price + (wanted.lifted[note] || wanted.joined[note] === event.slid ? 0 : k.SLIDE_MISMATCH);
  }

  /** True for a stay so brief, with more of the same breath after it, that it is a scoop. @param {DetectedNote[]} events @param {number} number */
  function leadsOn(events, number) {
    const after = events[number + 1];
    if (!after?.slid) return false;
    const event = events[number];
    return event.end_s - event.start_s < Math.min(k.SCOOP_S, 0.5 * (after.end_s - after.start_s));
  }

  /** The cheapest way to each note at event *row*, before the price of the match itself.
   * @param {DetectedNote[]} events @param {ExpectedNotes} wanted @param {Tables} tables @param {number} row
   * @param {number[]} extra @param {number} pace @param {boolean} knownPace
   */
  function stepsTo(events, wanted, tables, row, extra, pace, knownPace) {
    const { best, paces, came } = tables;
    const notes = wanted.cents.length;
    const firstSpread = TIME_SPREAD * (knownPace ? 1 : 3);
    const firstLearn = knownPace ? LEARN : 0.8;
    const [slowest, fastest] = knownPace ? [0.7 * pace, 1.45 * pace] : k.PACE;
    const reach = wanted.before_s.some((each, n) => n > 0 && each > 0) ? STEPPED_OVER : BACK;
    let skipped = 0;
    for (let back = 1; back <= Math.min(reach, row); back += 1) {
      const from = row - back;
      const passed_s = events[row].start_s - events[from].start_s;
      for (let skip = 1; skip <= Math.min(SKIP, notes - 1); skip += 1) {
        for (let n = 0; n + skip < notes; n += 1) {
          const between = notJudgedBetween(wanted, n, n + skip);
          if (back > BACK && !between) continue;
          const played = passed_s / (wanted.seconds[n + skip] - wanted.seconds[n]);
          const before = paces[from][n];
          const first = came[from][n] < 0;
          const off = Math.log(clip(played, 1e-3, 1e3) / before) / (first ? firstSpread : TIME_SPREAD);
          const free = between && played <= AS_LONG * before;
          if (back > BACK && !free) continue;
          const price = best[from][n] + (free ? 0 : skipped) + (skip - 1) * MISSED + Math.min(MOST_TIME, TIME * off * off);
          if (!(price < best[row][n + skip] - TIE)) continue;
          best[row][n + skip] = price;
          came[row][n + skip] = back * 16 + skip;
          paces[row][n + skip] = clip(before * clip(played / before, 0.6, 1.6) ** (first ? firstLearn : LEARN), slowest, fastest);
        }
      }
      skipped += extra[from];
    }
  }

  /** The passes of the cheapest path, from its end back to its start. @param {DetectedNote[]} events @param {ExpectedNotes} wanted @param {number} pace @param {Tables} tables */
  function walk(events, wanted, pace, { came, endedAt }) {
    /** @type {Pair[][]} */
    const found = [];
    let row = events.length;
    while (row > 0) {
      let note = endedAt[row];
      if (note < 0) {
        row -= 1;
        continue;
      }
      /** @type {Pair[]} */
      const pairs = [];
      let event = row - 1;
      for (;;) {
        pairs.push([note, event]);
        const code = came[event][note];
        if (code < 0) {
          event = firstOf(events, wanted, pace, { endedAt }, event, note);
          break;
        }
        const skip = code % 16;
        for (let step = 1; step < skip; step += 1) pairs.push([note - step, null]);
        event -= code >> 4;
        note -= skip;
      }
      found.push(pairs.reverse());
      row = event;
    }
    return found.reverse();
  }

  /**
   * *passes* in which tones that stand where as many notes are missing are these notes: after a
   * pause the search finds a note left out and another put in as cheap as one late and wrong.
   * @param {Pair[][]} passes @param {DetectedNote[]} events @param {ExpectedNotes} wanted
   */
  function withSubstitutes(passes, events, wanted) {
    const [open, notes] = [steppedOver(events, wanted, passes), wanted.cents.length];
    /** @type {Pair[][]} */
    const found = [];
    passes.forEach((pairs, number) => {
      const before = found.length > 0 ? Math.max(...eventsOf(found[found.length - 1])) : -1;
      const after = number + 1 < passes.length ? eventsOf(passes[number + 1])[0] : events.length;
      found.push(substituted(pairs, events, before, after, notes, open));
    });
    return found;
  }

  /** @param {Pair[]} pairs @param {DetectedNote[]} events @param {number} before @param {number} after @param {number} notes @param {Set<number>} open @returns {Pair[]} */
  function substituted(pairs, events, before, after, notes, open) {
    const [first, last] = [pairs[0][0], pairs[pairs.length - 1][0]];
    /** @type {[number, number][]} */
    const heard = [[before, first <= k.ENDS ? -1 : first - 1]];
    for (const [note, event] of pairs) if (event !== null) heard.push([event, note]);
    heard.push([after, notes - 1 - last <= k.ENDS ? notes : last + 1]);
    const all = new Map(pairs);
    for (let n = 1; n < heard.length; n += 1) {
      const [[event, note], [nextEvent, nextNote]] = [heard[n - 1], heard[n]];
      const missing = nextNote - note - 1;
      const there = [];
      for (let at = event + 1; at < nextEvent; at += 1) if (!open.has(at) && standsAlone(events, at)) there.push(at);
      if (missing > 0 && there.length === missing) there.forEach((at, place) => all.set(note + 1 + place, at));
    }
    return [...all].sort((a, b) => a[0] - b[0]);
  }

  /** True for a tone that could be a note: steady, and not the way to the next one. @param {DetectedNote[]} events @param {number} number */
  function standsAlone(events, number) {
    const event = events[number];
    const lasts_s = event.end_s - event.start_s;
    const leads = events[number + 1]?.slid && lasts_s < 2 * k.BRIEF_S;
    return event.steady && lasts_s >= k.ALONE_S && !leads;
  }

  /** The numbers of the events that stand where notes are not judged. @param {DetectedNote[]} events @param {ExpectedNotes} wanted @param {Pair[][]} passes */
  function steppedOver(events, wanted, passes) {
    const used = new Set(passes.flatMap(eventsOf));
    const spans = passes.flatMap((pairs) => openSpans(events, wanted, pairs));
    const open = events.flatMap(({ start_s }, n) => (spans.some(([from_s, to_s]) => start_s >= from_s - k.TOUCH_S && start_s < to_s) ? [n] : []));
    return new Set(open.filter((n) => !used.has(n)));
  }

  /** From when and to when notes of a pass sound that are not judged. @param {DetectedNote[]} events @param {ExpectedNotes} wanted @param {Pair[]} pairs */
  function openSpans(events, wanted, pairs) {
    const heard = /** @type {[number, number][]} */ (pairs.filter(([, event]) => event !== null));
    const found = [];
    for (let n = 1; n < heard.length; n += 1) {
      const [[note, event], [next, nextEvent]] = [heard[n - 1], heard[n]];
      if (notJudgedBetween(wanted, note, next)) found.push([events[event].end_s, events[nextEvent].start_s]);
    }
    const paces = pacesOf(events, wanted, pairs);
    const pace = AS_LONG * (paces.length > 0 ? median(paces) : 1);
    const [[first, firstEvent], [last, lastEvent]] = [heard[0], heard[heard.length - 1]];
    const [begin, end] = [events[firstEvent], events[lastEvent]];
    const { before_s, after_s, seconds } = wanted;
    const early = before_s.findIndex((each) => each > 0);
    if (early >= 0 && early <= first) found.push([begin.start_s - pace * (seconds[first] - seconds[early] + before_s[early]), begin.start_s]);
    const late = after_s.findLastIndex((each) => each > 0);
    if (late >= last) found.push([end.end_s, end.start_s + pace * (seconds[late] - seconds[last] + after_s[late])]);
    return found;
  }

  return { align, steppedOver, withSubstitutes };
}

/** @param {Pair[]} pairs */
export function eventsOf(pairs) {
  return /** @type {number[]} */ (pairs.map(([, event]) => event).filter((event) => event !== null));
}
