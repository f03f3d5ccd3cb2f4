/** The few ways in which the page's program reads and writes its document. */

export const SVG = 'http://www.w3.org/2000/svg';

/** The element of that id. @template {Element} [T=HTMLElement] @param {string} id @returns {T} */
export const at = (id) => /** @type {any} */ (document.getElementById(id));

/** The control that does or sets *what*. @template {HTMLElement} [T=HTMLElement] @param {string} what @returns {T} */
export const control = (what) => /** @type {T} */ (document.querySelector(`[data-does="${what}"], [data-sets="${what}"]`));

/** Whether a control that can be on or off is on. @param {string} what */
export const isOn = (what) => control(what).getAttribute('aria-pressed') === 'true';

/** @param {string} what @param {boolean} on */
export const turn = (what, on) => control(what).setAttribute('aria-pressed', String(on));

/** Write only what changes: readers of screens are told of every change. @param {Element} element @param {string} text */
export function setText(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/** A new shape of a picture. @param {string} kind @param {Record<string, string | number>} how @param {Element} [parent] */
export function shape(kind, how, parent) {
  const made = document.createElementNS(SVG, kind);
  for (const [name, value] of Object.entries(how)) made.setAttribute(name, String(value));
  parent?.append(made);
  return made;
}

/** The box that a shape's attributes say, in the picture's own pixels. @param {Element} box */
export function boxOf(box) {
  const [left, top, width, height] = ['x', 'y', 'width', 'height'].map((name) => Number(box.getAttribute(name)));
  return { left, top, right: left + width, bottom: top + height };
}
