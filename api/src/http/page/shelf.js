/** The first page: cells that are kept, examples, kept plans. */
import { Refused, ask, read, readAll } from './api.js';
import { h, button, download, notice, freshId } from './dom.js';

const BLANK = {
  format: 1, name: 'New cell', requirements: {},
  skus: [{ id: 'sku-1', net_rate: { cases_per_min: 20 }, loads: { cases: {} } }],
  circuits: [{ id: 'cases', carries: 'case', carrier: { length_mm: 200, max_speed_m_s: 2, max_accel_m_s2: 8 },
    track: { module_mm: 500, width_mm: 300, forms: [{ id: 'flat', plane: 'flat', radius_mm: 400 }] }, order: ['load', 'push-off'] }],
  stations: [{ id: 'load', intermittent: { base_s: 1 } }, { id: 'push-off', intermittent: { base_s: 0.5 } }],
};

/** Keeps a cell in the store and gives its id. */
export async function keep(name, cell) {
  const kept = await (await ask('POST', '/v1/cells', { name: name.slice(0, 200), cell })).json();
  return kept.id;
}

const open = async (name, cell) => { location.hash = `cell/${await keep(name, cell)}`; };

/** Takes a cell document from a file. */
async function upload(file) {
  const text = await file.text();
  let cell;
  try {
    cell = JSON.parse(text);
  } catch {
    // No JSON: then it is YAML, or the service says where it is neither.
    try {
      const kept = await (await ask('POST', '/v1/cells', text, { 'Content-Type': 'application/yaml' })).json();
      location.hash = `cell/${kept.id}`;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      notice(`${file.name}: ${error.message}`);
    }
    return;
  }
  await open(cell.name || file.name, cell);
}

function line(shelf, head, again, acts) {
  const path = `/v1/${shelf}/${head.id}`;
  const remove = async () => {
    await ask('DELETE', path);
    await again();
    notice(`${head.name} is deleted.`, 'Undo', async () => { await ask('POST', `${path}/restore`); await again(); });
  };
  return h('li', {}, h('a', { href: `#${shelf === 'cells' ? 'cell' : 'plan'}/${head.id}` }, head.name),
    h('span', { class: 'quiet' }, ` ${new Date(head.changed).toLocaleString()}`),
    h('span', { class: 'bar' }, acts, button('Delete', remove, { class: 'small', 'aria-label': `Delete ${head.name}` })));
}

function renaming(shelf, head, again) {
  const rename = (event) => {
    const field = h('input', { type: 'text', 'aria-label': `New name of ${head.name}`, maxlength: '200' });
    field.value = head.name;
    const save = async () => {
      const path = `/v1/${shelf}/${head.id}`;
      const match = { 'If-Match': `"r${head.revision}"` };
      if (shelf === 'cells') await ask('PUT', path, { name: field.value, cell: (await read(path)).cell }, match);
      else await ask('PUT', `${path}/name`, { name: field.value }, match);
      await again();
    };
    event.target.replaceWith(field, button('Save name', save, { class: 'small' }));
    field.focus();
  };
  return button('Rename', rename, { class: 'small', 'aria-label': `Rename ${head.name}` });
}

/** Shows the first page. */
export async function shelf(place) {
  const [examples, cells, plans] = await Promise.all([read('/v1/examples'), readAll('/v1/cells'), readAll('/v1/plans')]);
  const again = () => shelf(place);
  const cellOf = async (head) => (await read(`/v1/cells/${head.id}`)).cell;
  const cellActs = (head) => [renaming('cells', head, again),
    button('Copy', async () => { await keep(`${head.name}, copy`, await cellOf(head)); await again(); }, { class: 'small', 'aria-label': `Copy ${head.name}` }),
    button('Export', async () => download(new Blob([JSON.stringify(await cellOf(head), null, 2)], { type: 'application/json' }), `${head.name}.json`), { class: 'small', 'aria-label': `Export ${head.name}` })];
  const id = freshId();
  const file = h('input', { id, type: 'file', accept: '.json,.yaml,.yml,application/json,application/yaml', onchange: () => file.files[0] && upload(file.files[0]) });
  const boxes = plans.map((head) => h('input', { type: 'checkbox', value: head.id, 'aria-label': `Compare ${head.name}` }));
  const compare = button('Compare two plans', () => {
    const two = boxes.filter((box) => box.checked).map((box) => box.value);
    if (two.length === 2) location.hash = `compare/${two.join('/')}`;
    else notice('Tick two plans to compare.');
  });
  place.replaceChildren(
    h('section', { class: 'block', 'aria-labelledby': 'h-start' }, h('h2', { id: 'h-start' }, 'Begin'),
      h('div', { class: 'bar' }, button('Blank cell', () => open('New cell', BLANK)), h('label', { for: id }, 'Import a cell document (JSON or YAML)'), file),
      h('h3', {}, 'From an example'),
      h('ul', { class: 'examples' }, examples.items.map((one) => h('li', {}, button(one.name, async () => open(one.name, await read(one.cell)), { class: 'link' }))))),
    h('section', { class: 'block', 'aria-labelledby': 'h-cells' }, h('h2', { id: 'h-cells' }, 'Your cells'),
      cells.length ? h('ul', { class: 'shelf' }, cells.map((head) => line('cells', head, again, cellActs(head)))) : h('p', { class: 'quiet' }, 'None yet.')),
    h('section', { class: 'block', 'aria-labelledby': 'h-plans' }, h('h2', { id: 'h-plans' }, 'Kept plans'),
      plans.length ? [h('ul', { class: 'shelf' }, plans.map((head, at) => line('plans', head, again, [boxes[at], renaming('plans', head, again)]))), compare] : h('p', { class: 'quiet' }, 'None yet. Keep a plan to find it here.')));
}
