/** Alternatives: the usual ones side by side, a number over a range, what would help. */
import { printed, s } from './chart.js';
import { changed, numbers } from './changes.js';
import { h, button, fixed, freshId, table } from './dom.js';
import { valueAt, pathOf, withValue } from './model.js';
import { task } from './run.js';
import { keep } from './shelf.js';

const planned = (plan) => plan.status === 'planned';
const signed = (value, digits) => (typeof value === 'number' && Math.abs(value) > 1e-9 ? `${value > 0 ? '−' : '+'}${Math.abs(value).toFixed(digits)}` : '–');

/** A button that keeps a document as a cell of its own, opens it and plans it. */
const opens = (name, make) => button('Open as a cell', async () => {
  location.hash = `cell/${await keep(name, make())}/plan`;
}, { class: 'small', 'aria-label': `Open as a cell: ${name}` });

const ways = (plan) => plan.stations.map((one) => `${one.id} ${one.mode === 'intermittent' ? 'I' : 'C'}${one.heads > 1 ? `×${one.heads}` : ''}`).join(', ');

/** A line as long as a share of the longest, beside its number. */
const line = (share) => s('svg', { class: 'line', viewBox: '0 0 100 8', preserveAspectRatio: 'none', 'aria-hidden': 'true' }, s('rect', { width: Math.max(0, 100 * share), height: 8 }));

function short(plan, most) {
  if (!planned(plan)) return [plan.status === 'impossible' ? `none: ${plan.reasons[0] || 'proven impossible'}` : 'none found in time', '', ''];
  return [h('span', { class: 'barred' }, line(plan.footprint.area_m2 / most), ` ${fixed(plan.footprint.area_m2, 2)}${plan.proven ? '' : ' (not proven)'}`), String(plan.carriers), fixed(plan.price, 0)];
}
const most = (plans) => Math.max(...plans.filter(planned).map((plan) => plan.footprint.area_m2), 1e-9);

/** The least efficiency of a simulated plan, with its interval and its SKU. */
function efficiency(simulated) {
  const least = simulated && simulated.skus.find((one) => one.id === simulated.least_sku);
  if (!least) return '';
  const { mean, half_width } = least.efficiency;
  return `${fixed(100 * mean, 1)} ± ${fixed(100 * half_width, 1)}, ${least.id}${simulated.complete ? '' : ' (not all replications)'}`;
}

function compared(place, cell, answer) {
  const top = most(answer.variants.map((one) => one.plan));
  const run = answer.simulated;
  const rows = answer.variants.map((one, at) => [one.name, ...short(one.plan, top), ...(run ? [efficiency(one.simulated)] : []), planned(one.plan) ? ways(one.plan) : '', one.marks.join('; ') || (at ? 'no difference' : ''),
    at ? opens(`${cell.name || 'Cell'}, ${one.name}`, () => changed(cell, one.changes)) : '']);
  place.replaceChildren(table('Alternatives', ['Alternative', 'Floor m²', 'Carriers', 'Price', ...(run ? ['Least efficiency %, SKU'] : []), 'Works (I intermittent, C continuous)', 'Differs in', 'Plan'], rows),
    run ? h('ul', { class: 'quiet' }, run.notes.map((text) => h('li', {}, text))) : '',
    answer.differences.length ? h('details', {}, h('summary', {}, 'Why they differ'), h('ul', {}, answer.differences.map((one) => h('li', {}, one.says)))) : '');
}

function axis(cell, number, needed) {
  const all = numbers(cell);
  const [list, at, from, to, points] = Array.from({ length: 5 }, freshId);
  const field = (id, name, keys) => h('div', { class: 'field' }, h('label', { for: id }, name), h('input', { id, type: 'text', autocomplete: 'off', ...keys }));
  const parts = [field(at, `${number} number`, { list, value: needed ? 'rate' : '', placeholder: 'none', class: 'wide' }),
    field(from, `${number}, from`, { value: needed ? '0.8' : '', class: 'number', inputmode: 'decimal' }), field(to, `${number}, to`, { value: needed ? '1.2' : '', class: 'number', inputmode: 'decimal' }),
    field(points, `${number}, values`, { value: needed ? '5' : '3', class: 'number', inputmode: 'numeric' })];
  const value = (id) => element.querySelector(`#${id}`).value.trim();
  const element = h('div', { class: 'fields axis' }, parts, h('datalist', { id: list }, all.map(([key, now]) => h('option', { value: key }, key === 'rate' ? 'all net rates' : String(now)))));
  return { element, read: () => (value(at) ? { at: value(at), of: 'times', from: Number(value(from)), to: Number(value(to)), points: Number(value(points)) } : null) };
}

const crossing = (one) => h('li', {}, `${one.station}: ${one.below} up to ${fixed(one.from, 3)}, ${one.above} from ${fixed(one.to, 3)}${one.proven ? '' : ' (not proven)'}`);

async function swept(place, cell, plan, answer) {
  const top = most(answer.points.map((one) => one.plan));
  const front = new Set(answer.front.map((one) => one.point));
  const change = (one) => answer.axes.map((which, at) => ({ at: which.at, [which.of === 'value' ? 'to' : 'times']: at ? one.second : one.value }));
  const heads = answer.axes.map((which) => `${which.at}${which.of === 'value' ? '' : ', times'}`);
  const rows = answer.points.map((one, at) => [fixed(one.value, 4), ...(heads[1] ? [fixed(one.second, 4)] : []), ...short(one.plan, top), planned(one.plan) ? ways(one.plan) : '', front.has(at) ? '◆ no other beats it' : '',
    opens(`${cell.name || 'Cell'}, ${heads.map((head, which) => `${head} ${fixed(which ? one.second : one.value, 3)}`).join(', ')}`, () => changed(cell, change(one)))]);
  const chart = h('div', { class: 'sheet chart' });
  place.replaceChildren(chart, table('Plans over the range', [...heads, 'Floor m²', 'Carriers', 'Price', 'Works', 'Best in something', 'Plan'], rows),
    h('h4', {}, 'Where the best way of working changes'),
    answer.crossovers.length ? h('ul', {}, answer.crossovers.map(crossing)) : h('p', { class: 'quiet' }, 'At no station over this range.'));
  if (plan && plan.status === 'planned') chart.append(await printed('sweep.svg', { cell, plan, sweep: answer }, 'sweep-'));
  else chart.remove();
}

/** The cell with a plan of the front as its limits: then no other plan has less floor. */
function asPlan(cell, plan) {
  const limited = withValue(withValue(cell, ['circuits', 0, 'max_carriers'], plan.carriers), ['requirements', 'footprint_tolerance_m2'], 0);
  // A price that is written in decimal digits may come out a hair above itself.
  return withValue(limited, ['requirements', 'max_price'], plan.price * (1 + 1e-9));
}

async function unbeaten(place, cell, plan, answer) {
  const top = most(answer.plans);
  const rows = answer.plans.map((one, at) => [String(at + 1), ...short(one, top), ways(one),
    opens(`${cell.name || 'Cell'}, plan ${at + 1} that no other beats`, () => asPlan(cell, one))]);
  const chart = h('div', { class: 'sheet chart' });
  place.replaceChildren(chart, answer.plans.length ? table('Plans that no other beats', ['Plan', 'Floor m²', 'Carriers', 'Price', 'Works', 'Open'], rows) : '',
    h('p', { class: answer.complete ? 'quiet' : 'bad' }, answer.complete ? 'None is missing: proven.' : 'Others may be missing: the search ended before. Allow more time.'),
    answer.reasons.length ? h('ul', {}, answer.reasons.map((text) => h('li', {}, text))) : '');
  if (answer.plans.length && plan && plan.status === 'planned') chart.append(await printed('front.svg', { cell, plan, front: answer }, 'front-'));
  else chart.remove();
}

function explained(place, cell, answer, goTo) {
  if (answer.relaxed) {
    const rows = answer.relaxed.map((one) => {
      const path = pathOf(one.pointer);
      const now = valueAt(cell, path);
      const able = typeof now === 'number' && typeof one.does === 'number';
      return [goTo ? button(one.says, () => goTo(one), { class: 'link' }) : one.says, one.would_do, able ? opens(`${cell.name || 'Cell'}, ${one.would_do}`, () => withValue(cell, path, now * one.does)) : ''];
    });
    place.replaceChildren(table('What cannot hold together, and what would do', ['Asked', 'With all else as asked, this would do', 'Plan'], rows));
    return;
  }
  if (!answer.levers) {
    place.replaceChildren(h('p', { class: 'bad' }, 'It is not known yet whether there is a plan. Allow more time.'));
    return;
  }
  const rows = answer.levers.map((one) => [one.says, signed(one.floor_saved_m2, 2), signed(one.carriers_saved, 0), signed(one.price_saved, 0), one.rates ? `× ${fixed(one.rates.does, 3)}` : '',
    one.changes.length ? opens(`${cell.name || 'Cell'}, ${one.says}`, () => changed(cell, one.changes)) : '']);
  place.replaceChildren(h('p', {}, `On the floor of this plan all rates together can rise to ${fixed(answer.rates.does, 3)} times what is asked${answer.complete ? '.' : '; time ran out before everything was looked at.'}`),
    table(`Each limit relaxed by ${fixed(100 * answer.step, 0)} %, and planned anew`, ['Relaxed', 'Floor m²', 'Carriers', 'Price', 'All rates can rise to', 'Plan'], rows));
}

/** Fills a place with what can be asked about alternatives of a cell. */
export function alternatives(place, cell, plan, acts = {}) {
  const now = () => (acts.cell ? acts.cell() : cell);
  const out = [h('div', {}), h('div', {}), h('div', {}), h('div', {})];
  const [one, two] = [axis(cell, 'First', true), axis(cell, 'Second', false)];
  const playId = freshId();
  const play = h('input', { id: playId, type: 'checkbox' });
  const part = (title, text, ...more) => h('section', { class: 'part', 'aria-label': title }, h('h4', {}, title), h('p', { class: 'quiet' }, text), ...more);
  place.append(
    part('What would help', 'Each limit is relaxed alone and the cell planned again: what it would save. Where there is no plan: the least change of each thing asked that would do.',
      task('Look what would help', 'explain', () => ({ cell: now() }), (answer) => explained(out[0], now(), answer, acts.goTo)), out[0]),
    part('Side by side', 'All intermittent, all continuous, each station the other way, each form of the loop.',
      h('div', { class: 'bar' }, play, h('label', { for: playId }, 'Simulate each plan with what goes wrong')),
      task('Compare alternatives', 'compare', () => ({ cell: now(), ...(play.checked ? { simulate: {} } : {}) }), (answer) => compared(out[1], now(), answer)), out[1]),
    part('Over a range', 'One number of the document, or two, in multiples of what is given; “rate” stands for all net rates.',
      one.element, two.element,
      task('Plan over the range', 'sweep', () => ({ cell: now(), axes: [one.read(), two.read()].filter(Boolean) }), (answer) => swept(out[2], now(), plan, answer)), out[2]),
    // The front is worked out for one loop.
    now().circuits?.length > 1 ? '' : part('No other beats', 'Every plan that no other beats in floor, carriers and price together.',
      task('Find the plans that no other beats', 'front', () => ({ cell: now() }), (answer) => unbeaten(out[3], now(), plan, answer)), out[3]));
}
