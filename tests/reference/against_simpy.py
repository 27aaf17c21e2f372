"""The simulation against a simpy model of the same ring, and how fast both are: python3 against_simpy.py PROGRAM [--speed]

A ring of ten stations and twenty carriers with exponential work is planned and simulated by PROGRAM; a simpy model, written from
section 7 of the model with the second reading's own ring, must have the same net rate within four standard errors, and one that is
5 % off must be refused. With --speed also: station cycles a second of user CPU time of both, side by side, and what an hour of the
ring costs. Exit 1 when the rates differ. Needs simpy.
"""
import json
import math
import os
import random
import resource
import statistics
import subprocess
import sys
import tempfile

import simpy

import judge
import model
import timed

STATIONS, CARRIERS, SEED = 10, 20, 5
HOURS, REPLICATIONS, WARM_UP_S = 1.0, 12, 600.0


def cell():
    ids = [f"s{i}" for i in range(STATIONS)]
    work = [0.45 + 0.03 * (i % 3) for i in range(STATIONS)]
    stations = [{"id": s, "depth_mm": 500, "margin_mm": 40, "intermittent": {"base_s": w, "settle_s": 0.05},
                 "work_times": {"distribution": "exponential"}} for s, w in zip(ids, work)]
    return {
        "format": 1, "name": "Ring for a second opinion",
        "skus": [{"id": "only", "net_rate": {"cases_per_min": 20}, "loads": {"ring": {"extent_mm": 150, "mass_kg": 1}}}],
        "circuits": [{
            "id": "ring", "carries": "case", "fixed": {"carriers": CARRIERS, "modules_per_straight": 8},
            "carrier": {"length_mm": 150, "gap_mm": 10, "mass_kg": 1, "max_speed_m_s": 2, "max_accel_m_s2": 10},
            "track": {"module_mm": 500, "width_mm": 200, "forms": [{"id": "flat", "plane": "flat", "radius_mm": 300}]},
            "order": ids}],
        "stations": stations,
    }, work


class Grab(judge.Judge):
    """Keeps what is to be played instead of judging it."""
    ring = None

    def runs(self, build, k, kin, claim, claims):
        self.ring = timed.ring_of(build, k)


class Model:
    """Blocking after service: a batch leaves when the next section has slots; those it held are free a move-in later."""

    def __init__(self, ring, work, seed):
        self.env, self.ring, self.work = simpy.Environment(), ring, work
        self.random = random.Random(seed)
        fill = timed.first_fill(ring.slots, CARRIERS)
        self.ready = [simpy.Store(self.env) for _ in fill]
        self.free = [simpy.Container(self.env, c, init=c - f) if c > f else simpy.Container(self.env, c)
                     for c, f in zip(ring.slots, fill)]
        for store, count in zip(self.ready, fill):
            for _ in range(count):
                store.put(None)
        self.cycles = [0] * STATIONS
        for i in range(STATIONS):
            self.env.process(self.station(i))

    def later(self, delay, what):
        yield self.env.timeout(delay)
        yield what()

    def station(self, i):
        env, ring, after = self.env, self.ring, (i + 1) % STATIONS
        rest = ring.cycle[i] / 1e6 - self.work[i]
        while True:
            yield self.ready[i].get()
            env.process(self.later(ring.move_in[i] / 1e6, lambda: self.free[i].put(1)))
            yield env.timeout(rest + self.random.expovariate(1 / self.work[i]))
            yield self.free[after].get(1)
            self.cycles[i] += 1
            env.process(self.later(ring.lag[after] / 1e6, lambda: self.ready[after].put(None)))


def simulate(program, cell_file, plan_file, replications, hours=HOURS):
    asked = [program, "simulate", cell_file, plan_file, "--json", "--seed", str(SEED), "--hours", str(hours),
             "--warm-up", str(WARM_UP_S), "--least", str(replications), "--most", str(replications), "--time-limit", "600"]
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    done = subprocess.run(asked, capture_output=True, text=True)
    used = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before
    if done.returncode not in (0, 1):
        raise SystemExit(done.stderr)
    return json.loads(done.stdout)["skus"][0], used


def main(argv):
    if len(argv) < 2:
        print(__doc__.strip(), file=sys.stderr)
        return 2
    program, speed = argv[1], "--speed" in argv[2:]
    with tempfile.TemporaryDirectory() as folder:
        cell_file, plan_file = os.path.join(folder, "cell.json"), os.path.join(folder, "plan.json")
        document, work = cell()
        with open(cell_file, "w", encoding="utf-8") as out:
            json.dump(document, out)
        planned = subprocess.run([program, "plan", cell_file, "--json"], capture_output=True, text=True)
        plan = json.loads(planned.stdout)
        with open(plan_file, "w", encoding="utf-8") as out:
            out.write(planned.stdout)
        # What is decided beforehand is the planner's own key: the second reading does not plan.
        document["circuits"][0].pop("fixed")
        grab = Grab(model.read_cell(document), plan)
        grab.judge()
        if grab.ring is None:
            raise SystemExit(f"no ring to play: {grab.faults}")
        began = resource.getrusage(resource.RUSAGE_SELF).ru_utime
        rates, cycles = [], 0
        for r in range(REPLICATIONS):
            ring = Model(grab.ring, work, 1000 + r)
            ring.env.run(WARM_UP_S)
            before = ring.cycles[-1]
            ring.env.run(WARM_UP_S + HOURS * 3600)
            rates.append((ring.cycles[-1] - before) / HOURS / 60)
            cycles += sum(ring.cycles)
        used = resource.getrusage(resource.RUSAGE_SELF).ru_utime - began
        other, error = statistics.mean(rates), statistics.stdev(rates) / math.sqrt(REPLICATIONS)
        found, _ = simulate(program, cell_file, plan_file, 40)
        own = found["net_rate_per_min"]
        # Student's t of 39 degrees of freedom.
        both = math.hypot(error, own["half_width"] / 2.0227)
        off = abs(own["mean"] - other) / both
        print(f"simpy {other:.4f} +- {error:.4f}, engine {own['mean']:.4f}: {off:.2f} standard errors apart")
        sharp = min(abs(own["mean"] * f - other) for f in (0.95, 1.05)) / both
        good = off < 4 and sharp > 4
        if speed:
            few, many = 50, 1050
            _, short = simulate(program, cell_file, plan_file, few)
            _, long = simulate(program, cell_file, plan_file, many)
            a_replication = (long - short) / (many - few)
            in_one = (WARM_UP_S / 3600 + HOURS) * own["mean"] * 60 * STATIONS
            theirs, ours = cycles / used, in_one / a_replication
            an_hour = a_replication * 36_000 / in_one
            print(f"simpy {theirs:,.0f}, engine {ours:,.0f} station cycles a second of CPU: {ours / theirs:.0f} times; "
                  f"36,000 station cycles take the engine {an_hour * 1e3:.2f} ms")
        return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv))
