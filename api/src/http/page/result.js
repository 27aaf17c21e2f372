/** A plan as drawing and tables, with what can be held and what can be handed out. */
import { ask } from './api.js';
import { alternatives } from './alternatives.js';
import { changing } from './changing.js';
import { printed } from './chart.js';
import { motion } from './motion.js';
import { simulation } from './simulation.js';
import { tabs } from './tabs.js';
import { h, button, table, fixed, money, download, freshId } from './dom.js';

const WAY = { intermittent: 'intermittent', continuous: 'continuous' };

/** What the plan comes to, as pairs of a name and a text. */
export function facts(plan) {
  const all = plan.circuits;
  const one = all.length === 1;
  const sum = (of) => all.reduce((total, circuit) => total + of(circuit), 0);
  const loop = (circuit) => `${circuit.plane}, form ${circuit.form}, ${circuit.modules_per_straight} modules a straight`;
  const proven = (proof) => (proof.proven ? 'proven least' : `at least ${proof.bound}`);
  const { length_m: length, width_m: width, area_m2: area } = plan.footprint;
  return [
    ['Footprint', `${fixed(area, 2)} m²`, `${fixed(length, 3)} × ${fixed(width, 3)} m; ${plan.proof.footprint.proven ? 'proven least' : `no plan below ${fixed(plan.proven_bound_m2, 2)} m², gap ${fixed(100 * plan.gap, 1)} %`}`],
    ['Carriers', String(sum((circuit) => circuit.carriers)), one ? proven(plan.proof.carriers) : `${all.map((circuit) => `${circuit.carriers} on ${circuit.id}`).join(', ')}; ${proven(plan.proof.carriers)}`],
    ['Price', money(plan.price), proven(plan.proof.price)],
    [one ? 'Loop' : 'Loops', `${fixed(sum((circuit) => circuit.loop_length_m), 3)} m`, one ? loop(all[0]) : all.map((circuit) => `${circuit.id} ${fixed(circuit.loop_length_m, 3)} m, ${loop(circuit)}`).join('; ')],
  ];
}

async function drawing(place, cell, plan, sku) {
  place.replaceChildren(await printed('drawing.svg', { cell, plan, ...(sku ? { sku } : {}) }));
}

const PRINTS = [['report.html', 'Report'], ['report.pdf', 'PDF'], ['workbook.xlsx', 'Workbook'], ['drawing.dxf', 'DXF'], ['drawing.svg', 'Drawing (SVG)']];

function handOut(cell, plan, chosen) {
  const give = async (name) => {
    const response = await ask('POST', `/v1/print/${name}`, { cell, plan, sku: chosen() });
    download(await response.blob(), `${plan.name.replace(/[^\p{L}\p{N}]+/gu, '-').slice(0, 60)}-${name}`);
  };
  const json = () => download(new Blob([JSON.stringify(plan, null, 2)], { type: 'application/json' }), 'plan.json');
  return h('div', { class: 'bar', role: 'group', 'aria-label': 'Hand out' },
    PRINTS.map(([name, text]) => button(text, () => give(name), { 'aria-label': `Download ${text}` })),
    button('Plan (JSON)', json, { 'aria-label': 'Download plan document' }));
}

/** Buttons that hold what a station does, or let it go. */
function holds(cell, station, hold) {
  const given = cell.stations.find((one) => one.id === station.id);
  if (!given) return '';
  const held = given.fixed || {};
  const one = (text, key, value) => (held[key] === value
    ? button(`Release ${text}`, () => hold(station.id, key, undefined), { class: 'small held', 'aria-label': `Release ${text} at ${station.id}`, 'data-act': `hold:${station.id}:${key}:${value}` })
    : button(`Hold ${text}`, () => hold(station.id, key, value), { class: 'small', 'aria-label': `Hold ${text} at ${station.id}`, 'data-act': `hold:${station.id}:${key}:${value}` }));
  const modes = Object.keys(WAY).filter((mode) => given[mode]).map((mode) => one(WAY[mode], 'mode', mode));
  return h('span', { class: 'bar' }, modes, one(`${station.heads} ${station.heads === 1 ? 'head' : 'heads'}`, 'heads', station.heads));
}

const bar = (share) => h('meter', { min: '0', max: '1', value: String(share), 'aria-label': `${fixed(100 * share, 0)} % of its time` });

function tables(circuit, sku, cell, hold, several) {
  const on = several ? ` on ${circuit.id}` : '';
  const of = (one) => one.skus.find((entry) => entry.id === sku) || one.skus[0];
  const stations = circuit.stations.map((station) => {
    const here = of(station);
    return [station.id, hold ? holds(cell, station, hold) : '–', station.mode, String(station.heads), String(here.batch), fixed(here.cycle_s, 2), fixed(here.capacity_per_min, 2),
      h('span', {}, bar(here.share_of_rate), ` ${fixed(100 * here.share_of_rate, 1)} %`), `${fixed(station.zone_m, 3)}`, station.stands];
  });
  const sections = circuit.sections.map((section) => {
    const here = of(section);
    return [`${section.from} → ${section.to}`, fixed(section.length_m, 3), String(here.slots), String(here.needed_slots), fixed(here.lag_s, 2),
      fixed(here.longest_s, 2), fixed(section.max_s, 2), section.loaded ? 'loaded' : 'empty'];
  });
  const windows = circuit.windows.map((window) => [`${window.from} → ${window.to}`, fixed(window.min_s, 2), fixed(of(window).least_s, 2), fixed(of(window).longest_s, 2), fixed(window.max_s, 2)]);
  return [
    table(`Stations in travel order${on}, for ${sku}`, ['Station', 'Hold and plan again', 'Works', 'Heads', 'Batch', 'Cycle s', 'Carriers/min', 'Load', 'Zone m', 'Stands'], stations),
    table(`Sections${on}, for ${sku}`, ['Section', 'Length m', 'Slots', 'Needed', 'Lag s', 'Longest s', 'At most s', 'Carriers'], sections),
    windows.length ? table(`Times across stations${on}, for ${sku}`, ['From → to', 'At least s', 'Least s', 'Longest s', 'At most s'], windows) : '',
  ];
}

const skuTable = (circuit, several) => table(`SKUs${several ? ` on ${circuit.id}` : ''} and what limits them`, ['SKU', 'Net cases/min', 'Design carriers/min', 'Exact carriers/min', 'Margin %', 'Force N RMS', 'Limited by'],
  circuit.skus.map((sku) => [sku.id, fixed(sku.net_rate_cases_per_min, 2), fixed(sku.design_rate_per_min, 3), fixed(sku.rate_per_min, 3), fixed(100 * sku.margin, 1), fixed(sku.motor_rms_n, 1), sku.limited_by.says]));

function planned(cell, plan, acts) {
  const [circuit] = plan.circuits;
  const several = plan.circuits.length > 1;
  const id = freshId();
  const pick = h('select', { id }, circuit.skus.map((sku) => h('option', { value: sku.id }, sku.id)));
  const sheet = h('div', { class: 'sheet' });
  const part = h('div', {});
  const show = () => {
    const each = plan.circuits.flatMap((one) => tables(one, pick.value, acts.cell ? acts.cell() : cell, acts.hold, several));
    part.replaceChildren(...each.filter((one) => one !== ''));
    drawing(sheet, cell, plan, pick.value).catch((error) => sheet.replaceChildren(h('p', { class: 'bad' }, error.message)));
  };
  pick.addEventListener('change', show);
  show();
  const views = tabs('Views of the plan', [
    ['Plan', (view) => view.append(sheet, part, ...plan.circuits.map((one) => skuTable(one, several)), h('details', {}, h('summary', {}, 'Cautions of this plan'), h('ul', {}, plan.cautions.map((text) => h('li', {}, text)))))],
    // Motion, and changing over, are worked out for one loop.
    ...(several ? [] : [['Motion', (view) => {
      let stop = motion(view, cell, plan, () => pick.value);
      pick.addEventListener('change', () => { stop(); stop = motion(view, cell, plan, () => pick.value); });
      return () => stop();
    }]]),
    ['Alternatives', (view) => alternatives(view, cell, plan, acts)],
    ...(several ? [] : [['Changing over', (view) => changing(view, cell, plan)]]),
    ['Simulation', (view) => simulation(view, cell, plan)],
  ]);
  return [
    h('dl', { class: 'facts' }, facts(plan).map(([name, text, more]) => h('div', {}, h('dt', {}, name), h('dd', {}, h('strong', {}, text), h('span', { class: 'quiet' }, ` ${more}`))))),
    acts.bar || '',
    handOut(cell, plan, () => pick.value),
    h('div', { class: 'field inline' }, h('label', { for: id }, 'SKU drawn and listed'), pick),
    views.element,
  ];
}

function impossible(cell, plan, acts) {
  const more = h('div', {});
  alternatives(more, cell, plan, acts);
  const asked = plan.conflict.requirements.map((one) => h('li', {}, acts.goTo ? button(one.says, () => acts.goTo(one), { class: 'link' }) : one.says));
  return [h('p', { class: 'bad' }, 'No plan can hold all that is asked: proven.'),
    h('h4', {}, plan.conflict.minimal ? 'These cannot hold together; leaving any one of them out helps' : 'These cannot hold together'),
    h('ul', {}, asked), h('h4', {}, 'What stands in the way'), h('ul', {}, plan.reasons.map((text) => h('li', {}, text))), h('h4', {}, 'What would help'), more];
}

/** The whole of an answer. `acts`: `hold`, `goTo`, `cell`, `bar`, each may be missing. */
export function result(cell, plan, acts = {}) {
  switch (plan.status) {
    case 'planned': return planned(cell, plan, acts);
    case 'impossible': return impossible(cell, plan, acts);
    default: return [h('p', { class: 'bad' }, `Stopped before a plan was found. If there is one, it has no less than ${fixed(plan.proven_bound_m2, 2)} m². Allow more time.`)];
  }
}
