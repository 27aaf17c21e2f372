/** Changes of a cell document, as alternatives name them. No elements here. */
import { withValue } from './model.js';

/** The paths that `keys/with/ids` stands for in a document. */
export function placesOf(document, at) {
  if (at === 'rate') {
    return document.skus.flatMap((sku, one) => Object.keys(sku.net_rate || {}).map((key) => ['skus', one, 'net_rate', key]));
  }
  let found = [{ path: [], value: document }];
  for (const key of at.split('/')) {
    found = found.flatMap(({ path, value }) => {
      if (!Array.isArray(value)) return [{ path: [...path, key], value: value?.[key] }];
      const named = value.findIndex((one) => one && (one.id === key || (one.id === undefined && one.from === key)));
      const places = key === '*' ? value.map((_, place) => place) : [named >= 0 ? named : Number(key)];
      return places.filter((place) => place in value).map((place) => ({ path: [...path, place], value: value[place] }));
    });
  }
  return found.map((one) => one.path);
}

/** The value of a change at a place; `undefined` takes the key out. */
function changedValue(change, value) {
  if (change.leave_out) return undefined;
  if (typeof change.times === 'number') return value * change.times;
  if (typeof change.plus === 'number') return value + change.plus;
  return change.to;
}

/** A document with changes made. */
export function changed(document, changes) {
  return changes.reduce((copy, change) => placesOf(copy, change.at).reduce((whole, path) => {
    const value = path.reduce((at, key) => at?.[key], whole);
    return withValue(whole, path, changedValue(change, value));
  }, copy), document);
}

/** Numbers of a document that can be swept, as places with the value that stands there; `rate` stands for all rates. */
export function numbers(document) {
  const all = [['rate', 1]];
  const walk = (value, at) => {
    if (typeof value === 'number' && at !== 'format') all.push([at, value]);
    else if (Array.isArray(value)) value.forEach((one, place) => walk(one, `${at}/${one?.id ?? place}`));
    else if (value && typeof value === 'object') Object.entries(value).forEach(([key, one]) => walk(one, at ? `${at}/${key}` : key));
  };
  walk(document, '');
  return all;
}
