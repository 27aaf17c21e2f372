"""Changes from SKU to SKU, worked out a second time: python3 changes.py [--engine PROGRAM] [NAME ...]

For every example with a plan (or those whose names hold one of NAME): running empty and refilling of each SKU from the timed run event by event, each change of
the matrix (steps by enumerating every order in which people can take them up), and the order of the week by enumeration
where it has few lots. Compared with `loopwright changeover CELL --plan PLAN --json`. Exit 1 when anything differs.
"""
import itertools
import json
import os
import subprocess
import sys

import against_examples
import judge
import model
import timed

TICKS = 5e-6
MOST_LOTS = 8


def last_loaded(cell, circuit):
    """Cases leave at the station before the track that is travelled empty to the first one."""
    order, empty = circuit.order, 0
    while empty < len(order) and not cell.segment(order[-1 - empty], order[-empty] if empty else order[0]).loaded:
        empty += 1
    return len(order) - max(empty, 1)


def flows(build, last):
    """Running empty and refilling of each SKU, in microseconds."""
    out = []
    for k, kin in enumerate(build.circuit.kin):
        ring = timed.ring_of(build, k)
        paced = timed.Paced(ring, build.carriers, kin.phi)
        through = max(paced.passages(0, last, "taken_in")) if last else 0
        run = timed.Run(ring, build.carriers, timed.micros(ring.batch[0] / kin.phi))
        index = sum(run.fill[1:last + 1]) // ring.batch[last]
        while len(run.takes[last]) <= index and run.step():
            pass
        first = run.takes[last][index] - run.takes[0][0]
        out.append((through + ring.residence[last], first + ring.residence[last]))
    return out


def asks(doc, circuit, name, sku):
    load = (sku.get("loads") or {}).get(circuit, {})
    if name in ("extent_mm", "base_mm", "base_across_mm", "cg_height_mm"):
        return float(load.get(name, 0))
    if name in ("products_per_stack", "stacks_per_case"):
        return str(sku.get(name, 1))
    if name == "id":
        return sku["id"]
    if any(name in (s.get("measures_mm") or {}) for s in doc["skus"]):
        return float(sku["measures_mm"][name])
    return (sku.get("groups") or {}).get(name, "")


def adjustments(doc, build):
    """(owner, adjustment, heads or carriers, room) of all that are there in this plan, stations in travel order."""
    by_id = {s["id"]: s for s in doc["stations"]}
    out = []
    for name, option in zip(build.circuit.order, build.options):
        for a in by_id[name].get("adjustments") or []:
            if a.get("mode") in (None, option.mode):
                out.append((name, a, option.heads, by_id[name].get("room_for_people")))
    for a in doc["circuits"][0].get("adjustments") or []:
        out.append((build.circuit.id, a, build.carriers, None))
    return out


def least_finish(tasks, people):
    """Least time of tasks (time, people, owner, room, set of tasks before): each order of taking them up, each as soon as
    it can be; some such order is best (a schedule can always be moved to the left)."""
    best = [sum(t[0] for t in tasks)]

    def fits(placed, task, start):
        time, need, owner, room, _ = task
        points = [start] + [s for s, _ in placed if start < s < start + time]
        for at in points:
            on = [tasks[j] for s, j in placed if s <= at < s + tasks[j][0]]
            if sum(t[1] for t in on) + need > people:
                return False
            if room is not None and sum(t[1] for t in on if t[2] == owner) + need > room:
                return False
        return True

    def go(placed, left):
        finish = max([s + tasks[j][0] for s, j in placed], default=0)
        if finish >= best[0] and left:
            return
        if not left:
            best[0] = min(best[0], finish)
            return
        done = {j: s + tasks[j][0] for s, j in placed}
        for i in sorted(left):
            if tasks[i][4] & left:
                continue
            ready = max([done[j] for j in tasks[i][4]], default=0)
            starts = sorted({ready} | {e for e in done.values() if e > ready})
            start = next(t for t in starts if fits(placed, tasks[i], t))
            go(placed + [(start, i)], left - {i})

    go([], frozenset(range(len(tasks))))
    return best[0]


class Changes:
    def __init__(self, doc, cell, build):
        self.doc, self.build, self.known = doc, build, {}
        self.asked = doc.get("changeover") or {}
        self.there = adjustments(doc, build)
        self.flows = flows(build, last_loaded(cell, build.circuit))
        car = doc["circuits"][0]["carrier"]
        self.movers = car.get("movers_per_carrier", 1)
        bare = {"id": "", "net_rate": {"cases_per_min": 1}}
        self.empty = model.derive(bare, doc["circuits"][0], 1.0)
        # Which steps come before which, over the whole document, through others too.
        self.after = {}
        for station in doc["stations"] + doc["circuits"]:
            for a in station.get("adjustments") or []:
                for s in a.get("by_hand") or []:
                    own = f"{station['id']}/{a['id']}/"
                    names = [own + n if any(own + n == own + x["id"] for x in a["by_hand"]) else n
                             for n in s.get("after") or []]
                    self.after[own + s["id"]] = set(names)
        grown = True
        while grown:
            grown = False
            for name, before in self.after.items():
                more = set().union(before, *(self.after[b] for b in before))
                if more != before:
                    self.after[name], grown = more, True

    def travel(self, a, i, j):
        """None when nothing is to be done; else millimetres."""
        x, y = (asks(self.doc, self.build.circuit.id, a["follows"], self.doc["skus"][k]) for k in (i, j))
        if isinstance(x, float):
            return abs(x - y) if abs(x - y) > a.get("tolerance_mm", 0) + 1e-9 else None
        return 0.0 if x != y else None

    def by_hand(self, i, j):
        tasks, names = [], []
        for owner, a, count, room in self.there:
            if "automatic" in a or self.travel(a, i, j) is None:
                continue
            for s in a["by_hand"]:
                if s.get("stop", "inside") == "inside":
                    time = timed.micros(60 * s.get("minutes", 0) + 60 * s.get("minutes_each", 0) * count)
                    names.append(f"{owner}/{a['id']}/{s['id']}")
                    tasks.append((time, s.get("people", 1), owner, room))
        tasks = tuple(t + (frozenset(n for n, x in enumerate(names) if x in self.after[name]),)
                      for t, name in zip(tasks, names))
        if tasks not in self.known:
            self.known[tasks] = least_finish(tasks, self.asked.get("operators", 1))
        return self.known[tasks]

    def moving(self, i, j):
        times = [0]
        for _, a, _, _ in self.there:
            travel = self.travel(a, i, j)
            if a.get("automatic") is not None and travel is not None:
                way = a["automatic"]
                times.append(timed.micros(way.get("base_s", 0) + (travel / way["speed_mm_s"] if "speed_mm_s" in way else 0)))
        kin, circuit = self.build.circuit.kin, self.build.circuit.id
        pitch = abs(kin[i].pitch - kin[j].pitch) * (self.build.carriers - 1)
        times.append(timed.micros(self.empty.move(pitch, self.build.share).time) if pitch > 1e-9 else 0)
        own = any(a["follows"] == "extent_mm" for a in self.doc["circuits"][0].get("adjustments") or [])
        extents = [(self.doc["skus"][k].get("loads") or {}).get(circuit, {}).get("extent_mm", 0) for k in (i, j)]
        opening = abs(extents[0] - extents[1]) / 1e3
        if self.movers > 1 and not own and opening > 0:
            times.append(timed.micros(self.empty.move(opening, self.build.share).time))
        return max(times)

    def total(self, i, j):
        if i == j:
            return 0
        hand, moving = self.by_hand(i, j), self.moving(i, j)
        work = hand + moving if self.asked.get("moves_wait") else max(hand, moving)
        counted = self.flows[i][0] if self.asked.get("counts_from") == "last_intake" else 0
        return counted + work + self.flows[j][1]


def least_order(matrix, n, cyclic):
    first = range(1) if cyclic else range(n)
    best = None
    for start in first:
        for rest in itertools.permutations([k for k in range(n) if k != start]):
            way = (start,) + rest
            cost = sum(matrix[a][b] for a, b in zip(way, way[1:])) + (matrix[way[-1]][start] if cyclic and n > 1 else 0)
            best = cost if best is None else min(best, cost)
    return best


def compare(doc, cell, plan, said):
    j = judge.Judge(cell, plan)
    build, _ = j.circuit(cell.circuits[0], plan["circuits"][0])
    own, n, faults = Changes(doc, cell, build), len(doc["skus"]), []

    def same(what, claimed, micros):
        if abs(claimed - micros / 1e6) > TICKS:
            faults.append(f"{what}: the program says {claimed} s, here {micros / 1e6} s")

    for sku, (run_out, refill) in zip(said["skus"], own.flows):
        same(f"{sku['id']} running empty", sku["run_out_s"], run_out)
        same(f"{sku['id']} refilling", sku["refill_s"], refill)
    matrix = [[own.total(a, b) for b in range(n)] for a in range(n)]
    for a, b in itertools.product(range(n), repeat=2):
        same(f"change {a} to {b}", said["matrix_s"][a][b], matrix[a][b])
    order = said.get("order")
    lots = [(s.get("week") or {}).get("lots", 1) for s in doc["skus"]]
    if order:
        cyclic = order["shape"] == "cyclic"
        ids = [s["id"] for s in doc["skus"]]
        way = [ids.index(lot["sku"]) for lot in order["lots"]]
        pairs = list(zip(way, way[1:])) + ([(way[-1], way[0])] if cyclic and len(way) > 1 else [])
        same("order", order["total_s"], sum(matrix[a][b] for a, b in pairs))
        if n <= MOST_LOTS and set(lots) == {1}:
            same("least order", order["total_s"], least_order(matrix, n, cyclic))
            same("bound of the order", order["proven_bound_s"], least_order(matrix, n, cyclic))
    return faults, n * n - n, max((len(t) for t in own.known), default=0)


def main(argv):
    root = against_examples.ROOT
    engine = os.path.join(root, "target", "release", "loopwright")
    if "--engine" in argv:
        at = argv.index("--engine")
        engine, argv = argv[at + 1], argv[:at] + argv[at + 2:]
    looked, failed = 0, 0
    for cell_path, plan_path in against_examples.cells(os.path.join(root, "examples")):
        name = os.path.basename(cell_path)
        if argv[1:] and not any(part in name for part in argv[1:]):
            continue
        plan = model.read_document(plan_path)
        if plan.get("status") != "planned":
            continue
        doc = model.read_document(cell_path)
        answer = subprocess.run([engine, "changeover", cell_path, "--plan", plan_path, "--json"],
                                capture_output=True, check=True)
        said = json.loads(answer.stdout)["changeover"]
        faults, pairs, steps = compare(doc, model.read_cell(doc), plan, said)
        looked, failed = looked + 1, failed + bool(faults)
        print(f"{name}: {pairs} changes, {steps} steps at most{'' if faults else ', all hold'}", flush=True)
        for line in faults[:10]:
            print(f"  FAILED {line}")
    print(f"{looked} plans, {failed} whose changes differ")
    return 1 if failed or looked == 0 else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv))
