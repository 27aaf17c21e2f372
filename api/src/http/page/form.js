/** Forms and tables made from the schema: every key of a document can be edited, new ones too. */
import { h, button, freshId } from './dom.js';
import { pointerOf, valueAt } from './model.js';
import { blank, kind, resolve, unit, words } from './schema.js';

/** What a text in a field stands for: a number where one is meant, nothing where it is empty. */
export function parsed(text, what) {
  const bare = text.trim();
  if (bare === '') return what === 'string' ? '' : undefined;
  if (what === 'string') return text;
  const number = Number(bare);
  // What is no number stays as it was typed, and the check says so at its place.
  return Number.isFinite(number) ? number : text;
}

const hint = (schema) => (schema.default !== undefined && schema.default !== null ? String(schema.default) : '');

/** The control of one value; `name` is what a screen reader says. */
export function control(model, path, schema, name, id = freshId()) {
  const value = valueAt(model.document, path);
  const what = kind(schema);
  const keys = { id, 'data-pointer': pointerOf(path), ...(name ? { 'aria-label': name } : {}) };
  if (what === 'choice' || what === 'boolean') {
    const options = what === 'boolean' ? ['true', 'false'] : schema.enum;
    const unset = h('option', { value: '' }, hint(schema) ? `${hint(schema)} (default)` : 'not given');
    const list = h('select', keys, unset, options.map((option) => h('option', { value: option }, option)));
    list.value = value === undefined || value === null ? '' : String(value);
    list.addEventListener('change', () => {
      const chosen = what === 'boolean' && list.value ? list.value === 'true' : list.value;
      model.type(path, list.value === '' ? undefined : chosen);
      model.leave();
    });
    return list;
  }
  const numeric = what === 'number' || what === 'integer';
  const field = h('input', { ...keys, type: 'text', autocomplete: 'off', spellcheck: 'false', placeholder: hint(schema),
    inputmode: numeric ? 'decimal' : null, class: numeric ? 'number' : null });
  field.value = value === undefined || value === null ? '' : String(value);
  field.addEventListener('input', () => model.type(path, parsed(field.value, what)));
  field.addEventListener('change', () => model.leave());
  return field;
}

/** One labelled value with its unit and room for findings. */
function field(model, path, schema) {
  const key = String(path.at(-1));
  const id = freshId();
  return h('div', { class: 'field', title: schema.description },
    h('label', { for: id }, words(key)),
    h('span', { class: 'with-unit' }, control(model, path, schema, null, id), h('span', { class: 'unit' }, unit(key))));
}

const scalar = (schema) => !['object', 'map', 'array', 'any'].includes(kind(schema));

/** The form of an object: fields first, then what is nested. `leaveOut` names keys that are edited elsewhere. */
export function objectForm(model, path, schema, leaveOut = []) {
  const all = Object.entries(schema.properties).filter(([key]) => !leaveOut.includes(key))
    .map(([key, part]) => [key, resolve(part)]);
  return [
    h('div', { class: 'fields' }, all.filter(([, part]) => scalar(part)).map(([key, part]) => field(model, [...path, key], part))),
    all.filter(([, part]) => !scalar(part)).map(([key, part]) => nested(model, [...path, key], part, (schema.required || []).includes(key))),
  ];
}

/** A part that may be there or not. */
export function optional(model, path, schema, title, leaveOut = []) {
  const value = valueAt(model.document, path);
  const there = value !== undefined && value !== null;
  const flip = () => model.set(path, there ? undefined : blank(schema));
  return h('fieldset', { 'data-pointer': pointerOf(path), class: there ? null : 'absent' },
    h('legend', {}, title, ' ', button(there ? 'Leave out' : 'Add', flip, { class: 'small', 'data-act': `${pointerOf(path)}:flip`,
      'aria-label': `${there ? 'Leave out' : 'Add'} ${title} at ${path.slice(0, -1).join(' ') || 'the cell'}` })),
    there ? objectForm(model, path, schema, leaveOut) : h('p', { class: 'quiet' }, schema.description));
}

/** Whatever is nested: an object, a list or a mapping. */
export function nested(model, path, schema, needed = false) {
  const title = words(String(path.at(-1)));
  switch (kind(schema)) {
    case 'object':
      return needed
        ? h('fieldset', { 'data-pointer': pointerOf(path) }, h('legend', {}, title), objectForm(model, path, schema))
        : optional(model, path, schema, title);
    case 'array': return listForm(model, path, resolve(schema.items), title);
    case 'map': return mapForm(model, path, resolve(schema.additionalProperties || {}), title);
    default: return rawForm(model, path, title);
  }
}

/** A value of any kind, as JSON. */
function rawForm(model, path, title) {
  const id = freshId();
  const area = h('textarea', { id, rows: '3', 'data-pointer': pointerOf(path) });
  const value = valueAt(model.document, path);
  area.value = value === undefined ? '' : JSON.stringify(value, null, 1);
  area.addEventListener('change', () => {
    try {
      model.set(path, area.value.trim() ? JSON.parse(area.value) : undefined);
    } catch (error) {
      area.setCustomValidity(error.message);
      area.reportValidity();
    }
  });
  return h('div', { class: 'field' }, h('label', { for: id }, `${title} (JSON)`), area);
}

/** A list: a table where its entries are flat, else a form for each. */
export function listForm(model, path, items, title) {
  const list = valueAt(model.document, path) || [];
  const name = title.toLowerCase();
  const add = button(`Add to ${name}`, () => model.set([...path, list.length], blank(items)), { class: 'small', 'data-act': `${pointerOf(path)}:add` });
  const remove = (at) => button('Remove', () => model.set([...path, at], undefined), { class: 'small', 'aria-label': `Remove ${at + 1} from ${name}` });
  const flat = kind(items) === 'object' && Object.values(items.properties).every((part) => scalar(resolve(part)));
  if (list.length > 0 && flat) {
    const keys = Object.entries(items.properties).map(([key, part]) => [key, resolve(part)]);
    return h('fieldset', { 'data-pointer': pointerOf(path) }, h('legend', {}, title),
      h('div', { class: 'scroll' }, h('table', { class: 'edit' },
        h('thead', {}, h('tr', {}, keys.map(([key, part]) => h('th', { scope: 'col', title: part.description }, words(key), ' ', h('span', { class: 'unit' }, unit(key)))), h('th', {}, h('span', { class: 'hidden' }, 'Remove')))),
        h('tbody', {}, list.map((_, at) => h('tr', { 'data-pointer': pointerOf([...path, at]) },
          keys.map(([key, part]) => h('td', {}, control(model, [...path, at, key], part, `${words(key)} ${unit(key)}, ${name} ${at + 1}`))),
          h('td', {}, remove(at))))))), add);
  }
  const entry = (_, at) => (scalar(items)
    ? h('span', { class: 'with-unit' }, control(model, [...path, at], items, `${title} ${at + 1}`), remove(at))
    : h('fieldset', { 'data-pointer': pointerOf([...path, at]) }, h('legend', {}, `${title} ${at + 1} `, remove(at)), entryForm(model, [...path, at], items)));
  return h('fieldset', { 'data-pointer': pointerOf(path) }, h('legend', {}, title), list.map(entry), add);
}

const entryForm = (model, path, schema) => (kind(schema) === 'object' ? objectForm(model, path, schema) : nested(model, path, schema));

/** A mapping: a form under each key. */
function mapForm(model, path, schema, title) {
  const map = valueAt(model.document, path) || {};
  const key = h('input', { type: 'text', 'aria-label': `New key of ${title.toLowerCase()} at ${path.slice(0, -1).join(' ')}` });
  const add = button('Add', () => key.value.trim() && model.set([...path, key.value.trim()], blank(schema)),
    { class: 'small', 'aria-label': `Add to ${title.toLowerCase()} at ${path.slice(0, -1).join(' ')}` });
  return h('fieldset', { 'data-pointer': pointerOf(path) }, h('legend', {}, title),
    Object.keys(map).map((one) => (scalar(schema)
      ? field(model, [...path, one], schema)
      : h('fieldset', { 'data-pointer': pointerOf([...path, one]) }, h('legend', {}, `${one} `, button('Remove', () => model.set([...path, one], undefined),
        { class: 'small', 'aria-label': `Remove ${one} from ${title.toLowerCase()}` })), entryForm(model, [...path, one], schema)))),
    h('span', { class: 'with-unit' }, key, add));
}
