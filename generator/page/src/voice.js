/**
 * The reed voice of the page: tones made by the browser's own oscillators, from a score.
 *
 * One oscillator sounds one reed of one hole of a breath, and where the hole goes over into another
 * reed so does its colour.  The harmonics come as tables from Reedmill, the same as in its
 * recordings; the pitch follows the slides of the breath in cents, the loudness the same outline, and
 * a tone is dark before it is itself.  The noise of the breath lies beside it, from a buffer that
 * is played in a loop.  Made from the score at the moment of playing, the tones are in tune at any
 * tempo; a recording stretched in time is not.
 */

const PARTS = 100_000; // of an amplitude of 1
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

/**
 * @typedef {object} ReedTable  the harmonics of a reed at a pitch in 100,000ths, the fundamental first
 * @property {string} tab @property {number} hz @property {number[]} harmonics
 * @property {boolean} [closed]  with the hands closed round the harp
 * @property {boolean} [soft]  beside accented ones
 */

/** @typedef {{wave: PeriodicWave, dark?: PeriodicWave, air?: number}} Tone  as it is, as it begins, and how strong its noise is */

/** @typedef {{attack_s: number, speaks?: number, swell_s?: number, slower_s?: number, slow_hz?: number, dark_above?: number, air?: {hz: number, sharp: number, depth: number}, release_s: number, gap_s: number, glide_s: number, beside_accents: number, scoop_s: number, fall_s: number, burst_s: number, vibrato_cents: number}} Manner  the reed voice's own, from Reedmill */

/** @typedef {{hz: number, tab: string, closed: boolean, begins: number, parts: Part[], gates: [at_s: number, value: number][]}} Line  one hole of a breath, open hands or closed */
/** @typedef {{note: TimedNote, tab: string, hz: number, from: number | null}} Part  a note of a hole, and the Hz it is slid to from, if it is */

/**
 * Schedule one breath on *context*.
 *
 * @param {BaseAudioContext} context
 * @param {AudioNode} into
 * @param {TimedNote[]} breath
 * @param {object} how
 * @param {(tab: string, hz: number, closed: boolean) => Tone} how.toneOf
 * @param {AudioBuffer | null} [how.air]  noise, as loud as a sine of 1
 * @param {Manner} how.manner
 * @param {(beat: number) => number} how.when  seconds of the context's clock at which a beat sounds
 * @param {number} how.amplitude
 */
export function sound(context, into, breath, { toneOf, air = null, manner, when, amplitude }) {
  const start = when(breath[0].start);
  const end = when(breath[breath.length - 1].end);
  const lasts = end - start;
  const gain = context.createGain();
  const gap = Math.min(manner.gap_s, lasts / 8);
  const fall = Math.min(manner.release_s, lasts / 4);
  const swell = Math.min(swellOf(breath[0], manner), lasts / 4);
  gain.gain.setValueAtTime(0, start);
  gain.gain.setValueCurveAtTime(curve(outline(amplitude, Math.min(manner.attack_s, lasts / 8), swell, manner)), start, swell);
  gain.gain.setValueCurveAtTime(curve((x) => amplitude * Math.cos((Math.PI / 2) * x) ** 2), end - gap - fall, fall);
  gain.connect(into);
  const lines = linesOf(breath, manner, when);
  lines.forEach((line, n) => {
    const turns = turnsOf(line, toneOf, manner, when);
    const gate = gated(context, gain, line.gates);
    for (const tone of new Set(turns.map((each) => each.tone))) {
      const faded = fading(context, gate, turns, tone, start);
      const begins = tone === turns[0].tone && tone.dark !== undefined;
      const own = oscillating(context, tone.wave, line, manner, when);
      own.connect(begins ? brightening(context, faded, start, swell, (x) => 1 - dark(x)) : faded);
      own.start(start);
      own.stop(end);
      if (n === 0 && tone === turns[0].tone) own.onended = () => gain.disconnect();
      if (!begins || tone.dark === undefined) continue;
      const before = oscillating(context, tone.dark, line, manner, when);
      before.connect(brightening(context, faded, start, swell, dark));
      before.start(start);
      before.stop(start + swell);
    }
    if (n === 0) breathing(context, gain, air, turns[0].tone.air ?? 0, start, end);
  });
}

/** In which a reed comes to its loudness and its brightness, low ones slowly. @param {TimedNote} note @param {Manner} manner */
function swellOf({ hz, beside }, { attack_s, swell_s = attack_s, slower_s = 0, slow_hz = 0 }) {
  return swell_s + slower_s * Math.min(1, slow_hz / (beside[0]?.hz ?? hz));
}

/** The amplitude along a swell: it speaks at once, and then swells. @param {number} amplitude @param {number} rise_s @param {number} swell_s @param {Manner} manner */
function outline(amplitude, rise_s, swell_s, { speaks = 1 }) {
  return (/** @type {number} */ x) => amplitude * (1 - (1 - speaks) * dark(x)) * Math.sin((Math.PI / 2) * Math.min(1, (x * swell_s) / rise_s));
}

/** How dark a tone is at *x* of its swell. @param {number} x */
function dark(x) {
  return Math.cos((Math.PI / 2) * x) ** 2;
}

/** An oscillator on the pitch of a line. @param {BaseAudioContext} context @param {PeriodicWave} wave @param {Line} line @param {Manner} manner @param {(beat: number) => number} when */
function oscillating(context, wave, line, manner, when) {
  const oscillator = context.createOscillator();
  oscillator.setPeriodicWave(wave);
  oscillator.frequency.setValueAtTime(line.hz, when(line.begins));
  for (const part of line.parts) bent(oscillator.detune, line.hz, part, manner, when);
  return oscillator;
}

/** What a line sounds like, one tone after the other: from when, and how long it takes to go over.
 * @param {Line} line @param {(tab: string, hz: number, closed: boolean) => Tone} toneOf @param {Manner} manner @param {(beat: number) => number} when
 */
function turnsOf(line, toneOf, manner, when) {
  const found = [{ tone: toneOf(line.tab, line.hz, line.closed), from_s: 0, over_s: 0 }];
  for (const { note, tab, hz, from } of line.parts) {
    const tone = toneOf(tab, hz, line.closed);
    const over_s = from === null ? TURN_S : glideOf(note, manner, when);
    if (tone !== found[found.length - 1].tone) found.push({ tone, from_s: when(note.start), over_s });
  }
  return found;
}

/** Where a line has one tone, *into* itself; else a gain before it that is open while *tone* sounds.
 * @param {BaseAudioContext} context @param {AudioNode} into @param {ReturnType<typeof turnsOf>} turns @param {Tone} tone @param {number} start_s
 */
function fading(context, into, turns, tone, start_s) {
  if (turns.length === 1) return into;
  const fade = context.createGain();
  let open = turns[0].tone === tone;
  fade.gain.setValueAtTime(open ? 1 : 0, start_s);
  for (const turn of turns.slice(1)) {
    if ((turn.tone === tone) === open) continue;
    fade.gain.setValueAtTime(open ? 1 : 0, turn.from_s);
    open = !open;
    fade.gain.linearRampToValueAtTime(open ? 1 : 0, turn.from_s + turn.over_s);
  }
  fade.connect(into);
  return fade;
}

/** A gain that follows *share* over the swell. @param {BaseAudioContext} context @param {AudioNode} into @param {number} start_s @param {number} swell_s @param {(x: number) => number} share */
function brightening(context, into, start_s, swell_s, share) {
  const gain = context.createGain();
  gain.gain.setValueCurveAtTime(curve(share), start_s, swell_s);
  gain.connect(into);
  return gain;
}

/** The noise of a breath, from another place of the buffer each time. @param {BaseAudioContext} context @param {AudioNode} into @param {AudioBuffer | null} air @param {number} level @param {number} start_s @param {number} end_s */
function breathing(context, into, air, level, start_s, end_s) {
  if (air === null || level === 0) return;
  const source = context.createBufferSource();
  source.buffer = air;
  source.loop = true;
  const gain = context.createGain();
  gain.gain.value = level;
  source.connect(gain).connect(into);
  source.start(start_s, (start_s * 0.618) % air.duration);
  source.stop(end_s);
}

/** Noise in a band around that of the harp's body, to be played in a loop; its mean square is 1/2, as a sine's.
 * @param {BaseAudioContext} context @param {{hz: number, sharp: number}} band
 */
export function airOf(context, { hz, sharp }) {
  const count = 2 * context.sampleRate;
  const values = new Float32Array(count);
  // A band-pass of the second order: R. Bristow-Johnson's cookbook of filters, from memory.
  const turn = (2 * Math.PI * hz) / context.sampleRate;
  const alpha = Math.sin(turn) / (2 * sharp);
  const [a1, a2, b] = [(-2 * Math.cos(turn)) / (1 + alpha), (1 - alpha) / (1 + alpha), alpha / (1 + alpha)];
  let [x1, x2, y1, y2, sum] = [0, 0, 0, 0, 0];
  for (let n = -1000; n < count; n += 1) {
    const x = scattered(n + 1001);
    const y = b * (x - x2) - a1 * y1 - a2 * y2;
    [x2, x1, y2, y1] = [x1, x, y1, y];
    if (n >= 0) values[n] = y;
    if (n >= 0) sum += y * y;
  }
  const level = Math.sqrt(count / (2 * sum));
  const buffer = context.createBuffer(1, count, context.sampleRate);
  buffer.copyToChannel(values.map((value) => value * level), 0);
  return buffer;
}

/** A number from -1 to 1 for a whole one that follows no order, always the same: MurmurHash3's finaliser. @param {number} n */
function scattered(n) {
  let bits = Math.imul(n, 0x9e3779b1);
  bits = Math.imul(bits ^ (bits >>> 16), 0x85ebca6b);
  bits = Math.imul(bits ^ (bits >>> 13), 0xc2b2ae35);
  return ((bits ^ (bits >>> 16)) >>> 0) / 2 ** 31 - 1;
}

/** The tones of a score by reed and pitch, each made when it is first asked for. */
export class Tones {
  /** @param {BaseAudioContext} context @param {{phases: number[], tables: ReedTable[]}} from @param {Manner} manner */
  constructor(context, { phases, tables }, manner) {
    this.context = context;
    this.phases = phases;
    this.tables = tables;
    this.manner = manner;
    /** @type {Map<ReedTable, Tone>} */
    this.made = new Map();
  }

  /** @param {string} tab @param {number} hz @param {boolean} closed @param {boolean} soft */
  of(tab, hz, closed, soft) {
    const misses = (/** @type {ReedTable} */ each) =>
      1200 * Math.abs(Math.log2(each.hz / hz)) + 0.1 * (4 * Number((each.closed ?? false) !== closed) + 2 * Number(each.tab !== tab) + Number((each.soft ?? false) !== soft));
    const table = this.tables.reduce((best, each) => (misses(each) < misses(best) ? each : best));
    const tone = this.made.get(table) ?? this.#made(table);
    this.made.set(table, tone);
    return tone;
  }

  /** @param {ReedTable} table @returns {Tone} */
  #made({ harmonics: parts }) {
    const harmonics = parts.map((each) => each / PARTS);
    const { dark_above: above, air } = this.manner;
    const wave = waveOf(this.context, withPhases(harmonics, this.phases));
    const darkness = above === undefined ? [] : harmonics.map((each, n) => each / Math.hypot(1, (n + 1) / above));
    const dull = above === undefined ? {} : { dark: waveOf(this.context, withPhases(darkness, this.phases)) };
    return { wave, ...dull, air: air === undefined ? 0 : air.depth * Math.hypot(...harmonics) };
  }
}

/** @param {number[]} harmonics @param {number[]} phases */
function withPhases(harmonics, phases) {
  return {
    cosines: harmonics.map((each, n) => each * Math.cos(phases[n])),
    sines: harmonics.map((each, n) => -each * Math.sin(phases[n])),
  };
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
      const tab = tabOf(note, hz);
      const line = lineOf(lines, `${hole}${shut}`, { hz, tab, closed: shut, begins: breath[0].start }, late ? begun : null);
      line.parts.push({ note, tab, hz, from: note.joined && !note.lifted ? before.get(hole) ?? null : null });
      return line;
    });
    const beside = note.burst.map((hz) => lineOf(lines, `beside ${hz}${shut}`, { hz, tab: '', closed: shut, begins: breath[0].start }, late ? begun : null));
    for (const { from_s, sounding } of spansOf(note, own, beside, manner, when)) {
      for (const line of lines.values()) line.gates.push([from_s, sounding.includes(line) ? 1 / Math.sqrt(sounding.length) : 0]);
    }
    before = new Map(holes);
  }
  return [...lines.values()];
}

/** The line of a hole; one that joins a breath is silent from where the breath began.
 * @param {Map<string, Line>} lines @param {string} which @param {Pick<Line, 'hz' | 'tab' | 'closed' | 'begins'>} of @param {number | null} silentFrom_s
 * @returns {Line}
 */
function lineOf(lines, which, of, silentFrom_s) {
  const line = lines.get(which) ?? { ...of, parts: [], gates: silentFrom_s === null ? [] : [[silentFrom_s, 0]] };
  lines.set(which, line);
  return line;
}

/** The tab of the hole of a note that sounds *hz*. @param {TimedNote} note @param {number} hz */
function tabOf({ tab, beside }, hz) {
  const other = beside.find((each) => each.hz === hz);
  const own = tab.split('&').pop() ?? tab;
  return other?.tab ?? (tab.startsWith('-') && !own.startsWith('-') ? `-${own}` : own);
}

/** Seconds in which a note is slid to. @param {TimedNote} note @param {Manner} manner @param {(beat: number) => number} when */
function glideOf(note, manner, when) {
  const start = when(note.start);
  return note.slide === null ? Math.min(manner.glide_s, (when(note.end) - start) / 2) : when(note.start + note.slide) - start - TIE_S;
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
    const glide = glideOf(note, manner, when);
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

/** The oscillator's wave from a table. @param {BaseAudioContext} context @param {Pick<Harmonics, 'cosines' | 'sines'>} table */
export function waveOf(context, table) {
  return context.createPeriodicWave([0, ...table.cosines], [0, ...table.sines], { disableNormalization: true });
}
