/**
 * Hears takes as the practice page does: `node hear_takes.mjs JOBS`, a file with a list of
 * `{page, sound, rate}`: the page's two blocks of data, and a file of 32-bit samples.  Prints the
 * list of takes, each as JSON of `reedmill hear --json`, or `{"refused": "..."}`.
 */

import { readFileSync } from 'node:fs';
import { argv, stdout } from 'node:process';

const [, , jobs, sources] = argv;
const { Ear, NotHeard, wantedNotes } = await import(`${sources}/ear/hear.js`);
const { Timeline } = await import(`${sources}/timeline.js`);

const found = [];
for (const { page, sound, rate } of JSON.parse(readFileSync(jobs, 'utf8'))) {
  const drill = page['reedmill-timeline'].drills[0];
  const { pulse, bar_beats: barBeats, ear } = page['reedmill-page'];
  const listener = new Ear(ear, wantedNotes(new Timeline(drill, { pulse, barBeats }), drill));
  const samples = new Float32Array(readFileSync(sound).buffer.slice(0));
  try {
    found.push(await listener.hear(samples, rate));
  } catch (error) {
    if (!(error instanceof NotHeard)) throw error;
    found.push({ refused: error.message });
  }
}
stdout.write(JSON.stringify(found));
