/**
 * The reed voice of the page: tones made by the browser's own oscillators, from a score.
 *
 * One oscillator sounds one hole of one breath.  Its harmonics come as a table from Reedmill (the same as in
 * its recordings, levelled for the highest note of the breath), its pitch follows the slides
 * of the breath in cents, its loudness the same outline.  Made from the score at the moment of
 * playing, the tones are in tune at any tempo; a recording stretched in time is not.
 */

const CURVE_POINTS = 65;
/** In which one hole gives way to another, without a click. */
const TURN_S = 0.004;
/** Between two curves of one parameter, which may not touch. */
const TIE_S = 1e-6;

/** The part of a slide's cents covered at *x* of its time: a smooth step. @param {number} x */
export function glideShare(x) {
  return x * x * (3 - 2 * x);
}

/**
 * @typedef {object} Harmonics  a table for tones up to `to_hz`
 * @property {number} to_hz
 * @property {number[]} cosines  amplitudes, the fundamental first
 * @property {number[]} sines
 */

/** @typedef {import('./timeline.js').TimedNote} TimedNote */

/** @typedef {{attack_s: number, release_s: number, gap_s: number, glide_s: number, beside_accents: number, scoop_s: number, fall_s: number, burst_s: number, vibrato_cents: number}} Manner  the reed voice's own, from Reedmill */

/** @typedef {{hz: number, closed: boolean, parts: Part[], gates: [at_s: number, value: number][]}} Line  one hole of a breath, open hands or closed */
/** @typedef {{note: TimedNote, hz: number, from: number | null}} Part  a note of a hole, and the Hz it is slid to from, if it is */

/**
 * Schedule one breath on *context*.
 *
 * @param {BaseAudioContext} context
 * @param {AudioNode} into
 * @param {TimedNote[]} breath
 * @param {object} how
 * @param {PeriodicWave} how.wave
 * @param {PeriodicWave} [how.closed]  with the hands closed round the harp
 * @param {Manner} how.manner
 * @param {(beat: number) => number} how.when  seconds of the context's clock at which a beat sounds
 * @param {number} how.amplitude
 */
export function sound(context, into, breath, { wave, closed = wave, manner, when, amplitude }) {
  const start = when(breath[0].start);
  const end = when(breath[breath.length - 1].end);
  const lasts = end - start;
  const gain = context.createGain();
  const gap = Math.min(manner.gap_s, lasts / 8);
  const fall = Math.min(manner.release_s, lasts / 4);
  const rise = Math.min(manner.attack_s, lasts / 8);
  gain.gain.setValueAtTime(0, start);
  gain.gain.setValueCurveAtTime(curve((x) => amplitude * Math.sin((Math.PI / 2) * x)), start, rise);
  gain.gain.setValueCurveAtTime(curve((x) => amplitude * Math.cos((Math.PI / 2) * x) ** 2), end - gap - fall, fall);
  gain.connect(into);
  const lines = linesOf(breath, manner, when);
  lines.forEach((line, n) => {
    const oscillator = context.createOscillator();
    oscillator.setPeriodicWave(line.closed ? closed : wave);
    oscillator.frequency.setValueAtTime(line.hz, start);
    for (const part of line.parts) bent(oscillator.detune, line.hz, part, manner, when);
    oscillator.connect(gated(context, gain, line.gates));
    oscillator.start(start);
    oscillator.stop(end);
    if (n === 0) oscillator.onended = () => gain.disconnect();
  });
}

/** The holes of a breath, each with its notes and with when it sounds; together they are as loud as one.
 * @param {TimedNote[]} breath @param {Manner} manner @param {(beat: number) => number} when @returns {Line[]}
 */
export function linesOf(breath, manner, when) {
  /** @type {Map<string, Line>} */
  const lines = new Map();
  /** @type {Map<string, number>} */
  let before = new Map();
  for (const note of breath) {
    const holes = holesOf(note);
    const shut = note.style.includes('mute');
    const begun = when(breath[0].start);
    const late = note !== breath[0];
    const own = holes.map(([hole, hz]) => {
      const line = lineOf(lines, `${hole}${shut}`, hz, shut, late ? begun : null);
      line.parts.push({ note, hz, from: note.joined && !note.lifted ? before.get(hole) ?? null : null });
      return line;
    });
    const beside = note.burst.map((hz) => lineOf(lines, `beside ${hz}${shut}`, hz, shut, late ? begun : null));
    for (const { from_s, sounding } of spansOf(note, own, beside, manner, when)) {
      for (const line of lines.values()) line.gates.push([from_s, sounding.includes(line) ? 1 / Math.sqrt(sounding.length) : 0]);
    }
    before = new Map(holes);
  }
  return [...lines.values()];
}

/** The line of a hole; one that joins a breath is silent from where the breath began.
 * @param {Map<string, Line>} lines @param {string} which @param {number} hz @param {boolean} closed @param {number | null} silentFrom_s
 * @returns {Line}
 */
function lineOf(lines, which, hz, closed, silentFrom_s) {
  const line = lines.get(which) ?? { hz, closed, parts: [], gates: silentFrom_s === null ? [] : [[silentFrom_s, 0]] };
  lines.set(which, line);
  return line;
}

/** The holes of a note with their Hz, the lowest first. @param {TimedNote} note @returns {[hole: string, hz: number][]} */
function holesOf({ tab, hz, beside }) {
  const own = { tab: tab.split('&').pop() ?? tab, hz };
  return [...beside, own].map((each) => [/\d+/.exec(each.tab)?.[0] ?? each.tab, each.hz]);
}

/** What sounds in a note, stretch after stretch: the chord of a slap or a pull, the turns of a shake.
 * @param {TimedNote} note @param {Line[]} own @param {Line[]} beside @param {Manner} manner @param {(beat: number) => number} when
 * @returns {{from_s: number, sounding: Line[]}[]}
 */
function spansOf(note, own, beside, manner, when) {
  const [start, end] = [when(note.start), when(note.end)];
  const burst_s = Math.min(manner.burst_s, (end - start) / 4);
  const begin = note.style.includes('slap') ? start + burst_s : start;
  const until = note.style.includes('pull') ? end - burst_s : end;
  const chord = [...own, ...beside];
  const found = begin > start ? [{ from_s: start, sounding: chord }] : [];
  const half_s = (end - start) / (note.end - note.start) / (2 * note.aBeat);
  const turns = note.style.includes('shake') ? Math.max(1, Math.round((until - begin) / half_s)) : 0;
  for (let turn = 0; turn < turns; turn += 1) found.push({ from_s: begin + turn * half_s, sounding: [own[turn % 2]] });
  if (turns === 0) found.push({ from_s: begin, sounding: own });
  if (until < end) found.push({ from_s: until, sounding: chord });
  return found;
}

/** Where a hole is heard all along, *into* itself; else a gain before it that opens and closes.
 * @param {BaseAudioContext} context @param {AudioNode} into @param {Line['gates']} gates
 */
function gated(context, into, gates) {
  if (gates.every(([, value]) => value === 1)) return into;
  const gate = context.createGain();
  gates.forEach(([at_s, value], n) => {
    if (n === 0) gate.gain.setValueAtTime(value, at_s);
    else gate.gain.setTargetAtTime(value, at_s - TURN_S / 2, TURN_S / 4);
  });
  gate.connect(into);
  return gate;
}

/** The pitch of a note of a hole, in cents over *base*: its slide or scoop, its vibrato, its fall.
 * @param {AudioParam} detune @param {number} base @param {Part} part @param {Manner} manner @param {(beat: number) => number} when
 */
function bent(detune, base, { note, hz, from }, manner, when) {
  const [start, end] = [when(note.start), when(note.end)];
  const lasts = end - start;
  const own = 1200 * Math.log2(hz / base);
  let begin = start;
  if (from !== null) {
    const glide = note.slide === null ? Math.min(manner.glide_s, lasts / 2) : when(note.start + note.slide) - start - TIE_S;
    detune.setValueCurveAtTime(slide(base, from, hz), start, glide);
    begin = start + glide;
  } else if (note.style.includes('scoop') && note.room > 0) {
    const scoop = Math.min(manner.scoop_s, lasts / 3);
    detune.setValueCurveAtTime(curve((x) => own - note.room * (1 - glideShare(x))), start, scoop);
    begin = start + scoop;
  } else if (note.joined) {
    detune.setValueAtTime(own, start);
  }
  const falls = note.style.includes('fall') ? Math.min(manner.fall_s, lasts / 2) : 0;
  if (note.style.includes('vibrato')) {
    const turn_s = lasts / (note.end - note.start) / note.aBeat;
    const waves = Math.floor((end - falls - begin) / turn_s + 1e-9);
    const wave = (/** @type {number} */ x) => own + manner.vibrato_cents * Math.sin(2 * Math.PI * waves * x);
    if (waves > 0) detune.setValueCurveAtTime(curve(wave, 32 * waves + 1), begin, Math.min(waves * turn_s, end - falls - begin - TIE_S));
  }
  if (falls > 0) detune.setValueCurveAtTime(curve((x) => own - note.room * glideShare(x)), end - falls, falls - TIE_S);
}

/** Cents over *base* along a slide. @param {number} base @param {number} from @param {number} to */
function slide(base, from, to) {
  const [low, high] = [from, to].map((hz) => 1200 * Math.log2(hz / base));
  return curve((x) => low + (high - low) * glideShare(x));
}

/** @param {(x: number) => number} value @param {number} [points] */
function curve(value, points = CURVE_POINTS) {
  return Float32Array.from({ length: points }, (_, n) => value(n / (points - 1)));
}

/** The oscillator's wave from a table. @param {BaseAudioContext} context @param {Harmonics} table */
export function waveOf(context, table) {
  return context.createPeriodicWave([0, ...table.cosines], [0, ...table.sines], { disableNormalization: true });
}
