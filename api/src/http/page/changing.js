/** Changing over from SKU to SKU: every change, one in full, the order of the week. */
import { s } from './chart.js';
import { h, fixed, freshId, table } from './dom.js';
import { task } from './run.js';

const minutes = (seconds) => (seconds < 100 ? `${fixed(seconds, 0)} s` : `${fixed(seconds / 60, 1)} min`);
const CELL = 12;

/** The picture of all changes: the darker the longer, the worst outlined. */
function matrix(answer, pick) {
  const ids = answer.skus.map((one) => one.id);
  const all = ids.flatMap((from, row) => ids.map((to, column) => ({ from, to, row, column, time: answer.matrix_s[row][column] }))).filter((one) => one.row !== one.column);
  if (all.length === 0) return h('p', { class: 'quiet' }, 'One SKU: nothing to change to.');
  const longest = Math.max(...all.map((one) => one.time));
  const worst = all.find((one) => one.time === longest);
  const side = ids.length * CELL;
  const edge = 3 + 1.9 * Math.max(...ids.map((id) => id.length));
  const few = ids.length <= 16;
  const box = (one, className) => s('rect', { class: className, x: edge + one.column * CELL, y: edge + one.row * CELL, width: CELL, height: CELL });
  const svg = s('svg', { class: 'matrix', viewBox: `0 0 ${edge + side + 1} ${edge + side + 1}`, role: 'img', 'aria-label': `Changes of ${ids.length} SKUs. The longest is from ${worst.from} to ${worst.to}, ${minutes(worst.time)}` },
    few || ids.length <= 60 ? ids.map((id, at) => [s('text', { x: edge - 1.5, y: edge + at * CELL + 7.4, 'text-anchor': 'end' }, id),
      s('text', { transform: `translate(${edge + at * CELL + 7.4} ${edge - 1.5}) rotate(-90)` }, id)]) : [],
    all.map((one) => s('g', { class: 'change', onclick: () => pick(one.from, one.to) }, s('title', {}, `${one.from} → ${one.to}: ${minutes(one.time)}`),
      s('rect', { class: 'shade', x: edge + one.column * CELL, y: edge + one.row * CELL, width: CELL, height: CELL, 'fill-opacity': (0.06 + 0.5 * (one.time / longest)).toFixed(3) }),
      few ? s('text', { x: edge + (one.column + 0.5) * CELL, y: edge + one.row * CELL + 7.2, 'text-anchor': 'middle', class: 'value' }, fixed(one.time / 60, 1)) : null,
      answer.limit_s !== null && one.time > answer.limit_s ? s('path', { class: 'over', d: `M${edge + (one.column + 1) * CELL - 3} ${edge + one.row * CELL}h3v3z` }) : null)),
    box(worst, 'worst'));
  return h('figure', { class: 'sheet pad' }, svg, h('figcaption', {}, `Minutes of each change: row before, column after. Darker is longer; the heavy outline is the longest, ${worst.from} → ${worst.to}, ${minutes(worst.time)}${answer.limit_s === null ? '' : `; a marked corner is over the limit of ${minutes(answer.limit_s)}`}.`));
}

/** One change as bars over time. */
function bars(change) {
  const shift = { before: -change.before_s, stopped: 0, behind: Math.max(change.work_s, change.by_hand_s) };
  const work = change.steps.map((one) => ({ name: `${one.at}: ${one.adjustment}, ${one.step}`, from: shift[one.phase] + one.start_s, time: one.time_s, className: one.phase, who: `person ${one.people.join(' and ')}` }));
  const moves = change.moves.filter((one) => one.time_s > 0).map((one) => ({ name: `${one.at}: ${one.adjustment}`, from: 0, time: one.time_s, className: 'move', who: 'by itself' }));
  const all = [...work, ...moves];
  if (all.length === 0) return h('p', { class: 'quiet' }, 'Nothing to set: running empty and refilling only.');
  const [least, end] = [Math.min(0, ...all.map((one) => one.from)), Math.max(...all.map((one) => one.from + one.time))];
  const [left, wide] = [62, 150];
  const x = (t) => left + ((t - least) / (end - least || 1)) * wide;
  const high = all.length * 7 + 14;
  const mark = (t, text) => [s('line', { class: 'rule', x1: x(t), x2: x(t), y1: 6, y2: high - 4 }), s('text', { x: x(t), y: 4, 'text-anchor': 'middle' }, text)];
  const svg = s('svg', { class: 'bars', viewBox: `0 0 ${left + wide + 34} ${high}`, role: 'img', 'aria-label': `Schedule of the change from ${change.from} to ${change.to}` },
    mark(0, 'stop'), shift.behind > 0 ? mark(shift.behind, `go, ${minutes(shift.behind)}`) : [],
    all.map((one, at) => [s('text', { x: left - 2, y: 12 + at * 7, 'text-anchor': 'end' }, one.name),
      s('rect', { class: `step ${one.className}`, x: x(one.from), y: 8.5 + at * 7, width: Math.max(0.5, x(one.from + one.time) - x(one.from)), height: 5 }),
      s('text', { x: x(one.from + one.time) + 1.5, y: 12 + at * 7 }, `${minutes(one.time)}, ${one.who}`)]));
  return h('figure', { class: 'sheet pad' }, svg, h('figcaption', {}, 'Full bars: while the cell stands. Open bars: before and behind the stop, while it runs. Hatched by dashes: automatic.'));
}

function inFull(place, change) {
  place.replaceChildren(h('h4', {}, `${change.from} → ${change.to}: ${minutes(change.total_s)}`),
    h('p', {}, `Runs empty in ${minutes(change.run_out_s)}, stands ${minutes(change.work_s)} (by hand ${minutes(change.by_hand_s)}${change.by_hand_proven ? ', least proven' : ''}; longest move ${minutes(change.moving_s)}), refills in ${minutes(change.refill_s)}. Decided by ${change.decided_by}.`),
    bars(change));
}

function week(answer) {
  const { order, week: done } = answer;
  if (!order) return [h('p', { class: 'quiet' }, 'No lots are given, so there is no order. Give “Week” and lots under Changeover of the cell.')];
  return [table('Order of the week', ['Lot', 'SKU', 'Change before', 'Cases', 'Runs min'],
    order.lots.map((lot, at) => [String(at + 1), lot.sku, minutes(lot.change_s), lot.cases === null ? '–' : fixed(lot.cases, 0), lot.run_min === null ? '–' : fixed(lot.run_min, 0)])),
  h('p', {}, `All changes take ${minutes(order.total_s)}${order.proven ? ', proven least' : `; no order takes less than ${minutes(order.proven_bound_s)}`}${order.as_listed_s === null ? '' : `; in the order of the document ${minutes(order.as_listed_s)}`}.`,
    done && done.left_min !== null ? ` Of ${fixed(done.available_min, 0)} min, ${fixed(done.left_min, 0)} are left.` : '')];
}

/** Fills a place with the changes on a plan. */
export function changing(place, cell, plan) {
  const out = h('div', {});
  const [a, b] = [freshId(), freshId()];
  const ids = cell.skus.map((one) => one.id);
  const choice = (id, first) => { const list = h('select', { id }, first ? h('option', { value: '' }, 'the longest') : null, ids.map((one) => h('option', { value: one }, one))); return list; };
  const [from, to] = [choice(a, true), choice(b, false)];
  if (ids[1]) to.value = ids[1];
  const body = () => ({ cell, plan, ...(from.value && from.value !== to.value ? { from: from.value, to: to.value } : {}) });
  function show(given) {
    const answer = given.changeover;
    if (!answer) { out.replaceChildren(h('p', { class: 'bad' }, 'There is no plan whose changes could be worked out.')); return; }
    const one = h('div', {});
    const full = (x, y) => answer.changes.find((change) => change.from === x && change.to === y);
    const pick = (x, y) => {
      from.value = x;
      to.value = y;
      const found = full(x, y);
      if (found) inFull(one, found);
      else run.querySelector('button').click();
    };
    const asked = from.value ? full(from.value, to.value) : null;
    if (answer.changes.length) inFull(one, asked || answer.changes[0]);
    out.replaceChildren(
      h('p', {}, `${answer.count.all} changes, ${answer.count.automatic} without work by hand in the stop, ${minutes(answer.mean_s)} in the mean`, answer.limit_s === null ? '.' : [', ', h('strong', { class: answer.count.over_limit ? 'bad' : 'good' }, `${answer.count.over_limit} over the limit of ${minutes(answer.limit_s)}.`)]),
      h('div', { class: 'runs' }, matrix(answer, pick), one), ...week(answer),
      answer.findings.length ? h('details', {}, h('summary', {}, `${answer.findings.length} findings, with what would mend them`), h('ul', {}, answer.findings.map((finding) => h('li', {}, `${finding.message}. ${finding.what_to_do}`)))) : '',
      h('details', {}, h('summary', {}, 'Cautions'), h('ul', {}, answer.cautions.map((text) => h('li', {}, text)))));
  }
  const run = task('Work out the changes', 'changeover', body, show);
  place.append(h('p', { class: 'quiet' }, 'Every change on this plan: running empty, setting by hand and by itself, refilling.'),
    h('div', { class: 'bar' }, h('label', { for: a }, 'In full, from'), from, h('label', { for: b }, 'to'), to), run, out);
}
