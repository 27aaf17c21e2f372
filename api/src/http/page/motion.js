/** Carriers running round the drawing, and their time-distance diagram; one cursor for both. */
import { ask } from './api.js';
import { printed, s } from './chart.js';
import { h, button, freshId } from './dom.js';
import { doingAt, doings, moments, placeAt, settling, timeAt } from './trace.js';

const SPEEDS = [['1', 'Real speed'], ['0.5', '1/2'], ['0.2', '1/5'], ['0.1', '1/10']];
const SIGN = { stands: '✗', 'moving in': '→', settling: '≈', working: '●', 'held up': '‖', waiting: '○' };
const WORDS = { stands: 'stands, or takes longer than planned', 'moving in': 'carriers move in', settling: 'carriers come to rest', working: 'at work', 'held up': 'done, cannot leave', waiting: 'waits for carriers' };
const SAMPLES = 4096;

/** Places along the way of the loop, read from the drawing once. */
function wayOf(path) {
  const length = path.getTotalLength();
  const points = Array.from({ length: SAMPLES }, (_, at) => path.getPointAtLength((at / SAMPLES) * length));
  const angle = (at) => {
    const [a, b] = [points[(at + SAMPLES - 1) % SAMPLES], points[(at + 1) % SAMPLES]];
    return (Math.atan2(b.y - a.y, b.x - a.x) * 180) / Math.PI;
  };
  return points.map((point, at) => ({ x: point.x, y: point.y, angle: angle(at) }));
}

/** Makes a drawing show a moment. Gives `show(t)` and `nearest(x, y)`. */
function stage(svg, trace, steps) {
  const path = svg.querySelector('#run-path');
  const loop = trace.loop_length_m;
  const way = wayOf(path);
  const index = (at_m) => Math.round(((((at_m % loop) + loop) % loop) / loop) * SAMPLES) % SAMPLES;
  const pattern = svg.querySelector('#run-carriers-loop rect');
  const high = Number(pattern?.getAttribute('height')) || 6;
  const wide = Number(path.dataset.carrierM) * Number(path.dataset.mmPerM);
  svg.querySelectorAll('.lw-carriers, .lw-slot, .lw-chevron:not([id])').forEach((one) => one.remove());
  const carriers = trace.carriers.map((one) => s('g', { class: 'run-carrier' },
    s('title', {}, `Carrier ${one.carrier + 1}`),
    s('rect', { class: 'lw-carrier', x: -wide / 2, y: -high / 2, width: wide, height: high }),
    s('circle', { class: 'run-mark', r: Math.min(wide, high) / 6 })));
  svg.append(s('g', {}, carriers));
  const tags = new Map([...svg.querySelectorAll('[id^="run-station-"]')].map((frame) => {
    const [x, y, w, tall] = ['x', 'y', 'width', 'height'].map((key) => Number(frame.getAttribute(key)));
    const zone = svg.querySelector(`#run-zone-${frame.dataset.number}`);
    const above = !zone || y + tall / 2 < Number(zone.getAttribute('y'));
    const text = s('text', { class: 'run-tag', x: x + w / 2, y: above ? y - 2 : y + tall + 4.6, 'text-anchor': 'middle' });
    svg.append(text);
    return [frame.dataset.station, text];
  }));
  const states = carriers.map(() => '');
  const said = new Map();
  function show(t) {
    for (let at = 0; at < carriers.length; at += 1) {
      const now = placeAt(trace.carriers[at].points, t);
      const { x, y, angle } = way[index(now.at_m)];
      carriers[at].setAttribute('transform', `translate(${x.toFixed(2)} ${y.toFixed(2)}) rotate(${angle.toFixed(1)})`);
      if (states[at] !== now.state) { states[at] = now.state; carriers[at].setAttribute('data-state', now.state); }
    }
    for (const [station, text] of tags) {
      const state = steps.has(station) ? doingAt(steps.get(station), t) : 'waiting';
      if (said.get(station) !== state) {
        said.set(station, state);
        text.textContent = `${SIGN[state]} ${state}`;
        text.setAttribute('data-state', state);
      }
    }
  }
  const from = (event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  const along = (event) => {
    const { x, y } = from(event);
    let best = 0;
    let least = Infinity;
    way.forEach((one, at) => { const d = (one.x - x) ** 2 + (one.y - y) ** 2; if (d < least) { least = d; best = at; } });
    return (best / SAMPLES) * loop;
  };
  // The part of the sheet with the loop and its stations.
  const box = svg.querySelector('#run-clearance');
  if (box && path.dataset.plane === 'flat') {
    const [x, y, w, tall] = ['x', 'y', 'width', 'height'].map((key) => Number(box.getAttribute(key)));
    svg.setAttribute('viewBox', `${x - 4} ${y - 6} ${w + 8} ${tall + 12}`);
  }
  return { show, along };
}

/** Lets a line be drawn over the diagram. Gives `show(t)` and `timeOf(event)`. */
function diagram(svg, end) {
  const [left, right, top, bottom] = ['leftMm', 'rightMm', 'topMm', 'bottomMm'].map((key) => Number(svg.dataset[key]));
  const line = s('line', { class: 'run-cursor', y1: top - 2, y2: bottom + 1 });
  const text = s('text', { class: 'run-cursor-text', y: top - 8, 'text-anchor': 'middle', 'font-size': 3.4 });
  svg.append(line, text);
  return {
    show(t) {
      const x = left + (t / end) * (right - left);
      line.setAttribute('x1', x);
      line.setAttribute('x2', x);
      text.setAttribute('x', x);
      text.textContent = `${t.toFixed(2)} s`;
    },
    timeOf(event) {
      const { x } = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
      return ((x - left) / (right - left)) * end;
    },
  };
}

const dragged = (element, begin, move) => {
  element.addEventListener('pointerdown', (event) => {
    if (begin(event) === false) return;
    element.setPointerCapture(event.pointerId);
    event.preventDefault();
    element.focus({ preventScroll: true });
  });
  element.addEventListener('pointermove', (event) => element.hasPointerCapture(event.pointerId) && move(event));
};

/** Fills a place with the motion of a plan; gives what stops it. `chosen` says which SKU. */
export function motion(place, cell, plan, chosen) {
  let gone = false;
  let frame = 0;
  const stop = () => { gone = true; cancelAnimationFrame(frame); };
  place.replaceChildren(h('p', { class: 'quiet', role: 'status' }, 'Reading the paced run …'));
  // Something can go wrong where the cell says so.
  const fails = cell.stations.some((one) => one.failures || one.short_stops || one.work_times || one.supply);
  let seed = 0;
  const failed = (error) => place.replaceChildren(h('p', { class: 'bad' }, error.message));
  const fill = async () => {
    const sku = chosen();
    const whole = await (await ask('POST', '/v1/trace', { cell, plan, sku, ...(seed > 0 ? { bad_day: { seed }, duration_s: 120 } : {}) })).json();
    // The stretch is twice round; once round is enough, and the run goes on from its end where it recurs.
    const trace = { ...whole, duration_s: seed > 0 ? whole.duration_s : whole.duration_s / 2 };
    const [floor, chart] = await Promise.all([
      printed('drawing.svg', { cell, plan, sku }, 'run-'), printed('time-distance.svg', { cell, plan, sku, trace }, 'run-td-')]);
    if (gone) return;
    const end = trace.duration_s;
    const steps = doings(trace, settling(cell, plan, sku));
    const turns = moments(steps);
    const speedId = freshId();
    const speed = h('select', { id: speedId }, SPEEDS.map(([value, text]) => h('option', { value }, text)));
    const clock = h('output', { class: 'clock' });
    const dayId = freshId();
    const day = h('select', { id: dayId }, h('option', { value: '0' }, 'the paced run'),
      [1, 2, 3, 4, 5].map((one) => h('option', { value: `${one}`, selected: one === seed }, `bad day ${one}`)));
    day.addEventListener('change', () => { if (running) pause(); seed = Number(day.value); fill().catch(failed); });
    const slide = (name) => ({ role: 'slider', tabindex: '0', 'aria-label': name, 'aria-valuemin': '0', 'aria-valuemax': end.toFixed(2), 'aria-valuenow': '0', 'aria-valuetext': '' });
    const left = h('div', { class: 'sheet run', ...slide('Moment of the run, on the drawing') }, floor);
    const right = h('div', { class: 'sheet run', ...slide('Moment of the run, on the time–distance diagram') }, chart);
    const list = h('dl', { class: 'doings' }, trace.zones.map((zone) => h('div', {}, h('dt', {}, zone.station), h('dd', {}))));
    const lines = [...list.querySelectorAll('dd')];
    place.replaceChildren(
      h('div', { class: 'bar run-bar', role: 'group', 'aria-label': 'Run' },
        button('Run', () => (running ? pause() : go()), { class: 'main run-button' }),
        button('Step back', () => step(-1)), button('Step on', () => step(1)),
        h('label', { for: speedId }, 'Speed'), speed, ...(fails ? [h('label', { for: dayId }, 'Shows'), day] : []), clock,
        h('span', { class: 'quiet' }, `${sku}, ${trace.carriers.length} carriers; a step goes to the next change at a station`)),
      trace.bad_day ? h('p', { class: 'quiet' }, `Two minutes of a simulation, from its tenth minute on, seed ${seed}: as fast as the cell can.`)
        : trace.recurs ? '' : h('p', { class: 'bad' }, 'The run had not come to recur: what is shown is its beginning.'),
      h('div', { class: 'runs' }, h('div', {}, left, list), right),
      h('p', { class: 'quiet' }, 'Drag a carrier along the drawing, or the line in the diagram. With either in focus: arrow keys move by 0.1 s, Page Up and Page Down by one second, space runs and pauses. Between two points of the run carriers are drawn at an even speed.'));
    const act = place.querySelector('.run-button');
    const scene = stage(floor, trace, steps);
    const graph = diagram(chart, end);
    let [now, running, last] = [0, false, 0];
    const said = [];
    let told = -1;
    function show(t) {
      now = t;
      scene.show(t);
      graph.show(t);
      const tenth = Math.floor(t * 10);
      if (tenth === told) return;
      told = tenth;
      clock.textContent = `${t.toFixed(1)} s of ${end.toFixed(1)} s`;
      trace.zones.forEach((zone, at) => {
        const state = doingAt(steps.get(zone.station), t);
        if (said[at] === state) return;
        said[at] = state;
        lines[at].textContent = `${SIGN[state]} ${WORDS[state]}`;
      });
      if (!running) tell();
    }
    function tell() {
      const text = `${now.toFixed(2)} s. ${trace.zones.map((zone, at) => `${zone.station} ${said[at]}`).join(', ')}`;
      for (const one of [left, right]) { one.setAttribute('aria-valuenow', now.toFixed(2)); one.setAttribute('aria-valuetext', text); }
    }
    const to = (t) => { told = -1; show(Math.min(end, Math.max(0, t))); };
    function tick(time) {
      if (gone || !running) return;
      if (place.hidden || !place.isConnected) { pause(); return; }
      const passed = Math.min(0.1, (time - last) / 1000) * Number(speed.value);
      last = time;
      show((now + passed) % end);
      frame = requestAnimationFrame(tick);
    }
    function go() {
      running = true;
      act.textContent = 'Pause';
      last = performance.now();
      frame = requestAnimationFrame(tick);
    }
    function pause() {
      running = false;
      act.textContent = 'Run';
      cancelAnimationFrame(frame);
      tell();
    }
    function step(way) {
      if (running) pause();
      const next = way > 0 ? turns.find((t) => t > now + 1e-6) ?? turns[0] : turns.findLast((t) => t < now - 1e-6) ?? turns.at(-1);
      to(next);
    }
    const keys = (event) => {
      const by = { ArrowRight: 0.1, ArrowUp: 0.1, ArrowLeft: -0.1, ArrowDown: -0.1, PageUp: 1, PageDown: -1, Home: -end, End: end }[event.key];
      if (event.key === ' ') { event.preventDefault(); if (running) pause(); else go(); }
      if (by === undefined) return;
      event.preventDefault();
      if (running) pause();
      to(now + by);
    };
    left.addEventListener('keydown', keys);
    right.addEventListener('keydown', keys);
    let held = null;
    const loop = trace.loop_length_m;
    const wrap = (d) => d - loop * Math.round(d / loop);
    dragged(left, (event) => {
      if (running) pause();
      const at = scene.along(event);
      const far = trace.carriers.map((one) => ({ points: one.points, off: wrap(placeAt(one.points, now).at_m - at) }));
      held = far.reduce((best, one) => (Math.abs(one.off) < Math.abs(best.off) ? one : best));
    }, (event) => {
      const place_m = placeAt(held.points, now).at_m;
      to(timeAt(held.points, place_m + wrap(scene.along(event) - place_m), end));
    });
    dragged(right, (event) => { if (running) pause(); to(graph.timeOf(event)); }, (event) => to(graph.timeOf(event)));
    show(0);
    tell();
    if (!matchMedia('(prefers-reduced-motion: reduce)').matches) go();
  };
  fill().catch(failed);
  return stop;
}
