/**
 * The furniture of the page: what lies over the music is measured, so that nothing that has the
 * focus hides under it; what is said is where it can be seen; and a phone shows one ladder, that of
 * the note that is played.
 *
 * It hears of notes by the page's own events, and knows nothing of sound.
 */

/** No letter of a ladder is smaller on the screen, in pixels of CSS, however small its picture. */
const LEAST_LETTERS = 12;
const LETTERS = 15; // in the picture's own pixels
/** What is heard chooses the ladder when no note has been lit for so long. */
const UNLIT_MS = 2000;
/** Of the window: what hides more than this of the music is in its way. */
const MUCH = 0.4;
/** So long a message may stand over music that is being played. */
const OVER_MUSIC_MS = 8000;

/** @template {Element} T @param {string} what @returns {T} */
const find = (what) => /** @type {T} */ (document.querySelector(what));

/** Put everything in its place. @param {{rungs: {tab: string}[]}[]} ladders  in the order of their figures */
export function furnish(ladders) {
  keepMeasured();
  keepLegible();
  showCurrent(ladders);
  closeMore();
  sayInSight();
}

/** Tell the style how much of the window lies under the controls and under the ladder. */
function keepMeasured() {
  const [bar, panel, said, over, music] = ['.controls', '.panel', '.said', '.ladders', '.music'].map((what) => /** @type {HTMLElement} */ (find(what)));
  const measure = () => {
    const floats = getComputedStyle(bar).position === 'fixed';
    const high = [bar, panel, said].map((each) => (floats && each.checkVisibility() ? each.offsetHeight : 0));
    const ladder = over.getBoundingClientRect();
    const above = getComputedStyle(over).position === 'sticky' && ladder.left < music.getBoundingClientRect().right;
    write('--panel', high[1]);
    write('--bar', Math.min(high[0] + high[1] + high[2], innerHeight * 0.6));
    write('--over', above ? Math.min(ladder.height, innerHeight * 0.6) : 0);
  };
  const watch = new ResizeObserver(measure);
  for (const each of [bar, panel, said, over]) watch.observe(each);
  addEventListener('resize', measure);
  measure();
}

/** @param {string} name @param {number} pixels */
function write(name, pixels) {
  const { style } = document.documentElement;
  const text = `${Math.round(pixels)}px`;
  if (style.getPropertyValue(name) !== text) style.setProperty(name, text);
}

/** Keep the letters of a ladder legible however small its picture is. */
function keepLegible() {
  const size = (/** @type {SVGSVGElement} */ picture) => {
    const { width, height } = picture.getBoundingClientRect();
    const [, , wide, high] = (picture.getAttribute('viewBox') ?? '').split(' ').map(Number);
    const scale = Math.min(width / wide, height / high);
    if (scale > 0) picture.style.setProperty('--letters', Math.max(LETTERS, LEAST_LETTERS / scale).toFixed(1));
  };
  const watch = new ResizeObserver((changed) => changed.forEach(({ target }) => size(/** @type {SVGSVGElement} */ (target))));
  for (const each of document.querySelectorAll('.ladders figure svg')) watch.observe(each);
}

/** Where there is room for one ladder, show that of the note. @param {{rungs: {tab: string}[]}[]} ladders */
function showCurrent(ladders) {
  const figures = [...document.querySelectorAll('.ladders figure:not(#chosen-figure)')];
  let now = 0;
  let lit_ms = -Infinity;
  const has = (/** @type {number} */ number, /** @type {string} */ tab) => ladders[number]?.rungs.some((rung) => rung.tab === tab);
  const show = (/** @type {string} */ tab) => {
    if (has(now, tab)) return;
    const next = figures.findIndex((_, number) => has(number, tab));
    if (next < 0) return;
    figures[now].classList.remove('current');
    figures[next].classList.add('current');
    now = next;
  };
  document.addEventListener('reedmill-note', (event) => {
    lit_ms = performance.now();
    show(/** @type {CustomEvent} */ (event).detail.tab);
  });
  document.addEventListener('reedmill-reading', (event) => {
    const { tab } = /** @type {CustomEvent} */ (event).detail;
    if (tab !== null && performance.now() - lit_ms > UNLIT_MS) show(tab);
  });
}

/**
 * "More" lies over the music: Escape closes it before it stops anything and gives the focus back to
 * its button; it closes too when the focus goes elsewhere, or a touch does while it hides much.
 */
function closeMore() {
  const [bar, more, panel] = ['.controls', '.more', '.panel'].map((what) => /** @type {HTMLDetailsElement} */ (find(what)));
  const outside = (/** @type {Event} */ event) => event.target instanceof Node && !bar.contains(event.target);
  document.addEventListener('focusin', (event) => {
    if (outside(event) && /** @type {Element} */ (event.target).matches(':focus-visible')) more.open = false; // by a key
  });
  document.addEventListener('pointerdown', (event) => {
    if (outside(event) && panel.offsetHeight > innerHeight * MUCH) more.open = false;
  });
  document.addEventListener('keydown', (event) => {
    if (event.key !== 'Escape' || !more.open) return;
    event.stopPropagation();
    more.open = false;
    more.querySelector('summary')?.focus();
  }, { capture: true });
}

/**
 * What is said of a take is shown over the controls too, while its own place is out of sight. Of
 * that and what the controls say only the newest is shown, and that not for long over music that
 * is being played; readers of screens have both as they come.
 */
function sayInSight() {
  const [told, take, copy, play] = ['#told', '#take-told', '#take-said', '[data-does="play"]'].map((what) => /** @type {HTMLElement} */ (find(what)));
  let seen = true; // the place under the music
  /** @type {'told' | 'take' | null} */
  let newest = null;
  let timer = 0;
  const show = () => {
    copy.hidden = seen || newest !== 'take';
    if (!copy.hidden && copy.textContent !== take.textContent) copy.textContent = take.textContent;
    told.classList.toggle('older', newest !== 'told');
  };
  const say = (/** @type {typeof newest} */ which) => {
    newest = which;
    clearTimeout(timer);
    if (which !== null) timer = setTimeout(() => play.getAttribute('aria-pressed') === 'true' && say(null), OVER_MUSIC_MS);
    show();
  };
  new IntersectionObserver(([last]) => {
    seen = last.isIntersecting;
    show();
  }, { rootMargin: '0px 0px -64px 0px', threshold: 1 }).observe(take);
  const text = { childList: true, characterData: true, subtree: true };
  new MutationObserver(() => say('take')).observe(take, text);
  new MutationObserver(() => told.textContent !== '' && say('told')).observe(told, text);
  // Whoever presses the next control has read what the last one said.
  find('.controls').addEventListener('click', (event) => {
    if (!(event.target instanceof Element) || event.target.closest('button') === null) return;
    if (told.textContent !== '') told.textContent = '';
    say(null);
  }, { capture: true });
}
