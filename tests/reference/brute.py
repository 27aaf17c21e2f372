"""Brute force over a small cell of one circuit: python3 brute.py CELL [--grid-mm G] [--seconds S] [--plan FILE]

Prints JSON: the least footprint found, the least carriers at it, the least price at both, and one such plan. An UPPER
bound on the optimum, as exact as its grid. Only necessary conditions refuse a candidate unseen.
"""
import argparse
import itertools
import json
import math
import sys
import time

import model
import timed
from document import plan_document
from layout import arrangements, share_out
from ratio import keeps_up

SHARES = [round(1 - .05 * i, 2) for i in range(20)]
ALMOST = 1 - 1e-4          # the one tolerance of the rate


def spread(kind, u, d):
    """What the last of a batch waits at least while the ones before it are taken in; or the first of those that are
    taken in together, while the others are still worked on (a flow that waits may let batches go at once)."""
    if u.batch > d.batch:
        return (-(-u.batch // d.batch) - 1) * d.cycle
    return (-(-d.batch // u.batch) - 1) * u.cycle if kind != "flow" else 0.0


class Sections:
    """What a single section can be refused for, whatever the rest of the loop is."""

    def __init__(self, cell, circuit):
        self.cell, self.circuit, self.known = cell, circuit, {}

    def fit(self, i, up, down, length, curve, form):
        """(slots, lags) for every SKU, or None."""
        key = (i, id(up), id(down), round(length, 8), round(curve, 8), form.radius)
        if key not in self.known:
            self.known[key] = self.work_out(i, up, down, length, curve, form)
        return self.known[key]

    def work_out(self, i, up, down, length, curve, form):
        c = self.circuit
        seg = self.cell.segment(c.order[i - 1], c.order[i])
        if length < seg.min_length - 1e-9:
            return None
        slots, lags = [], []
        for k, kin in enumerate(c.kin):
            u, d = up.sku[k], down.sku[k]
            have = model.slots(length, kin.pitch)
            if have < model.slots_needed(u.batch, d.batch, kin.phi, seg.ride_through):
                return None
            way = model.lag(kin, length, u.tail, curve, form.radius, seg, 1.0)
            if timed.micros(way + spread(up.kind, u, d)) > timed.micros_or_inf(seg.max_s) + 9:
                return None
            # Little: a slot is held for the lag and the move-in, and from the taking on where it is reserved
            held = way + d.move_in + (u.residence if up.kind == "reserve" else 0)
            if have < kin.phi * ALMOST * held - 1e-4:
                return None
            if not self.pair_keeps_up(up, down, k, have, way):
                return None
            slots.append(have)
            lags.append(way)
        return slots, lags

    def pair_keeps_up(self, up, down, k, slots, way):
        """The two stations alone, the first never starved and the second never blocked."""
        phi, u, d = self.circuit.kin[k].phi, up.sku[k], down.sku[k]
        if len(self.circuit.order) < 2:
            return True
        plenty = 40 * (u.batch * d.batch) + 4 * (u.places + d.places + slots)
        ring = timed.Ring((up.kind, down.kind), (u.batch, d.batch),
                          (timed.micros(u.move_in), timed.micros(d.move_in)),
                          (timed.micros(u.cycle), timed.micros(d.cycle)),
                          (timed.micros(u.residence), timed.micros(d.residence)), (u.places, d.places),
                          (2 * plenty, slots), (0, timed.micros(way)))
        # the way back has more carriers and more holes than the pair can ever use
        return keeps_up(ring, plenty, phi * ALMOST)


class Brute:
    def __init__(self, cell, grid, seconds=math.inf):
        self.end = time.monotonic() + seconds
        self.refuted = 0.0     # no plan on the grid has an area up to this
        if len(cell.circuits) != 1:
            raise ValueError("one circuit only")
        if cell.tolerance:
            raise ValueError("the least footprint only, to no tolerance")
        self.cell, self.circuit, self.grid = cell, cell.circuits[0], grid
        self.sections = Sections(cell, self.circuit)
        self.options = [[o for o in model.options(cell, self.circuit, s) if o.feasible(self.circuit) and self.may(o)]
                        for s in self.circuit.order]
        order = self.circuit.order
        self.longest = [cell.segment(order[i - 1], order[i]).max_s for i in range(len(order))]
        self.slow = {}         # options at lower accelerations
        self.tests = self.shared = 0

    def may(self, option):
        fixed = self.cell.stations[option.station].fixed
        return all(getattr(option, key) == value for key, value in fixed.items())

    # ------------------------------------------------------------ search

    def search(self):
        """Areas from the least up; within the first area that holds a plan: fewest carriers, then least price."""
        if not all(self.options):
            return None
        groups = []
        for arr in sorted(arrangements(self.cell, self.circuit), key=lambda a: a.area):
            if groups and arr.area <= groups[-1][0].area * (1 + 1e-9):
                groups[-1].append(arr)
            else:
                groups.append([arr])
        for group in groups:
            found = self.best_of(group)
            if found:
                return found
            self.refuted = group[0].area
        return None

    def on_time(self):
        if time.monotonic() > self.end:
            raise TimeoutError

    def best_of(self, group):
        queue, done = [], set()
        for arr in group:
            if arr.signature in done:
                continue
            done.add(arr.signature)
            for opts in itertools.product(*self.options):
                self.candidates(arr, opts, queue)
        top = max((hi for _, hi, *_ in queue), default=0)
        for n in range(1, top + 1):
            rest = 2 * self.circuit.curve_price + n * self.circuit.carrier_price
            now = sorted((c for c in queue if c[0] <= n <= c[1] and c[2] + rest <= self.cell.max_price * (1 + 1e-9)),
                         key=lambda c: c[2])
            for _, _, _, arr, opts, lengths in now:
                self.on_time()
                build = self.accept(arr, opts, lengths, n)
                if build:
                    return build, arr
        return None

    def candidates(self, arr, opts, queue):
        price = sum(o.price for o in opts) + arr.n * 2 * self.circuit.module_price
        for lengths in share_out(self.cell, self.circuit, arr, opts, self.grid, self.sections.fit):
            self.shared += 1
            self.on_time()
            span = self.carrier_span(arr, opts, lengths)
            if span:
                queue.append((*span, price, arr, opts, lengths))

    def carrier_span(self, arr, opts, lengths):
        """Least and most carriers that the averages (Little's law) allow for every SKU."""
        fixed = self.circuit.fixed.get("carriers")
        low, high = fixed or 1, min(self.circuit.max_carriers or 10 ** 9, fixed or 10 ** 9)
        m = len(opts)
        fits = [self.sections.fit(i, opts[i - 1], opts[i], lengths[i], arr.curves[i], arr.form) for i in range(m)]
        for k, kin in enumerate(self.circuit.kin):
            phi = kin.phi * ALMOST
            slots = sum(f[0][k] for f in fits)
            lap = sum(f[1][k] for f in fits) + sum(o.sku[k].residence for o in opts)
            low = max(low, math.ceil(phi * lap - 1e-4))
            # carriers in sections, moving in (still on a slot) and inside share the slots and the places
            inside = sum(o.sku[k].places for o in opts if o.kind != "reserve")
            high = min(high, slots, math.floor(slots + inside - phi * sum(o.sku[k].move_in for o in opts) + 1e-4))
            # and where a time is limited, no more can be on the way than pass in it (phi, in the paced run)
            held = [min(fits[i][0][k], kin.phi * 1.001 * self.longest[i]) for i in range(m)]
            high = min(high, math.floor(sum(held) + sum(o.sku[k].places if o.kind != "reserve"
                                                        else phi * 1.001 * o.sku[k].residence for o in opts) + 1e-4))
        return (low, high) if low <= high else None

    # ------------------------------------------------------------ one candidate, in full

    def accept(self, arr, opts, lengths, n):
        self.tests += 1
        c = self.circuit
        for share in SHARES:
            slow = [self.at_share(o, share) for o in opts]
            build = model.Build(self.cell, c, arr.form, arr.n, share, slow, list(lengths), list(arr.curves), n)
            limit = model.duty_limit(c) * (1 + 1e-9)
            if any(model.motor_rms(build, k) > limit for k in range(len(c.kin))):
                if share == 1.0 and not self.keeps_rate(build):
                    return None        # slower moves never make up for it
                continue
            return build if self.holds(build) else None
        return None

    def at_share(self, opt, share):
        if share == 1.0:
            return opt
        key = (opt.station, opt.mode, opt.heads, share)
        if key not in self.slow:
            self.slow[key] = model.make_option(self.circuit, self.cell.stations[opt.station], opt.mode, opt.heads, share)
        return self.slow[key]

    def keeps_rate(self, build):
        return all(keeps_up(timed.ring_of(build, k), build.carriers, kin.phi * ALMOST)
                   for k, kin in enumerate(self.circuit.kin))

    def holds(self, build):
        c = self.circuit
        if not all(o.feasible(c) for o in build.options) or not self.keeps_rate(build):
            return False
        limits = self.longest
        if all(x == math.inf for x in limits) and not self.cell.windows:
            return True
        for k, kin in enumerate(c.kin):
            paced = timed.Paced(timed.ring_of(build, k), build.carriers, kin.phi)
            for i, x in enumerate(limits):
                if x < math.inf and paced.longest(i) > timed.micros_or_inf(x):
                    return False
            for w in self.cell.windows:
                times = paced.passages(c.order.index(w.start), c.order.index(w.end), w.since)
                if max(times) > timed.micros_or_inf(w.max_s) or min(times) < timed.micros(w.min_s):
                    return False
        return True


def solve(cell, grid, seconds=math.inf):
    began = time.monotonic()
    brute = Brute(cell, grid, seconds)
    try:
        found, finished = brute.search(), True
    except TimeoutError:
        found, finished = None, False
    out = {"found": bool(found), "finished": finished, "grid_mm": grid * 1e3, "none_up_to_m2": brute.refuted}
    if found:
        build, arr = found
        w, h = model.footprint(cell, build.circuit, build.form, build.n, arr.stands)
        out.update(area_m2=w * h, carriers=build.carriers, price=build.price(),
                   plan=plan_document(build, arr))
    out.update(candidates=brute.shared, tests=brute.tests, seconds=round(time.monotonic() - began, 2))
    return out


def main(argv):
    args = argparse.ArgumentParser()
    args.add_argument("cell")
    args.add_argument("--grid-mm", type=float, default=50)
    args.add_argument("--seconds", type=float, default=math.inf, help="stop after this long (finished: false)")
    args.add_argument("--plan", help="write the plan by itself to this file")
    args = args.parse_args(argv[1:])
    out = solve(model.read_cell(model.read_document(args.cell)), args.grid_mm / 1e3, args.seconds)
    if args.plan and out["found"]:
        with open(args.plan, "w", encoding="utf-8") as file:
            json.dump(out["plan"], file, indent=1)
    json.dump(out, sys.stdout, indent=1)
    print()
    return 0 if out["found"] else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv))
