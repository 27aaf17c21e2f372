/** What the API document says about cell documents: keys, kinds, defaults, words. New keys of the format are editable at once. */
import { read } from './api.js';

let schemas = null;

/** Reads the API document once. */
export async function loadSchema() {
  if (schemas) return;
  schemas = (await read('/openapi.json')).components.schemas;
  for (const one of Object.values(schemas).filter((schema) => schema['x-order'])) {
    one.properties = Object.fromEntries(one['x-order'].map((key) => [key, one.properties[key]]));
  }
}

/** A schema without references and without the alternative null. */
export function resolve(schema) {
  if (schema.$ref) {
    const named = resolve(schemas[schema.$ref.split('/').pop()]);
    return schema.description ? { ...named, description: schema.description } : named;
  }
  const options = schema.oneOf || schema.anyOf;
  if (options) {
    const real = options.filter((option) => option.type !== 'null');
    if (real.length === 1) {
      const named = resolve(real[0]);
      return { ...named, description: schema.description || named.description, default: schema.default ?? named.default };
    }
  }
  return schema;
}

/** The schema of a named part of a document. */
export const named = (name) => resolve({ $ref: name });

/** Its kind in one word. */
export function kind(schema) {
  if (schema.enum) return 'choice';
  const type = Array.isArray(schema.type) ? schema.type.find((t) => t !== 'null') : schema.type;
  if (type === 'object') return schema.properties ? 'object' : 'map';
  return type || 'any';
}

const UNITS = [['_m_s3', 'm/s³'], ['_m_s2', 'm/s²'], ['_m_s', 'm/s'], ['_per_min', '/min'], ['_m2', 'm²'], ['_mm', 'mm'],
  ['_kg', 'kg'], ['_min', 'min'], ['_h', 'h'], ['_s', 's'], ['_n', 'N'], ['_m', 'm']];

/** The unit that a key ends in, or nothing. */
export function unit(key) {
  const found = UNITS.find(([ending]) => key.endsWith(ending));
  return found ? found[1] : '';
}

/** A key in words, without its unit. */
export function words(key) {
  const found = UNITS.find(([ending]) => key.endsWith(ending));
  const bare = found ? key.slice(0, -found[0].length) : key;
  const text = bare.replaceAll('_', ' ').replace(/\bid\b/, 'id').replace(/\bcg\b/, 'centre of gravity').replace(/\baccel\b/, 'acceleration');
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/** A new value that has what a schema demands. */
export function blank(schema) {
  const whole = resolve(schema);
  switch (kind(whole)) {
    case 'object':
      return Object.fromEntries((whole.required || []).map((key) => [key, blank(whole.properties[key])]));
    case 'array': return [];
    case 'map': return {};
    case 'choice': return whole.enum[0];
    case 'boolean': return false;
    case 'number': case 'integer': return whole.default ?? whole.minimum ?? 1;
    default: return '';
  }
}
