/** SKUs as one table that takes a paste from a spreadsheet. */
import { h, button } from './dom.js';
import { control, parsed } from './form.js';
import { pointerOf, valueAt, withValue } from './model.js';
import { kind, named, resolve, unit, words } from './schema.js';

/** The columns: path inside of a SKU, schema, head. */
export function columns(document) {
  const flat = (schema, path, circuit) => Object.entries(schema.properties).map(([key, part]) => [key, resolve(part)])
    .filter(([, part]) => !['object', 'map', 'array', 'any'].includes(kind(part)))
    .map(([key, part]) => ({ path: [...path, key], schema: part, head: words(key) + (circuit ? `, ${circuit}` : ''), unit: unit(key), key }));
  const sku = flat(named('Sku'), []);
  const loads = (document.circuits || []).flatMap((circuit) => flat(named('Load'), ['loads', circuit.id], circuit.id));
  return [sku[0], ...flat(named('NetRate'), ['net_rate']), ...sku.slice(1), ...loads];
}

const number = (text) => (/^-?\d+,\d{1,2}$|^-?\d+,\d{4,}$/.test(text) ? text.replace(',', '.') : text);

/** A document with a pasted block, from a row and a column on. A first line of heads or keys says where its columns go. */
export function pasted(document, text, row, column) {
  const all = columns(document);
  const lines = text.replace(/\r/g, '').split('\n').filter((line) => line.trim() !== '').map((line) => line.split('\t'));
  const find = (head) => all.findIndex((one) => [one.key, one.head.toLowerCase(), `${one.head} ${one.unit}`.trim().toLowerCase()].includes(head.trim().toLowerCase()));
  const heads = lines[0].map(find);
  const byHead = lines.length > 1 && heads.every((at) => at >= 0);
  const places = byHead ? heads : lines[0].map((_, at) => column + at);
  let copy = document;
  lines.slice(byHead ? 1 : 0).forEach((cells, down) => {
    const at = row + down;
    if (!copy.skus[at]) copy = withValue(copy, ['skus', at], { id: `sku-${at + 1}`, net_rate: {} });
    cells.forEach((cell, across) => {
      const target = all[places[across]];
      if (!target || cell.trim() === '') return;
      const what = kind(target.schema);
      const bare = number(cell.trim());
      const value = what === 'boolean' ? ['true', 'yes', '1'].includes(bare.toLowerCase()) : parsed(bare, what === 'choice' ? 'string' : what);
      copy = withValue(copy, ['skus', at, ...target.path], value);
    });
  });
  return copy;
}

function withSku(document) {
  const taken = new Set(document.skus.map((sku) => sku.id));
  let next = document.skus.length + 1;
  while (taken.has(`sku-${next}`)) next += 1;
  const last = document.skus.at(-1) || { net_rate: { cases_per_min: 20 } };
  return { ...document, skus: [...document.skus, { ...structuredClone(last), id: `sku-${next}` }] };
}

/** The table. */
export function skusForm(model) {
  const all = columns(model.document);
  const name = (at, one) => `${one.head} ${one.unit}, SKU ${valueAt(model.document, ['skus', at, 'id']) || at + 1}`;
  const body = h('tbody', {}, model.document.skus.map((_, at) => h('tr', { 'data-pointer': pointerOf(['skus', at]) },
    all.map((one, across) => h(across ? 'td' : 'th', across ? {} : { scope: 'row' }, control(model, ['skus', at, ...one.path], one.schema, name(at, one)))),
    h('td', {}, button('Remove', () => model.set(['skus', at], undefined), { class: 'small', 'aria-label': `Remove SKU ${valueAt(model.document, ['skus', at, 'id'])}` })))));
  body.addEventListener('paste', (event) => {
    const text = event.clipboardData.getData('text/plain');
    if (!/[\t\n]/.test(text.trim())) return;
    event.preventDefault();
    const cell = event.target.closest('td, th');
    const row = cell.parentElement;
    model.replace(pasted(model.document, text, [...body.children].indexOf(row), [...row.children].indexOf(cell)));
  });
  return [
    h('p', { class: 'quiet' }, 'Paste rows from a spreadsheet into any cell: rows are added as needed. A first line with the heads of this table, or the keys of the document, says where the columns go.'),
    h('div', { class: 'scroll', tabindex: '0', role: 'region', 'aria-label': 'Table of SKUs' }, h('table', { class: 'edit skus' },
      h('thead', {}, h('tr', {}, all.map((one) => h('th', { scope: 'col', title: one.schema.description }, one.head, ' ', h('span', { class: 'unit' }, one.unit))), h('th', {}, h('span', { class: 'hidden' }, 'Remove')))),
      body)),
    button('Add SKU', () => model.replace(withSku(model.document)), { 'data-act': 'add-sku' }),
  ];
}
