/**
 * The practice page: controls, music and ladder wired to the player and the microphone.
 *
 * Everything here reads its facts from the two blocks of data in the page and writes to the
 * document only where a text or a mark changes.
 */

import { Ladder, centsBetween, nearest, wordsFor } from './ladder.js';
import { Microphone, reasonOf } from './listen.js';
import { Music } from './music.js';
import { Player, soundingNow } from './player.js';
import { RestingPlace } from './resting.js';
import { Tally } from './tally.js';
import { Modes } from './modes.js';
import { OwnTones } from './take/bleed.js';
import { Phrases } from './take/phrases.js';
import { Takes } from './takes.js';
import { Timeline } from './timeline.js';

/**
 * @typedef {object} PageData
 * @property {number} pulse  beats of one pulse
 * @property {number} bar_beats
 * @property {import('./ladder.js').Reed[]} reeds  those the drill bends, the most played first
 * @property {import('./modes.js').HarpNote[]} harp  every note the harp has
 * @property {import('./voice.js').Harmonics[]} tables
 * @property {Record<string, import('./voice.js').Harmonics>} drones  by their tones, an octave under the root
 * @property {import('./takes.js').PageEar} ear
 */

/** Further from the note that is wanted it is another note, and cents say nothing. */
const ASTRAY_CENTS = 150;

/** @template T @param {string} id @returns {T} */
const dataOf = (id) => JSON.parse(/** @type {HTMLElement} */ (document.getElementById(id)).textContent ?? '');
/** @template {HTMLElement} T @param {string} what @returns {T} */
const control = (what) => /** @type {T} */ (document.querySelector(`[data-does="${what}"], [data-sets="${what}"]`));

const drill = dataOf('reedmill-timeline').drills[0];
/** @type {PageData} */
const page = dataOf('reedmill-page');
const timeline = new Timeline(drill, { pulse: page.pulse, barBeats: page.bar_beats });
const cells = /** @type {HTMLElement[]} */ ([...document.querySelectorAll('[data-note]')]);
const music = new Music(/** @type {Element} */ (document.querySelector('.music')), cells);
const told = /** @type {HTMLElement} */ (document.getElementById('told'));
const turn = /** @type {HTMLElement} */ (document.getElementById('turn'));
const tempo = /** @type {HTMLInputElement} */ (control('tempo'));
const tempoNow = /** @type {HTMLElement} */ (document.getElementById('tempo-now'));
const heardFigure = /** @type {HTMLElement} */ (document.getElementById('heard-figure'));
const heardWords = /** @type {HTMLElement} */ (document.getElementById('heard-words'));
const ladders = page.reeds.map((reed, number) => new Ladder(/** @type {Element} */ (document.getElementById(`ladder-${number}`)), reed));

/** @type {AudioContext | null} */
let context = null;
/** @type {Player | null} */
let player = null;
/** @type {Microphone | null} */
let microphone = null;
let lit = -1;
let litSince_s = 0; // of the sound clock
let open = false; // the bars being played are left to the player
/** @type {[number, number] | null} */
let span = null;
/** Cents from the wanted note that a clean pass may be off, and the shortest note that is heard at all. */
const CLEAN_CENTS = 25;
const LEAST_HEARD_S = 0.3;
const tally = new Tally(CLEAN_CENTS);
/** The note a loop is to begin with: null, or -1 while the first is waited for.
 * @type {number | null}
 */
let looping = null;

/** The sound clock, begun by the first touch as browsers demand. */
async function clock() {
  if (context === null) {
    context = new AudioContext({ latencyHint: 'interactive' });
    player = new Player(context, timeline, page.tables);
    player.onTone = (hz, from_s, to_s) => own.add(hz, from_s, to_s);
    player.wasClean = wasClean;
    player.onClimb = (share) => {
      tempo.value = String(Math.round(share * drill.tempo));
      setText(tempoNow, tempo.value);
      setText(told, `Faster: ${tempo.value} a minute.`);
    };
    player.onEnd = () => {
      showPlaying(false);
      takes.drillEnded(heardNow());
    };
  }
  if (context.state !== 'running') await context.resume();
  return context;
}

function tempoShare() {
  return Number(tempo.value) / drill.tempo;
}

/** @param {string} what */
function isOn(what) {
  return control(what).getAttribute('aria-pressed') === 'true';
}

/** What is chosen for *what*, null for nothing. @param {string} what */
function chosen(what) {
  const { value } = /** @type {HTMLSelectElement} */ (control(what));
  return value === 'off' ? null : value;
}

/** Whether the pass that ends now was clean; one that is not listened to counts as clean. */
function wasClean() {
  const { head } = /** @type {Player} */ (player);
  if (!microphone?.on || head === null) return true;
  const beat_s = timeline.beatSeconds(head.share);
  const { first } = head.stretches[0];
  const { last } = head.stretches[head.stretches.length - 1];
  const wanted = timeline.notes.filter((note) => note.start >= first - 1e-9 && note.start < last - 1e-9);
  return tally.clean(wanted.filter((note) => (note.end - note.start) * beat_s >= LEAST_HEARD_S).map((note) => note.index));
}

/** Play as the controls ask, but for what a take wants otherwise. @param {Partial<import('./player.js').Wishes>} [otherwise] */
function begin(otherwise = {}) {
  const [from, to] = span ?? [0, timeline.length];
  const [echo, climb, fade] = [chosen('echo'), chosen('climb'), Number(chosen('fade') ?? 0)];
  const wishes = {
    share: tempoShare(), from, to, click: isOn('click'), countIn: isOn('count-in') ? 1 : 0,
    loop: isOn('loop') || climb !== null || fade > 0, // both need passes to come
    tones: isOn('tones'), drone: page.drones[chosen('drone') ?? ''] ?? null, fade, echo: echo === null ? null : Number(echo),
    climb: climb === null ? null : { step: Number(climb) / drill.tempo, after: Number(chosen('climb-after')), highest: Number(tempo.max) / drill.tempo },
    ...otherwise,
  };
  own.stop(context?.currentTime ?? 0);
  own.drone_hz = wishes.drone?.to_hz ?? null;
  player?.play(wishes);
  tally.clean([]);
  showPlaying(true);
  requestAnimationFrame(follow);
}

async function play() {
  await clock();
  if (!takes.on) begin();
}

function stop() {
  player?.stop();
  own.stop(context?.currentTime ?? 0);
  showPlaying(false);
  takes.finish();
}

/** @param {boolean} playing */
function showPlaying(playing) {
  control('play').setAttribute('aria-pressed', String(playing));
  if (playing) return;
  light(-1);
  setText(turn, '');
}

/** What comes out of the speaker at this moment, in seconds of the sound clock. */
function heardNow() {
  return context === null ? 0 : soundingNow(context, performance.now());
}

function follow() {
  if (player === null || !player.playing) return;
  const place = player.where(heardNow());
  const note = place === null ? null : timeline.noteAt(place.beat);
  if (place !== null && place.beat >= (span?.[0] ?? 0) - 1e-6) light(note === null ? -1 : note.index);
  setText(turn, place?.open ? 'Your turn' : '');
  open = place?.open ?? false;
  requestAnimationFrame(follow);
}

/** @param {number} index  of the note that sounds, -1 for none */
function light(index) {
  if (index === lit) return;
  lit = index;
  litSince_s = context?.currentTime ?? 0;
  music.light(index);
  if (index < 0) return;
  const note = timeline.notes[index];
  for (const ladder of ladders) ladder.want(ladder.reed.rungs.some((rung) => rung.tab === note.tab) ? note.tab : null);
  document.dispatchEvent(new CustomEvent('reedmill-note', { detail: { index, tab: note.tab } }));
}

const modes = new Modes({ reeds: page.ear.reeds, harp: page.harp });
const phrases = new Phrases((sentence) => setText(/** @type {HTMLElement} */ (document.getElementById('phrase-told')), sentence));
const anchorTab = drill.notes.find((/** @type {{role: string}} */ note) => note.role === 'anchor')?.tab ?? drill.notes[0]?.tab;
modes.choose(drill.notes.find((/** @type {{bend: number}} */ note) => note.bend !== 0)?.tab ?? anchorTab ?? page.ear.reeds[0].tab);
/** How far the anchor he played last lies from its place, in cents. */
let anchorOff = 0;

/** The note of the harp that is nearest to a pitch. @param {number} hz */
function nearestNote(hz) {
  return page.harp.reduce((best, each) =>
    Math.abs(centsBetween(each.hz, hz)) < Math.abs(centsBetween(best.hz, hz)) ? each : best);
}

/** Takes off what the player's own anchor is out, where he asks for that. @param {number} cents */
function against(cents) {
  return takes.ownAnchor ? cents - anchorOff : cents;
}

const resting = new RestingPlace((hz) => {
  const near = nearestNote(hz);
  const away = centsBetween(near.hz, hz);
  if (near.tab === anchorTab) anchorOff = away;
  phrases.rest(near.tab, against(away));
  modes.rest(hz);
  for (const ladder of ladders) {
    const { rung, cents } = nearest(ladder.reed.rungs, hz);
    if (Math.abs(cents) <= 60 && rung.used) ladder.step(rung.tab, hz);
  }
});

/** @param {import('./pitch.js').Reading} reading @param {number} at_s */
function heard(reading, at_s) {
  takes.reading(!Number.isNaN(reading.hz), at_s);
  if (takes.headphones !== true && own.mayBe(reading.hz, at_s)) {
    reading = { ...reading, hz: NaN };
    setText(told, 'What lies on a tone of the page is not counted as yours: without headphones the microphone hears both.');
  }
  const note = lit >= 0 ? timeline.notes[lit] : null;
  resting.take(reading.hz, at_s);
  phrases.reading(!Number.isNaN(reading.hz), at_s);
  if (Number.isNaN(reading.hz)) {
    ladders.forEach((ladder) => ladder.show(NaN, 0));
    modes.reading(NaN, NaN, at_s);
    tell({ hz: null, tab: null, cents: null, clarity: reading.clarity });
    return;
  }
  const near = nearestNote(reading.hz);
  const asked = note !== null && (takes.on || !isOn('tones')) ? { tab: note.tab, hz: note.hz } : near;
  const wanted = modes.wanted ?? asked;
  const cents = against(centsBetween(wanted.hz, reading.hz));
  ladders.forEach((ladder) => ladder.show(reading.hz, cents));
  modes.reading(reading.hz, cents, at_s);
  // The note before may still be heard for a moment; an echo is judged where it is the player's turn.
  if (note !== null && (open || chosen('echo') === null) && at_s - litSince_s > 0.1) {
    tally.take(note.index, near.tab === note.tab ? centsBetween(note.hz, reading.hz) : NaN);
  }
  const astray = Math.abs(cents) > ASTRAY_CENTS;
  const said = astray
    ? { sign: '', figure: near.tab, words: `sounds; play ${wanted.tab}` }
    : wordsFor(/** @type {import('./ladder.js').Rung} */ (wanted), cents);
  setText(heardFigure, `${said.sign} ${said.figure}`);
  setText(heardWords, takes.ownAnchor ? `${said.words} (from your own anchor)` : said.words);
  tell({ hz: reading.hz, tab: near.tab, cents: centsBetween(near.hz, reading.hz), clarity: reading.clarity });
}

/** @param {object} detail */
function tell(detail) {
  document.dispatchEvent(new CustomEvent('reedmill-reading', { detail }));
}

/** @param {HTMLElement} element @param {string} text */
function setText(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

async function listen() {
  if (!microphone?.on) {
    await listening();
    return;
  }
  takes.finish();
  microphone.stop();
  control('listen').setAttribute('aria-pressed', 'false');
  ladders.forEach((ladder) => ladder.show(NaN, 0));
}

/** The microphone, begun where it is not on yet; null, and the reason told, where it cannot be. */
async function listening() {
  if (microphone?.on) return microphone;
  const lowest = Math.min(...page.harp.map((each) => each.hz));
  const highest = Math.max(...page.harp.map((each) => each.hz));
  const opening = new Microphone(await clock(), { lowestHz: 0.9 * lowest, highestHz: 1.1 * highest });
  microphone = opening;
  opening.onReading = heard;
  try {
    await opening.start();
    control('listen').setAttribute('aria-pressed', 'true');
    takes.askHeadphones();
    setText(told, 'Listening. Wear headphones, so that you are heard and not the page.');
    setTimeout(() => setText(told, ''), 6000);
    return opening;
  } catch (error) {
    setText(told, reasonOf(error));
    return null;
  }
}

const own = new OwnTones();
const takes = new Takes({
  drill, timeline, ear: page.ear, clock, listening, stop, soundingNow: heardNow,
  playThrough: ({ tones }) => {
    begin({ countIn: 1, echo: null, climb: null, fade: 0, ...(tones ? {} : { tones: false, drone: null }) });
    return player?.head ?? null;
  },
});

/** Loop from the bar of one note to the end of another; one touch starts there. @param {number} index */
function touch(index) {
  const note = timeline.notes[index];
  if (looping !== null) {
    loopBetween(Math.min(looping, index), Math.max(looping, index));
    return;
  }
  span = [note.start, timeline.length];
  play();
}

/** Play the notes from *first* to *last* over and over. @param {number} first @param {number} last */
function loopBetween(first, last) {
  control('loop').setAttribute('aria-pressed', 'true');
  span = [timeline.notes[first].start, timeline.notes[last].end];
  looping = null;
  music.loop(first, last);
  setText(told, `Looping from ${timeline.notes[first].tab} to ${timeline.notes[last].tab}.`);
  if (player?.playing) play();
}

function loop() {
  const button = control('loop');
  const on = !isOn('loop');
  button.setAttribute('aria-pressed', String(on));
  if (!on) {
    looping = null;
    span = null;
    music.loop();
    setText(told, '');
  } else {
    setText(told, 'Loops all of it. Touch two notes, or drag across some, to loop from one to the other.');
    looping = -1;
  }
  if (player?.playing) play();
}

for (const [what, does] of Object.entries({ play: () => (player?.playing ? stop() : play()), stop, listen, loop })) {
  control(what)?.addEventListener('click', does);
}
// A phone has room for one row of controls: what is used least goes among the others.
const narrow = matchMedia('(max-width: 30rem)');
function placeLoop() {
  if (narrow.matches) document.querySelector('.panel')?.prepend(control('loop'));
  else control('record').after(control('loop'));
}
narrow.addEventListener('change', placeLoop);
placeLoop();
for (const what of ['click', 'count-in', 'tones']) {
  control(what)?.addEventListener('click', () => {
    control(what).setAttribute('aria-pressed', String(!isOn(what)));
    if (player?.playing) play();
  });
}
for (const what of ['drone', 'echo', 'fade', 'climb', 'climb-after']) {
  control(what)?.addEventListener('change', () => player?.playing && play());
}
function showTempo() {
  setText(tempoNow, tempo.value);
  player?.changeTempo(tempoShare());
}
tempo.addEventListener('input', showTempo);
for (const [what, step] of /** @type {[string, number][]} */ ([['slower', -4], ['faster', 4]])) {
  control(what).addEventListener('click', () => {
    tempo.value = String(Number(tempo.value) + step);
    showTempo();
  });
}
music.onTouch = (index) => {
  if (looping === -1) {
    looping = index;
    music.loop(index);
  } else touch(index);
};
music.onDrag = loopBetween;
document.addEventListener('keydown', (event) => {
  const on = /** @type {HTMLElement} */ (event.target);
  if (event.key === ' ' && !['BUTTON', 'INPUT', 'SELECT', 'SUMMARY'].includes(on.tagName)) {
    event.preventDefault();
    player?.playing ? stop() : play();
  }
  if (event.key === 'Escape') stop();
});
