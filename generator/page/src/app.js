/**
 * The practice page: controls, music and ladder wired to the player and the microphone.
 *
 * Everything here reads its facts from the two blocks of data in the page and writes to the
 * document only where a text or a mark changes.
 */

import { Ladder, centsBetween, nearest, wordsFor } from './ladder.js';
import { Microphone, reasonOf } from './listen.js';
import { Player, soundingNow } from './player.js';
import { RestingPlace } from './resting.js';
import { Timeline } from './timeline.js';

/**
 * @typedef {object} PageData
 * @property {number} pulse  beats of one pulse
 * @property {number} bar_beats
 * @property {import('./ladder.js').Reed[]} reeds  those the drill bends, the most played first
 * @property {{tab: string, hz: number}[]} harp  every note the harp has
 * @property {import('./voice.js').Harmonics[]} tables
 * @property {Record<string, import('./voice.js').Harmonics>} drones  by their tones, an octave under the root
 */

/** @template T @param {string} id @returns {T} */
const dataOf = (id) => JSON.parse(/** @type {HTMLElement} */ (document.getElementById(id)).textContent ?? '');
/** @template {HTMLElement} T @param {string} what @returns {T} */
const control = (what) => /** @type {T} */ (document.querySelector(`[data-does="${what}"], [data-sets="${what}"]`));

const drill = dataOf('reedmill-timeline').drills[0];
/** @type {PageData} */
const page = dataOf('reedmill-page');
const timeline = new Timeline(drill, { pulse: page.pulse, barBeats: page.bar_beats });
const cells = /** @type {HTMLElement[]} */ ([...document.querySelectorAll('[data-note]')]);
const told = /** @type {HTMLElement} */ (document.getElementById('told'));
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
/** @type {[number, number] | null} */
let span = null;
/** The note a loop is to begin with: null, or -1 while the first is waited for.
 * @type {number | null}
 */
let looping = null;

/** The sound clock, begun by the first touch as browsers demand. */
async function clock() {
  if (context === null) {
    context = new AudioContext({ latencyHint: 'interactive' });
    player = new Player(context, timeline, page.tables);
    player.onEnd = () => showPlaying(false);
  }
  if (context.state !== 'running') await context.resume();
  return context;
}

function tempoShare() {
  return Number(/** @type {HTMLInputElement} */ (control('tempo')).value) / drill.tempo;
}

/** @param {string} what */
function isOn(what) {
  return control(what).getAttribute('aria-pressed') === 'true';
}

async function play() {
  await clock();
  const [from, to] = span ?? [0, timeline.length];
  const drone = /** @type {HTMLSelectElement} */ (control('drone')).value;
  player?.play({
    share: tempoShare(), loop: isOn('loop'), from, to, click: isOn('click'), countIn: isOn('count-in') ? 1 : 0,
    tones: isOn('tones'), drone: page.drones[drone] ?? null,
  });
  showPlaying(true);
  requestAnimationFrame(follow);
}

function stop() {
  player?.stop();
  showPlaying(false);
}

/** @param {boolean} playing */
function showPlaying(playing) {
  control('play').setAttribute('aria-pressed', String(playing));
  if (!playing) light(-1);
}

function follow() {
  if (player === null || !player.playing) return;
  const place = player.where((context === null ? 0 : soundingNow(context, performance.now())));
  const note = place === null ? null : timeline.noteAt(place.beat);
  if (place !== null && place.beat >= (span?.[0] ?? 0) - 1e-6) light(note === null ? -1 : note.index);
  requestAnimationFrame(follow);
}

/** @param {number} index  of the note that sounds, -1 for none */
function light(index) {
  if (index === lit) return;
  if (lit >= 0) cells[lit].classList.remove('lit');
  lit = index;
  if (index < 0) return;
  const cell = cells[index];
  cell.classList.add('lit');
  cell.scrollIntoView({ block: 'nearest', behavior: 'instant' });
  const note = timeline.notes[index];
  for (const ladder of ladders) ladder.want(ladder.reed.rungs.some((rung) => rung.tab === note.tab) ? note.tab : null);
  document.dispatchEvent(new CustomEvent('reedmill-note', { detail: { index, tab: note.tab } }));
}

const resting = new RestingPlace((hz) => {
  for (const ladder of ladders) {
    const { rung, cents } = nearest(ladder.reed.rungs, hz);
    if (Math.abs(cents) <= 60 && rung.used) ladder.step(rung.tab, hz);
  }
});

/** @param {import('./pitch.js').Reading} reading @param {number} at_s */
function heard(reading, at_s) {
  const note = lit >= 0 ? timeline.notes[lit] : null;
  resting.take(reading.hz, at_s);
  if (Number.isNaN(reading.hz)) {
    ladders.forEach((ladder) => ladder.show(NaN, 0));
    tell({ hz: null, tab: null, cents: null, clarity: reading.clarity });
    return;
  }
  const near = page.harp.reduce((best, each) =>
    Math.abs(centsBetween(each.hz, reading.hz)) < Math.abs(centsBetween(best.hz, reading.hz)) ? each : best);
  const wanted = note !== null && isOn('tones') === false ? { tab: note.tab, hz: note.hz } : near;
  const cents = centsBetween(wanted.hz, reading.hz);
  ladders.forEach((ladder) => ladder.show(reading.hz, cents));
  const said = wordsFor(/** @type {import('./ladder.js').Rung} */ (wanted), cents);
  setText(heardFigure, `${said.sign} ${said.figure}`);
  setText(heardWords, said.words);
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
  const button = control('listen');
  if (microphone?.on) {
    microphone.stop();
    button.setAttribute('aria-pressed', 'false');
    ladders.forEach((ladder) => ladder.show(NaN, 0));
    return;
  }
  const lowest = Math.min(...page.harp.map((each) => each.hz));
  const highest = Math.max(...page.harp.map((each) => each.hz));
  microphone = new Microphone(await clock(), { lowestHz: 0.9 * lowest, highestHz: 1.1 * highest });
  microphone.onReading = heard;
  try {
    await microphone.start();
    button.setAttribute('aria-pressed', 'true');
    setText(told, 'Listening. Wear headphones, so that you are heard and not the page.');
    setTimeout(() => setText(told, ''), 6000);
  } catch (error) {
    setText(told, reasonOf(error));
  }
}

/** Loop from the bar of one note to the end of another; one touch starts there. @param {number} index */
function touch(index) {
  const note = timeline.notes[index];
  if (looping !== null) {
    const [first, last] = [looping, index].sort((a, b) => a - b);
    span = [timeline.notes[first].start, timeline.notes[last].end];
    looping = null;
    setText(told, `Looping from ${timeline.notes[first].tab} to ${timeline.notes[last].tab}.`);
    cells.forEach((cell, n) => cell.classList.toggle('looped', n >= first && n <= last));
    if (player?.playing) play();
    return;
  }
  span = [note.start, timeline.length];
  play();
}

function loop() {
  const button = control('loop');
  const on = !isOn('loop');
  button.setAttribute('aria-pressed', String(on));
  if (!on) {
    looping = null;
    span = null;
    cells.forEach((cell) => cell.classList.remove('looped'));
    setText(told, '');
  } else {
    setText(told, 'Loops all of it. Touch two notes to loop from one to the other.');
    looping = -1;
  }
  if (player?.playing) play();
}

for (const [what, does] of Object.entries({ play: () => (player?.playing ? stop() : play()), stop, listen, loop })) {
  control(what)?.addEventListener('click', does);
}
for (const what of ['click', 'count-in', 'tones']) {
  control(what)?.addEventListener('click', () => {
    control(what).setAttribute('aria-pressed', String(!isOn(what)));
    if (player?.playing) play();
  });
}
control('drone')?.addEventListener('change', () => player?.playing && play());
const tempo = /** @type {HTMLInputElement} */ (control('tempo'));
function showTempo() {
  setText(/** @type {HTMLElement} */ (document.getElementById('tempo-now')), tempo.value);
  player?.changeTempo(tempoShare());
}
tempo.addEventListener('input', showTempo);
for (const [what, step] of /** @type {[string, number][]} */ ([['slower', -4], ['faster', 4]])) {
  control(what).addEventListener('click', () => {
    tempo.value = String(Number(tempo.value) + step);
    showTempo();
  });
}
cells.forEach((cell, index) =>
  cell.addEventListener('click', () => {
    if (looping === -1) looping = index;
    else touch(index);
  }),
);
document.addEventListener('keydown', (event) => {
  const on = /** @type {HTMLElement} */ (event.target);
  if (event.key === ' ' && !['BUTTON', 'INPUT', 'SELECT', 'SUMMARY'].includes(on.tagName)) {
    event.preventDefault();
    player?.playing ? stop() : play();
  }
  if (event.key === 'Escape') stop();
});
