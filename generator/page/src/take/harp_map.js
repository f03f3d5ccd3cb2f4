/** The map of the harp: ten holes, blow and draw, with what each can give, and the hole heard. */

/** @typedef {import('../ear/tuning.js').EarReed} EarReed */

/** Hole and breath of a reed's tab: "-3''" is hole 3, draw. @param {string} tab */
export function holeOf(tab) {
  return { hole: Number(/\d+/.exec(tab)?.[0] ?? 0), draw: tab.startsWith('-') };
}

/** The reeds that may have given a pitch, the likeliest first: several share one.
 * @param {EarReed[]} reeds @param {number} cents  above 440 Hz @param {number} near  cents within which it is that reed
 */
export function reedsAt(reeds, cents, near) {
  return reeds
    .filter((reed) => Math.abs(reed.cents - cents) <= near)
    .sort((a, b) => (a.kind === 'natural' ? 0 : 1) - (b.kind === 'natural' ? 0 : 1) || Math.abs(a.cents - cents) - Math.abs(b.cents - cents));
}

/** What is heard, in words. @param {EarReed[]} found */
export function foundWords(found) {
  if (found.length === 0) return '';
  return found.slice(0, 2).map((reed) => reed.words).join(' or ');
}

export class HarpMap {
  /** @param {HTMLTableElement} place @param {EarReed[]} reeds @param {number} near  cents within which a pitch is a reed's */
  constructor(place, reeds, near) {
    this.near = near;
    this.place = place;
    this.reeds = reeds;
    /** @type {Map<string, HTMLElement>} */
    this.cells = new Map();
    this.lit = '';
    this.#draw();
  }

  #draw() {
    const holes = [...new Set(this.reeds.map((reed) => holeOf(reed.tab).hole))].sort((a, b) => a - b);
    const body = this.place.createTBody();
    this.#row(body, 'blow', holes, false);
    const middle = body.insertRow();
    middle.append(heading('hole', 'row'));
    for (const hole of holes) middle.append(heading(String(hole), 'col'));
    this.#row(body, 'draw', holes, true);
  }

  /** @param {HTMLTableSectionElement} body @param {string} words @param {number[]} holes @param {boolean} draw */
  #row(body, words, holes, draw) {
    const row = body.insertRow();
    row.append(heading(words, 'row'));
    for (const hole of holes) {
      const cell = row.insertCell();
      const there = this.reeds.filter((reed) => holeOf(reed.tab).hole === hole && holeOf(reed.tab).draw === draw);
      // Nearest to the numbers of the holes stands the natural note.
      for (const reed of draw ? there : there.reverse()) {
        const shown = document.createElement('div');
        shown.textContent = reed.tab;
        cell.append(shown);
        this.cells.set(reed.tab, shown);
      }
    }
  }

  /** Light what may have given a pitch; NaN for nothing. @param {number} cents  above 440 Hz @returns {string} in words */
  show(cents) {
    const found = Number.isNaN(cents) ? [] : reedsAt(this.reeds, cents, this.near);
    const lit = found.map((reed) => reed.tab).join(' ');
    if (lit !== this.lit) {
      this.lit = lit;
      for (const [tab, cell] of this.cells) cell.classList.toggle('heard-here', found.some((reed) => reed.tab === tab));
    }
    return foundWords(found);
  }
}

/** @param {string} words @param {string} scope */
function heading(words, scope) {
  const made = document.createElement('th');
  made.scope = scope;
  made.textContent = words;
  return made;
}
