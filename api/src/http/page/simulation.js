/** A plan simulated with what goes wrong: rates with confidence, and what the stations do. */
import { printed } from './chart.js';
import { h, fixed, freshId, table } from './dom.js';
import { task } from './run.js';

const about = (one, digits) => `${fixed(one.mean, digits)} ± ${fixed(one.half_width, digits)}`;
const percent = (one) => `${fixed(100 * one, 1)}`;
const MAKES = { yes: 'yes', no: '✗ no', open: 'open: more replications' };

/** Fills a place with the simulation of a plan. */
export function simulation(place, cell, plan) {
  const [skuId, hoursId] = [freshId(), freshId()];
  const sku = h('select', { id: skuId }, h('option', { value: '' }, 'every SKU'), cell.skus.map((one) => h('option', { value: one.id }, one.id)));
  const hours = h('input', { id: hoursId, type: 'number', min: '0.1', max: '200', step: 'any', value: '8', class: 'number' });
  const out = h('div', {});
  const body = () => ({ cell, plan, run: { hours: Number(hours.value) || 8, ...(sku.value ? { sku: sku.value } : {}) } });
  async function show(answer) {
    const rates = table('Net rates', ['SKU', 'Cases/min made', 'Asked', 'Makes it', 'Efficiency %', 'Given %', 'Limits', 'Replications'],
      answer.skus.map((one) => [one.id, about(one.net_rate_per_min, 2), fixed(one.asked_net_rate_per_min, 2), MAKES[one.makes_net_rate],
        `${percent(one.efficiency.mean)} ± ${percent(one.efficiency.half_width)}`, percent(one.given_efficiency), one.limiting_station, `${one.replications}${one.reached ? '' : ', interval still wide'}`]));
    const shares = answer.skus.map((one) => table(`What the stations do, ${one.id}, % of time`, ['Station', 'Works', 'Waits for carriers', 'Cannot leave', 'Fails', 'Held back'],
      one.stations.map((station) => [station.id, ...['working', 'starved', 'blocked', 'failed', 'paced'].map((key) => percent(station[key]))])));
    const CAUSES = { failures: 'fails', short_stops: 'stops shortly', supply: 'is not fed', work_times: 'works unevenly' };
    const waited = answer.skus.filter((one) => one.losses.length > 0).map((one) => table(`What the cell waited for, ${one.id}, cases a minute`, ['Station', 'Since it', 'Lost', 'Gained without it'],
      one.losses.map((loss) => [loss.station, CAUSES[loss.cause], fixed(loss.lost_per_min, 3), about(loss.gain_per_min, 3)])));
    const request = { cell, plan, simulation: answer, ...(answer.skus[0] ? { sku: answer.skus[0].id } : {}) };
    const [rate, states] = [h('div', { class: 'sheet chart' }), h('div', { class: 'sheet chart' })];
    out.replaceChildren(answer.stopped ? h('p', { class: 'bad' }, 'Stopped before every SKU had its replications.') : '', rates, h('div', { class: 'runs' }, rate, states), ...waited, ...shares,
      h('details', {}, h('summary', {}, 'How the numbers came about'), h('ul', {}, answer.method.map((text) => h('li', {}, text)))));
    if (answer.skus.length === 0) return;
    rate.append(await printed('net-rate.svg', request, 'net-'));
    states.append(await printed('states.svg', request, 'states-'));
  }
  place.append(h('p', { class: 'quiet' }, 'Failures and times left to chance are those of the cell document; intervals are of 95 % confidence.'),
    h('div', { class: 'bar' }, h('label', { for: skuId }, 'Simulate'), sku, h('label', { for: hoursId }, 'Hours of each replication'), hours),
    task('Simulate', 'simulate', body, show), out);
}
