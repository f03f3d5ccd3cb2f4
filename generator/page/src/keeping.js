/**
 * "My takes": what this browser keeps of the drill, shown, exported, imported and forgotten.
 */

import { at, control, setText } from './dom.js';
import { download } from './saving.js';
import { curveWords, drawCurve } from './take/curve.js';
import { MOST_TAKES, checkSize, progressOf } from './take/history.js';

/** @typedef {import('./take/history.js').TakeHistory} TakeHistory */
/** @typedef {import('./take/history.js').Played} Played */

export class Keeping {
  /** @param {TakeHistory} history @param {Played} played  what this page's takes are of */
  constructor(history, played) {
    this.history = history;
    this.played = played;
    /** Called when everything was forgotten. */
    this.onForget = () => {};
    const does = {
      export: () => download('reedmill-takes.json', 'application/json', history.export()),
      forget: () => (at('forget-sure').hidden = false), 'forget-none': () => (at('forget-sure').hidden = true),
      'forget-all': () => this.#forget(),
    };
    for (const [what, handle] of Object.entries(does)) control(what).addEventListener('click', handle);
    const file = /** @type {HTMLInputElement} */ (control('import'));
    file.addEventListener('change', () => this.#import(file));
    this.#show();
  }

  /** Keep a take; returns what is to be told, null where all went well. @param {Record<string, any>} take */
  add(take) {
    const { trouble } = this.history.add(this.played, take);
    this.#show();
    return trouble;
  }

  /** @param {string} [said] */
  #show(said = '') {
    const takes = this.history.takes(this.played).map(progressOf);
    drawCurve(at('history-curve'), takes);
    const bound = takes.length >= MOST_TAKES ? ` The newest ${MOST_TAKES} are kept.` : '';
    setText(at('history-told'), [said, curveWords(takes) + bound, this.history.trouble ?? ''].filter(Boolean).join(' '));
  }

  /** @param {HTMLInputElement} input */
  async #import(input) {
    const [file] = input.files ?? [];
    if (file === undefined) return;
    try {
      checkSize(file.size);
      const { added, drills, trouble } = this.history.import(await file.text());
      this.#show(`${counted(added, 'take')} of ${counted(drills, 'drill')} imported.${trouble === null ? '' : ` ${trouble}`}`);
    } catch (error) {
      setText(at('history-told'), error instanceof Error ? error.message : String(error));
    }
    input.value = '';
  }

  #forget() {
    const { takes, drills, settings } = this.history.forget();
    at('forget-sure').hidden = true;
    this.onForget();
    this.#show(`Forgotten: ${counted(takes, 'take')} of ${counted(drills, 'drill')}, and ${counted(settings, 'setting')}.`);
  }
}

/** @param {number} count @param {string} what */
export function counted(count, what) {
  return `${count} ${what}${count === 1 ? '' : 's'}`;
}
