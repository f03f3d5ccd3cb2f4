/**
 * Whether data of a stranger have the form they should: the part of JSON Schema that the schema of
 * a take uses (https://json-schema.org, draft 2020-12), with bounds on what it leaves open.
 */

const MOST_LETTERS = 400;
const MOST_ITEMS = 20_000;

/** @typedef {Record<string, any>} Schema */

/**
 * What is wrong with *value*, as a sentence without its full stop; null where nothing is.
 * @param {Schema} schema @param {unknown} value @param {string} [place]  in words of JSON: passes[0].notes
 * @returns {string | null}
 */
export function wrongIn(schema, value, place = 'the take') {
  const kind = kindOf(value);
  const kinds = schema.type === undefined ? [] : [schema.type].flat();
  const fits = kinds.length === 0 || kinds.includes(kind) || (kind === 'integer' && kinds.includes('number'));
  if (!fits) return `${place} is ${shown(value)}, where ${kinds.join(' or ')} belongs`;
  if (schema.const !== undefined && value !== schema.const) return `${place} is ${shown(value)}, not ${schema.const}`;
  if (schema.enum !== undefined && !schema.enum.includes(value)) return `${place} is ${shown(value)}, which is not one of ${schema.enum.join(', ')}`;
  if (typeof value === 'number') return wrongNumber(schema, value, place);
  if (typeof value === 'string') return wrongText(schema, value, place);
  if (Array.isArray(value)) return wrongList(schema, value, place);
  return kind === 'object' ? wrongObject(schema, /** @type {Record<string, unknown>} */ (value), place) : null;
}

/** @param {Schema} schema @param {number} value @param {string} place */
function wrongNumber(schema, value, place) {
  const { minimum = -Infinity, maximum = Infinity, exclusiveMinimum = -Infinity } = schema;
  return Number.isFinite(value) && value >= minimum && value <= maximum && value > exclusiveMinimum ? null : `${place} is ${shown(value)}, which is out of bounds`;
}

/** @param {Schema} schema @param {string} value @param {string} place */
function wrongText(schema, value, place) {
  if (value.length > MOST_LETTERS) return `${place} has ${value.length} letters, more than ${MOST_LETTERS}`;
  return schema.pattern === undefined || new RegExp(schema.pattern).test(value) ? null : `${place} is ${shown(value)}`;
}

/** @param {Schema} schema @param {unknown[]} value @param {string} place */
function wrongList(schema, value, place) {
  if (value.length > MOST_ITEMS) return `${place} has ${value.length} entries, more than ${MOST_ITEMS}`;
  return first(value, (each, n) => wrongIn(schema.items ?? {}, each, `${place}[${n}]`));
}

/** @param {Schema} schema @param {Record<string, unknown>} value @param {string} place */
function wrongObject(schema, value, place) {
  const missing = (schema.required ?? Object.keys(schema.properties ?? {})).find((/** @type {string} */ name) => !Object.hasOwn(value, name));
  if (missing !== undefined) return `${place} has no "${missing}"`;
  return first(Object.keys(value), (name) =>
    Object.hasOwn(schema.properties ?? {}, name)
      ? wrongIn(schema.properties[name], value[name], `${place}.${name}`)
      : `${place} has a field ${shown(name)} that does not belong there`);
}

/** The first thing that *wrong* has to say. @template T @param {T[]} all @param {(each: T, n: number) => string | null} wrong */
function first(all, wrong) {
  for (let n = 0; n < all.length; n += 1) {
    const said = wrong(all[n], n);
    if (said !== null) return said;
  }
  return null;
}

/** @param {unknown} value */
function kindOf(value) {
  if (value === null) return 'null';
  if (Array.isArray(value)) return 'array';
  if (Number.isInteger(value)) return 'integer';
  return typeof value;
}

/** A value in a message, whatever it is. @param {unknown} value */
function shown(value) {
  const text = JSON.stringify(value) ?? 'nothing';
  // Only letters one can read: a stranger's may turn a sentence round.
  const plain = text.replace(/[^\x20-\x7e\u00a1-\u024f]/gu, '?');
  return plain.length > 40 ? `${plain.slice(0, 40)}...` : plain;
}
