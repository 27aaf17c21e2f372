/** Two plans side by side, with the differences marked. */
import { h } from './dom.js';
import { facts } from './result.js';

/** Rows of two plans: a name, both texts, whether they differ. No elements here. */
export function rows(one, two) {
  const both = (name, a, b) => ({ name, a: a ?? 'none', b: b ?? 'none', differs: (a ?? 'none') !== (b ?? 'none') });
  if (one.status !== 'planned' || two.status !== 'planned') return [both('Answer', one.status, two.status)];
  const all = facts(one).map(([name, text, more], at) => both(name, `${text}, ${more}`, facts(two)[at].slice(1).join(', ')));
  // Of several loops, what stands on each has its name before it.
  const by = (plan, key, say) => new Map(plan.circuits.flatMap((circuit) => circuit[key].map((item) => [
    `${plan.circuits.length > 1 ? `${circuit.id}: ` : ''}${item.id || `${item.from} → ${item.to}`}`, say(item)])));
  const part = (title, a, b) => [...new Set([...a.keys(), ...b.keys()])].forEach((id) => all.push(both(`${title} ${id}`, a.get(id), b.get(id))));
  const station = (s) => `${s.mode}, ${s.heads} ${s.heads === 1 ? 'head' : 'heads'}, at ${s.start_m.toFixed(3)} m, stands at the ${s.stands}`;
  const section = (s) => `${s.length_m.toFixed(3)} m`;
  const sku = (s) => `${s.rate_per_min.toFixed(3)} carriers/min (design ${s.design_rate_per_min.toFixed(3)}), limited by ${s.limited_by.says}`;
  part('Station', by(one, 'stations', station), by(two, 'stations', station));
  part('Section', by(one, 'sections', section), by(two, 'sections', section));
  part('SKU', by(one, 'skus', sku), by(two, 'skus', sku));
  return all;
}

/** The table of two plans. */
export function comparison(nameA, one, nameB, two) {
  const all = rows(one, two);
  const count = all.filter((row) => row.differs).length;
  return [h('p', {}, `${count} of ${all.length} lines differ.`),
    h('div', { class: 'scroll', tabindex: '0', role: 'region', 'aria-label': 'Two plans side by side' }, h('table', { class: 'compare' },
      h('caption', {}, 'Two plans side by side'),
      h('thead', {}, h('tr', {}, ['', nameA, nameB, 'Differs'].map((head) => h('th', { scope: 'col' }, head || h('span', { class: 'hidden' }, 'What'))))),
      h('tbody', {}, all.map((row) => h('tr', { class: row.differs ? 'differs' : null }, h('th', { scope: 'row' }, row.name), h('td', {}, row.a), h('td', {}, row.b), h('td', {}, row.differs ? '≠ differs' : 'same'))))))];
}
