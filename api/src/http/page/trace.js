/** What a trace says at a moment: where carriers are, what stations do. No elements here. */

const NEAR = 1e-6;

/** Place of the last point at or before a time. */
function before(points, t) {
  let [low, high] = [0, points.length - 1];
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (points[middle].t_s <= t) low = middle;
    else high = middle - 1;
  }
  return low;
}

/** Place and state of a carrier at a time; the place grows from lap to lap. */
export function placeAt(points, t) {
  const at = before(points, t);
  const [one, two] = [points[at], points[at + 1]];
  if (!two || two.t_s <= one.t_s) return { at_m: one.at_m, state: one.state };
  const share = Math.min(1, Math.max(0, (t - one.t_s) / (two.t_s - one.t_s)));
  return { at_m: one.at_m + share * (two.at_m - one.at_m), state: one.state };
}

/** The first time from 0 to the end at which a carrier has come so far. */
export function timeAt(points, at_m, end) {
  const later = points.findIndex((point) => point.at_m >= at_m);
  if (later <= 0) return later < 0 ? end : 0;
  const [one, two] = [points[later - 1], points[later]];
  const share = two.at_m > one.at_m ? (at_m - one.at_m) / (two.at_m - one.at_m) : 0;
  return Math.min(end, Math.max(0, one.t_s + share * (two.t_s - one.t_s)));
}

/** The zone that a place lies in; at a joint of two, the later one. */
function zoneOf(trace, at_m) {
  const loop = trace.loop_length_m;
  const inside = (zone) => {
    const into = (((at_m - zone.start_m + NEAR) % loop) + loop) % loop;
    return into <= zone.length_m + 2 * NEAR;
  };
  return trace.zones.filter(inside).at(-1)?.station;
}

/** Seconds that carriers settle at each station that works on a standing batch, from the cell document. */
export function settling(cell, plan, sku) {
  const all = new Map();
  for (const station of plan.circuits[0].stations.filter((one) => one.mode === 'intermittent')) {
    const given = cell.stations.find((one) => one.id === station.id);
    all.set(station.id, given?.per_sku?.[sku]?.settle_s ?? given?.intermittent?.settle_s ?? 0);
  }
  return all;
}

// What a station is said to do when its carriers do different things.
const FIRST = ['stands', 'working', 'settling', 'moving in', 'held up'];

/** For each station, the moments at which what it does changes: `[{t_s, state}]`, the first at 0. */
export function doings(trace, settle) {
  const spans = new Map(trace.zones.map((zone) => [zone.station, []]));
  for (const { points } of trace.carriers) {
    for (let at = 0; at + 1 < points.length; at += 1) {
      const [one, two] = [points[at], points[at + 1]];
      const add = (place, from, to, state) => to > from && spans.get(zoneOf(trace, place))?.push({ from, to, state });
      if (one.state === 'moving_in') add(two.at_m, one.t_s, two.t_s, 'moving in');
      if (one.state === 'standing') add(one.at_m, one.t_s, two.t_s, 'stands');
      if (one.state === 'blocked') add(one.at_m, one.t_s, two.t_s, 'held up');
      if (one.state === 'working') {
        const place = (one.at_m + two.at_m) / 2;
        const rest = Math.min(settle.get(zoneOf(trace, place)) || 0, two.t_s - one.t_s);
        add(place, one.t_s, one.t_s + rest, 'settling');
        add(place, one.t_s + rest, two.t_s, 'working');
      }
    }
  }
  return new Map([...spans].map(([station, list]) => {
    const times = [...new Set([0, ...list.flatMap((span) => [span.from, span.to])])].filter((t) => t >= 0 && t < trace.duration_s).sort((a, b) => a - b);
    const steps = [];
    for (const t_s of times) {
      const here = new Set(list.filter((span) => span.from <= t_s + NEAR && span.to > t_s + NEAR).map((span) => span.state));
      const state = FIRST.find((one) => here.has(one)) || 'waiting';
      if (state !== steps.at(-1)?.state) steps.push({ t_s, state });
    }
    return [station, steps];
  }));
}

/** What a station does at a time. */
export const doingAt = (steps, t) => steps[before(steps, t)].state;

/** Every moment at which a station changes what it does, in order. */
export const moments = (all) => [...new Set([...all.values()].flat().map((step) => step.t_s))].sort((a, b) => a - b);
