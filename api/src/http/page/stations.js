/** Stations in travel order, with both ways of working side by side. */
import { h, button } from './dom.js';
import { objectForm, optional } from './form.js';
import { pointerOf, renameStation, withoutStation, withValue } from './model.js';
import { named, resolve } from './schema.js';

/** A document with a station moved to another place of an order. */
export function moved(document, circuit, from, to) {
  const order = [...document.circuits[circuit].order];
  if (to < 0 || to >= order.length) return document;
  order.splice(to, 0, ...order.splice(from, 1));
  return withValue(document, ['circuits', circuit, 'order'], order);
}

/** A document with one more station at the end of an order. */
export function withStation(document, circuit) {
  const taken = new Set(document.stations.map((station) => station.id));
  let number = document.stations.length + 1;
  while (taken.has(`station-${number}`)) number += 1;
  const id = `station-${number}`;
  const more = { ...document, stations: [...document.stations, { id, intermittent: { base_s: 1 } }] };
  return withValue(more, ['circuits', circuit, 'order'], [...document.circuits[circuit].order, id]);
}

function card(model, circuit, place, id, show) {
  const at = model.document.stations.findIndex((station) => station.id === id);
  const go = (to) => model.replace(moved(model.document, circuit, place, to));
  const last = model.document.circuits[circuit].order.length - 1;
  const act = (text, name, to, off) => button(text, () => go(to), { class: 'small', 'aria-label': `${name} ${id}`, disabled: off, 'data-act': `${id}:${name}` });
  const head = h('h4', { draggable: 'true', title: 'Drag to another place in the travel order' }, h('span', { class: 'balloon' }, String(place + 1)), ` ${id}`);
  const box = h('section', { class: 'station', 'aria-label': `Station ${id}`, 'data-pointer': at < 0 ? null : pointerOf(['stations', at]) },
    h('div', { class: 'bar' }, head, act('↑', 'Move earlier', place - 1, place === 0), act('↓', 'Move later', place + 1, place === last),
      button('Remove', () => model.replace(withoutStation(model.document, id)), { class: 'small', 'aria-label': `Remove station ${id}` })));
  head.addEventListener('dragstart', (event) => event.dataTransfer.setData('text/plain', `station ${circuit} ${place}`));
  box.addEventListener('dragover', (event) => event.preventDefault());
  box.addEventListener('drop', (event) => {
    const [what, from, old] = event.dataTransfer.getData('text/plain').split(' ');
    if (what !== 'station' || Number(from) !== circuit) return;
    event.preventDefault();
    model.replace(moved(model.document, circuit, Number(old), place));
  });
  if (at < 0) {
    box.append(h('p', { class: 'finding' }, 'The order names a station that is not described.'));
    return box;
  }
  const schema = named('Station');
  const path = ['stations', at];
  const part = (key, title) => optional(model, [...path, key], resolve(schema.properties[key]), title);
  const [plain, more] = objectForm(model, path, schema, ['id', 'intermittent', 'continuous']);
  const name = h('input', { type: 'text', 'aria-label': `Id of station ${id}`, 'data-pointer': pointerOf([...path, 'id']), autocomplete: 'off' });
  name.value = id;
  name.addEventListener('change', () => model.replace(renameStation(model.document, id, name.value.trim())));
  plain.prepend(h('div', { class: 'field' }, h('span', {}, 'Id'), h('span', { class: 'with-unit' }, name)));
  const further = h('details', { 'data-keep': `${id}:more`, open: show.has(`${id}:more`) }, h('summary', {}, 'Held choices, single SKUs, failures and further keys'), more);
  further.addEventListener('toggle', () => (further.open ? show.add(`${id}:more`) : show.delete(`${id}:more`)));
  box.append(plain, h('div', { class: 'modes' }, part('intermittent', 'Intermittent: on a standing batch'), part('continuous', 'Continuous: on moving carriers')), further);
  return box;
}

/** The stations of a circuit. */
export function stationsForm(model, circuit, show) {
  const order = model.document.circuits[circuit].order || [];
  return [order.map((id, place) => card(model, circuit, place, id, show)),
    button('Add station', () => model.replace(withStation(model.document, circuit)), { 'data-act': `${circuit}:add-station` })];
}
