/**
 * The practice page: its parts made from the page's data, and its controls wired to them.
 *
 * Everything here reads its facts from the two blocks of data in the page and writes to the
 * document only where a text or a mark changes.
 */

import { Band, besidePage } from './band.js';
import { at, control, isOn, setText, turn } from './dom.js';
import { furnish } from './furniture.js';
import { reasonOf, Microphone } from './listen.js';
import { Live } from './live.js';
import { Music } from './music.js';
import { Player, soundingNow } from './player.js';
import { Takes } from './takes.js';
import { Timeline } from './timeline.js';

/**
 * @typedef {object} PageData
 * @property {number} pulse  beats of one pulse
 * @property {number} bar_beats
 * @property {import('./ladder.js').Reed[]} reeds  those the drill bends, the most played first
 * @property {import('./modes.js').HarpNote[]} harp  every note the harp has
 * @property {import('./player.js').Sounds} sounds
 * @property {Record<string, import('./voice.js').Harmonics>} drones  by their tones, an octave under the root
 * @property {import('./takes.js').PageEar} ear
 * @property {import('./band.js').BandData | null} band  of the pack's file
 */

/** How long a message that only greets is left standing. */
const GREETING_MS = 6000;

/** @param {string} id */
const dataOf = (id) => JSON.parse(at(id).textContent ?? '');

const drill = dataOf('reedmill-timeline').drills[0];
/** @type {PageData} */
const page = dataOf('reedmill-page');
const timeline = new Timeline(drill, { pulse: page.pulse, barBeats: page.bar_beats, shapes: page.sounds.shapes });
const music = new Music(/** @type {Element} */ (document.querySelector('.music')), /** @type {HTMLElement[]} */ ([...document.querySelectorAll('[data-note]')]));
const told = at('told');
const tempo = /** @type {HTMLInputElement} */ (control('tempo'));
const live = new Live({ drill, timeline, page, wishes: { echo: () => chosen('echo') !== null, tones: () => isOn('tones') } });
const takes = new Takes({
  drill, timeline, ear: page.ear, clock, listening, stop,
  playThrough: ({ tones }) => begin({ countIn: 1, loop: isOn('loop'), echo: null, climb: null, fade: 0, ...(tones ? {} : { tones: false, drone: null }) }, tones),
  click: async () => (await playing()).click,
});
live.onReading = (tone, at_s) => takes.reading(tone, at_s);
live.takes = takes;

/** @type {{context: AudioContext, player: Player} | null} */
let sound = null;
/** @type {Microphone | null} */
let microphone = null;
/** The microphone that the browser is being asked for. @type {Promise<Microphone | null> | null} */
let asking = null;
/** The picture that is asked for next, while something plays. */
let frame = 0;
/** The beat that playing begins with: of the note that was touched last. */
let startAt = 0;
/** The band, when it has been asked for. @type {Band | null} */
let accompaniment = null;
/** The beats that are played over and over, where that is not all. @type {[number, number] | null} */
let span = null;
/** Whether two notes of a loop are waited for, and the first of them when it has come.
 * @type {{first: number | null} | null}
 */
let marking = null;

// --- playing ---------------------------------------------------------------------------------

/** The sound clock, begun by the first touch as browsers demand. */
async function clock() {
  return (await playing()).context;
}

/** The player, made when it is first needed. @returns {Promise<Player>} */
async function playing() {
  sound ??= made();
  if (sound.context.state !== 'running') await sound.context.resume();
  return sound.player;
}

function made() {
  const context = new AudioContext({ latencyHint: 'interactive' });
  const player = new Player(context, timeline, page.sounds);
  player.onTone = (hz, from_s, to_s) => live.own.add(hz, from_s, to_s);
  player.wasClean = (pass) => !microphone?.on || live.clean(/** @type {import('./timeline.js').Playhead} */ (player.head), pass, soundsNow());
  player.onClimb = (share) => {
    tempo.value = String(Math.round(share * drill.tempo));
    setText(at('tempo-now'), tempo.value);
    setText(told, `Faster: ${tempo.value} bpm.`);
  };
  player.onEnd = () => {
    live.own.stop(context.currentTime);
    showPlaying(false);
    takes.drillEnded(soundsNow());
  };
  return { context, player };
}

/** What comes out of the speaker at this moment, in seconds of the sound clock. */
function soundsNow() {
  return sound === null ? 0 : soundingNow(sound.context, performance.now());
}

/** What is chosen for *what*, null for nothing. @param {string} what */
function chosen(what) {
  const { value } = /** @type {HTMLSelectElement} */ (control(what));
  return value === 'off' ? null : value;
}

/** Play as the controls ask, but for what a take wants otherwise.
 * @param {Partial<import('./player.js').Wishes>} [otherwise] @param {boolean} [along]  the band may play along
 */
function begin(otherwise = {}, along = true) {
  if (sound === null) return null;
  const { context, player } = sound;
  const [from, to] = span ?? [startAt, timeline.length];
  const [echo, climb, fade] = [chosen('echo'), chosen('climb'), Number(chosen('fade') ?? 0)];
  const wishes = {
    share: tempoShare(), from, to, click: isOn('click'), countIn: isOn('count-in') ? 1 : 0,
    loop: isOn('loop') || climb !== null || fade > 0, // both need passes to come
    tones: isOn('tones'), drone: page.drones[chosen('drone') ?? ''] ?? null, fade, echo: echo === null ? null : Number(echo),
    climb: climb === null ? null : { step: Number(climb) / drill.tempo, after: Number(chosen('climb-after')), highest: Number(tempo.max) / drill.tempo },
    ...otherwise,
  };
  const accompanied = along && wishes.echo === null ? band() : null;
  if (accompanied?.tones) wishes.tones = false;
  live.own.stop(context.currentTime);
  live.own.drone_hz = wishes.drone?.to_hz ?? null;
  live.begin();
  player.play(wishes);
  showPlaying(true);
  cancelAnimationFrame(frame); // of what was playing: one is enough
  frame = requestAnimationFrame(follow);
  if (accompanied && player.head) accompanied.play(player.head, soundsNow);
  return player.head;
}

/** The band where it is switched on; null where it is not, or there is none. */
function band() {
  if (page.band === null || !isOn('band')) return null;
  const address = besidePage(location.href, page.band.ending);
  if (address === null) noBand();
  else accompaniment ??= new Band(page.band, address, timeline, noBand);
  return accompaniment;
}

function noBand() {
  turn('band', false);
  accompaniment = null;
  setText(told, "The band's recording is not in this page's folder, so it cannot play.");
}

function toggleBand() {
  turn('band', !isOn('band'));
  if (isOn('band') && chosen('echo') !== null) setText(told, 'The band plays when Echo is off.');
  else if (isOn('band') && microphone?.on && takes.headphones !== true) setText(told, 'Wear headphones with the band, so that the page hears you and not the band.');
  playAgain();
}

async function play() {
  await playing();
  if (!takes.on) begin();
}

/** Begin anew with what was changed, where something is played. */
function playAgain() {
  if (sound?.player.playing) play();
}

function stop() {
  sound?.player.stop();
  live.own.stop(sound?.context.currentTime ?? 0);
  showPlaying(false);
  takes.finish();
}

function playOrStop() {
  if (sound?.player.playing) {
    stop();
    return;
  }
  startAt = 0;
  play();
}

/** @param {boolean} on */
function showPlaying(on) {
  turn('play', on);
  accompaniment?.stop();
  if (on) return;
  light(-1);
  setText(at('turn'), '');
}

function follow() {
  const { player } = sound ?? {};
  if (!player?.head) return;
  const place = player.where(soundsNow());
  if (place !== null) {
    const counting = place.beat < player.head.bounds.first - 1e-6;
    light(counting ? -1 : timeline.noteAt(place.beat)?.index ?? -1);
  }
  setText(at('turn'), place?.open ? 'Your turn' : '');
  live.place = place;
  frame = requestAnimationFrame(follow);
}

/** @param {number} index  of the note that sounds, -1 for none */
function light(index) {
  if (!live.want(index, sound?.context.currentTime ?? 0)) return;
  music.light(index);
  if (index >= 0) document.dispatchEvent(new CustomEvent('reedmill-note', { detail: { index, tab: timeline.notes[index].tab } }));
}

function tempoShare() {
  return Number(tempo.value) / drill.tempo;
}

function showTempo() {
  setText(at('tempo-now'), tempo.value);
  sound?.player.changeTempo(tempoShare());
}

// --- listening -------------------------------------------------------------------------------

async function listen() {
  if (microphone?.on) deafen();
  else await listening();
}

/** Let the microphone go. */
function deafen() {
  takes.finish();
  microphone?.stop();
  turn('listen', false);
  live.silence();
}

function stopAll() {
  stop();
  deafen();
}

/** The microphone, begun where it is not on yet; null, and the reason told, where it cannot be. */
function listening() {
  if (microphone?.on) return Promise.resolve(microphone);
  // Whoever presses twice while the browser asks wants one microphone.
  asking ??= asked().finally(() => (asking = null));
  return asking;
}

async function asked() {
  const lowest = Math.min(...page.harp.map((each) => each.hz));
  const highest = Math.max(...page.harp.map((each) => each.hz));
  const opening = new Microphone(await clock(), { lowestHz: 0.9 * lowest, highestHz: 1.1 * highest });
  opening.onReading = (reading, at_s) => live.heard(reading, at_s);
  opening.onLost = () => {
    deafen();
    setText(told, 'The microphone was taken away. Connect it, then press Listen again.');
  };
  try {
    await opening.start();
  } catch (error) {
    setText(told, reasonOf(error));
    return null;
  }
  microphone = opening;
  turn('listen', true);
  takes.askHeadphones();
  greet('Listening. Wear headphones, so that the page hears you and not itself.');
  return opening;
}

/** Say what need not be read twice. @param {string} words */
function greet(words) {
  setText(told, words);
  setTimeout(() => told.textContent === words && setText(told, ''), GREETING_MS);
}

// --- loops -----------------------------------------------------------------------------------

/** Play the notes from *first* to *last* over and over. @param {number} first @param {number} last */
function loopBetween(first, last) {
  turn('loop', true);
  span = [timeline.notes[first].start, timeline.notes[last].end];
  marking = null;
  music.loop(first, last);
  setText(told, `Looping from ${timeline.notes[first].tab} to ${timeline.notes[last].tab}.`);
  playAgain();
}

function loop() {
  const on = !isOn('loop');
  turn('loop', on);
  marking = on ? { first: null } : null;
  if (!on) {
    span = null;
    music.loop();
  }
  setText(told, on ? 'Loops all of it. Touch two notes, or drag across some, to loop from one to the other.' : '');
  playAgain();
}

/** A note was touched: it begins or ends a loop, or playing starts there. @param {number} index */
function touched(index) {
  if (marking === null) {
    startAt = timeline.notes[index].start;
    span = null;
    music.loop();
    play();
  } else if (marking.first === null) {
    marking.first = index;
    music.loop(index);
  } else loopBetween(Math.min(marking.first, index), Math.max(marking.first, index));
}

// --- controls --------------------------------------------------------------------------------

/** @param {string} what */
function toggle(what) {
  turn(what, !isOn(what));
  playAgain();
}

/** @param {number} step  a minute */
function faster(step) {
  tempo.value = String(Number(tempo.value) + step);
  showTempo();
}

/** @type {Record<string, () => void>} */
const does = {
  play: playOrStop, stop: stopAll, listen, loop, slower: () => faster(-4), faster: () => faster(4),
  click: () => toggle('click'), 'count-in': () => toggle('count-in'), tones: () => toggle('tones'),
};
if (page.band !== null) does.band = toggleBand;
for (const [what, handle] of Object.entries(does)) control(what).addEventListener('click', handle);
for (const what of ['drone', 'echo', 'fade', 'climb', 'climb-after']) control(what).addEventListener('change', playAgain);
tempo.addEventListener('input', showTempo);
music.onTouch = touched;
music.onDrag = loopBetween;

// A phone has room for one row of controls: what is used least goes among the others.
const narrow = matchMedia('(max-width: 30rem)');
function placeLoop() {
  if (narrow.matches) document.querySelector('.panel')?.prepend(control('loop'));
  else control('record').after(control('loop'));
}
narrow.addEventListener('change', placeLoop);
placeLoop();

document.addEventListener('keydown', (event) => {
  const on = /** @type {HTMLElement} */ (event.target);
  if (event.key === ' ' && !['BUTTON', 'INPUT', 'SELECT', 'SUMMARY'].includes(on.tagName)) {
    event.preventDefault();
    playOrStop();
  }
  if (event.key === 'Escape') stop();
});
furnish(page.reeds);
