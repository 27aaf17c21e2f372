/** The page of one cell: its forms, the check while one types, planning, the plan. */
import { ask, read } from './api.js';
import { comparison } from './compare.js';
import { h, button, download, fixed, freshId, notice } from './dom.js';
import { goTo, showFindings } from './findings.js';
import { listForm, nested, objectForm } from './form.js';
import { Model } from './model.js';
import { result } from './result.js';
import { cancel, follow, submit } from './run.js';
import { loadSchema, named, resolve } from './schema.js';
import { skusForm } from './skus.js';
import { stationsForm } from './stations.js';

const section = (id, title, ...children) => h('section', { id, class: 'block', 'aria-labelledby': `h-${id}` }, h('h3', { id: `h-${id}` }, title), ...children);

function forms(model, show) {
  const schema = named('CellDocument');
  const { document } = model;
  const part = (key) => resolve(schema.properties[key]);
  const circuits = document.circuits || [];
  const known = ['format', 'name', 'requirements', 'skus', 'circuits', 'segments', 'windows', 'stations'];
  const further = Object.entries(schema.properties).filter(([key]) => !known.includes(key));
  const everything = h('details', {}, h('summary', {}, 'Every key of the document'));
  everything.addEventListener('toggle', () => everything.open && everything.childElementCount === 1 && everything.append(h('div', {}, objectForm(model, [], schema))));
  return [
    section('requirements', 'Requirements', objectForm(model, [], schema, Object.keys(schema.properties).filter((key) => key !== 'name')), objectForm(model, ['requirements'], part('requirements'))),
    circuits.map((circuit, at) => section(`stations-${at}`, `Stations of ${circuit.id}, in travel order`, stationsForm(model, at, show))),
    section('skus', 'SKUs', skusForm(model)),
    circuits.map((circuit, at) => section(`track-${at}`, `Track and carriers of ${circuit.id}`, objectForm(model, ['circuits', at], named('Circuit'), ['order']))),
    section('limits', 'Limits between stations', listForm(model, ['segments'], named('Segment'), 'Segments'), listForm(model, ['windows'], named('Window'), 'Windows')),
    section('further', 'Further', further.map(([key, one]) => nested(model, [key], resolve(one))), everything),
  ];
}

/** Shows the cell with this id. */
export async function editor(place, id, then) {
  await loadSchema();
  let kept = await read(`/v1/cells/${id}`);
  const show = new Set();
  const plans = [];
  let job = null;
  let wanted = 0;
  const body = h('div', { class: 'forms' });
  const list = h('div', { class: 'list', 'aria-live': 'polite' });
  const progress = h('div', { role: 'status', class: 'progress' });
  const sheet = h('div', { id: 'plan-result' }, h('p', { class: 'quiet' }, 'Not planned yet. Press “Plan”.'));
  const compared = h('div', {});
  const name = h('input', { type: 'text', 'aria-label': 'Name of the kept cell', maxlength: '200', oninput: () => model.rename(name.value) });
  const state = h('span', { class: 'quiet', role: 'status' });
  const limit = h('input', { id: freshId(), type: 'number', min: '1', max: '600', value: '10', class: 'number' });
  const undo = button('Undo', () => model.undo());
  const redo = button('Redo', () => model.redo());
  const stop = button('Cancel', () => job && cancel(job), { hidden: true });
  const plan = button('Plan', () => start(), { class: 'main' });

  async function check() {
    const turn = wanted += 1;
    let findings;
    try {
      findings = (await (await ask('POST', '/v1/check', model.document)).json()).findings;
    } catch (error) {
      if (error.findings === undefined) return;
      findings = error.findings;
    }
    if (turn === wanted) showFindings(body, list, findings);
  }

  function draw() {
    const active = document.activeElement;
    const keep = active && body.contains(active) && (active.dataset.act ? `[data-act="${CSS.escape(active.dataset.act)}"]`
      : active.dataset.pointer && `[data-pointer="${CSS.escape(active.dataset.pointer)}"]`);
    body.replaceChildren(...forms(model, show).flat());
    if (keep) body.querySelector(keep)?.focus();
  }

  function settle() {
    name.value = model.name;
    state.textContent = model.saved ? 'Saved' : 'Draft, kept on this computer';
    undo.disabled = model.past.length === 0;
    redo.disabled = model.future.length === 0;
  }

  const model = new Model(id, kept.name, kept.cell, (typed) => {
    if (!typed) draw();
    settle();
    check();
  });

  async function save() {
    const path = `/v1/cells/${id}`;
    try {
      kept = await (await ask('PUT', path, { name: model.name || 'Cell', cell: model.document }, { 'If-Match': `"r${kept.revision}"` })).json();
    } catch (error) {
      if (error.status !== 412) return notice(error.message);
      kept = await read(path);
      return notice('Somebody else has saved this cell since. Save again to put yours in its place, or reload to see theirs.');
    }
    model.settle();
    settle();
    return notice('Saved.');
  }

  async function start() {
    try {
      job = await submit(model.document, Number(limit.value) || 10);
    } catch (error) {
      if (error.findings && error.findings.length) {
        showFindings(body, list, error.findings);
        goTo(body, error.findings[0]);
      }
      return notice(error.message);
    }
    sessionStorage.setItem(`loopwright-job-${id}`, JSON.stringify({ job, document: model.document }));
    return attend(job, model.document);
  }

  async function attend(followed, cell) {
    job = followed;
    stop.hidden = false;
    plan.disabled = true;
    try {
      const answer = await follow(followed, (now) => {
        const far = now.progress;
        progress.textContent = now.state === 'queued' ? 'Waiting for its turn.' : `Searching. Floor so far ${far ? fixed(far.best_footprint_m2, 2) : '–'} m², no plan below ${far ? fixed(far.proven_bound_m2, 2) : '–'} m².`;
      });
      progress.textContent = answer ? 'The answer is there.' : 'Cancelled before there was a plan.';
      if (answer) present(cell, answer, followed);
    } catch (error) {
      progress.textContent = error.message;
    }
    stop.hidden = true;
    plan.disabled = false;
    job = null;
  }

  function hold(station, key, value) {
    const at = model.document.stations.findIndex((one) => one.id === station);
    const fixedNow = { ...model.document.stations[at].fixed, [key]: value };
    if (value === undefined) delete fixedNow[key];
    model.set(['stations', at, 'fixed'], Object.keys(fixedNow).length ? fixedNow : undefined);
    const last = plans.at(-1);
    present(last.cell, last.plan, last.job, false);
    notice(value === undefined ? `Released at ${station}.` : `Held at ${station}: ${key} ${value}.`, 'Plan again', start);
  }

  const jobsKept = [];
  function present(cell, answer, of, fresh = true) {
    if (fresh) plans.push({ cell, plan: answer, job: of, name: `Plan ${plans.length + 1}` });
    const keepPlan = async () => {
      // Kept twice, it gets another name, so that the two can be told apart.
      const again = jobsKept.filter((one) => one === of).length;
      jobsKept.push(of);
      const name = `${model.name}, ${plans.at(-1).name.toLowerCase()}${again ? ` (${again + 1})` : ''}`;
      await ask('POST', '/v1/plans', { name: name.slice(-200), job: of });
      notice('The plan is kept, with its cell. It is on the first page.');
    };
    const before = plans.at(-2);
    const compare = () => {
      compared.replaceChildren(...comparison(before.name, before.plan, plans.at(-1).name, answer));
      compared.scrollIntoView({ block: 'nearest' });
    };
    const bar = h('div', { class: 'bar' }, button('Keep this plan', keepPlan), before ? button('Compare with the plan before', compare) : null);
    if (fresh) compared.replaceChildren();
    sheet.replaceChildren(...result(cell, answer, { hold, bar, cell: () => model.document, goTo: (asked) => goTo(body, { ...asked, message: '' }) }).filter((one) => one !== ''));
  }

  const jump = (to, text) => h('li', {}, button(text, () => { const at = document.getElementById(to); at.scrollIntoView(); at.querySelector('h2, h3').focus(); }, { class: 'link' }));
  place.replaceChildren(
    h('div', { class: 'toolbar', role: 'group', 'aria-label': 'Cell' }, h('a', { href: '#' }, '← Cells'), name, plan, stop, h('label', { for: limit.id }, 'Time limit s'), limit,
      undo, redo, button('Save', save), button('Export', () => download(new Blob([JSON.stringify(model.document, null, 2)], { type: 'application/json' }), `${model.name}.json`)), state),
    progress, list,
    h('div', { class: 'work' },
      h('section', { id: 'plan', class: 'block', 'aria-labelledby': 'h-plan' }, h('h2', { id: 'h-plan', tabindex: '-1' }, 'Plan'), sheet, compared),
      h('div', { class: 'cell' }, h('h2', {}, 'Cell'),
        h('nav', { 'aria-label': 'Parts of the cell' }, h('ul', { class: 'bar' }, jump('plan', 'To the plan'), jump('requirements', 'Requirements'), jump('stations-0', 'Stations'), jump('skus', 'SKUs'), jump('track-0', 'Track and carriers'), jump('limits', 'Limits'), jump('further', 'Further'))),
        body)));
  place.onkeydown = (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== 'z') return;
    event.preventDefault();
    if (event.shiftKey) model.redo();
    else model.undo();
  };
  draw();
  settle();
  check();
  window.addEventListener('service-back', check);
  const last = sessionStorage.getItem(`loopwright-job-${id}`);
  if (last) attend(JSON.parse(last).job, JSON.parse(last).document);
  else if (then === 'plan') start();
  return () => window.removeEventListener('service-back', check);
}

/** Shows a kept plan. */
export async function keptPlan(place, id) {
  const kept = await read(`/v1/plans/${id}`);
  place.replaceChildren(h('p', {}, h('a', { href: '#' }, '← Cells')), h('section', { class: 'block' }, h('h2', {}, kept.name), result(kept.cell, kept.plan)));
}

/** Shows two kept plans side by side. */
export async function keptTwo(place, one, two) {
  const [a, b] = await Promise.all([read(`/v1/plans/${one}`), read(`/v1/plans/${two}`)]);
  place.replaceChildren(h('p', {}, h('a', { href: '#' }, '← Cells')), h('section', { class: 'block' }, h('h2', {}, 'Comparison'), comparison(a.name, a.plan, b.name, b.plan)));
}
