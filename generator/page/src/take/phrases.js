/** What is told at the end of a phrase: the places the last tries came to, when he pauses. */

import { printedCents } from './summing.js';

const PAUSE_S = 1.2;
const MOST = 4;

export class Phrases {
  /** @param {(sentence: string) => void} tell @param {number} on  cents within which a try is in its place */
  constructor(tell, on) {
    this.tell = tell;
    this.on = on;
    /** @type {{tab: string, cents: number}[]} */
    this.tries = [];
    this.last_s = -Infinity;
  }

  /** A try came to rest. @param {string} tab @param {number} cents  from its place */
  rest(tab, cents) {
    this.tries.push({ tab, cents });
  }

  /** The next reading. @param {boolean} tone @param {number} at_s */
  reading(tone, at_s) {
    if (tone) this.last_s = at_s;
    else if (this.tries.length > 0 && at_s - this.last_s >= PAUSE_S) {
      this.tell(phraseWords(this.tries, this.on));
      this.tries = [];
    }
  }
}

/** @param {{tab: string, cents: number}[]} tries @param {number} on */
function phraseWords(tries, on) {
  const told = tries.slice(-MOST).map(({ tab, cents }) => `${tab}: ${Math.abs(cents) <= on ? 'on' : `${printedCents(cents)} cents`}`);
  return `${told.join('; ')}.`;
}
