"""Cells of several circuits, read a second time (section 9b of the model notes): hand-offs, how loops lie, how they move.

Judge a plan of such a cell: python3 coupled.py CELL PLAN. Exit 0 when all holds.
"""
import heapq
import math
import sys
from fractions import Fraction

import judge
import model
import timed


# ---------------------------------------------------------------- the cell

class Coupled:
    """The circuits of a document, each with a view of the cell that holds only its own limits."""

    def __init__(self, doc):
        self.cell = model.read_cell(doc)
        self.circuits = self.cell.circuits
        self.above = [self.index(c["above"]) if c.get("above") else None for c in doc["circuits"]]
        self.views = [self.view(doc, c) for c in self.circuits]
        self.per_case = []
        for c in doc["circuits"]:
            items = [s.get("stacks_per_case", 1) if c["carries"] == "stack" else 1 for s in doc["skus"]]
            per = [Fraction(n, c.get("items_per_carrier", 1)) for n in items]
            self.per_case.append(per)
        self.joints = []
        for a, one in enumerate(self.circuits):
            for b in range(a + 1, len(self.circuits)):
                for name in one.order:
                    if name in self.circuits[b].order:
                        self.joints.append((name, a, b))
                        if any(q.denominator > 1 for c in (a, b) for q in self.per_case[c]):
                            raise ValueError(f"{name}: a case takes no whole number of carriers")

    def index(self, name):
        return next(i for i, c in enumerate(self.circuits) if c.id == name)

    def view(self, doc, circuit):
        pairs = {(circuit.order[i - 1], circuit.order[i]) for i in range(len(circuit.order))}

        def own(thing):
            return thing.get("circuit") in (None, circuit.id)

        segments = [s for s in doc.get("segments") or [] if own(s) and (s["from"], s["to"]) in pairs]
        windows = [w for w in doc.get("windows") or [] if own(w) and w["from"] in circuit.order and w["to"] in circuit.order]
        alone = {**doc, "circuits": [c for c in doc["circuits"] if c["id"] == circuit.id], "segments": segments,
                 "windows": windows, "feed": None}
        seen = model.read_cell(alone)
        seen.openings = [(name, side) for name, side in self.cell.openings if name in circuit.order]
        return seen

    def joint(self, name):
        return next((j for j in self.joints if j[0] == name), None)

    def rows(self):
        return [c for c in range(len(self.circuits)) if self.above[c] is None]

    def over(self, a, b):
        return self.above[a] == b or self.above[b] == a


def hand_off(coupled, name, here, mode, heads, share):
    """A hand-off as an option of one of its circuits: its numbers count cases, and both sides share move-in and cycle."""
    _, a, b = coupled.joint(name)
    st = coupled.cell.stations[name]
    block = st.blocks[mode]
    sides = {c: _side(st, block, mode, heads, coupled.circuits[c].kin, [int(q) for q in coupled.per_case[c]], share)
             for c in (a, b)}
    zone, own = sides[here]
    out = []
    for k, kin in enumerate(coupled.circuits[here].kin):
        def value(key, default=0.0):
            return st.per_sku.get(kin.sku, {}).get(key, block.get(key, default))
        carriers, residence, tail, places = own[k][:4]
        cases = carriers // int(coupled.per_case[here][k])
        move_in = max(sides[c][1][k][4] for c in (a, b))
        if mode == "intermittent":
            cycle = move_in + value("settle_s") + value("base_s") + value("per_extra_s") * (cases - 1)
            residence = cycle
        else:
            back = value("return_s", None) if "process_s" in block else None
            cycle = move_in if back is None else max(move_in, value("process_s") + back)
        out.append(model.SkuOption(carriers, move_in, cycle, residence, tail, places, carriers / cycle))
    kind = "stop" if mode == "intermittent" else "flow" if block.get("may_wait", True) else "reserve"
    price = block.get("price", 0) + block.get("price_per_head", 0) * heads if here == a else 0.0
    return model.Option(name, mode, heads, kind, zone, price, tuple(out))


def _side(st, block, mode, heads, kins, per_case, share):
    """Zone on one circuit, and by SKU: carriers, residence, tail, places, move-in of that side by itself."""
    def value(kin, key, default=0.0):
        return st.per_sku.get(kin.sku, {}).get(key, block.get(key, default))

    batch = [min(heads, value(kin, "max_batch", 1)) * q for kin, q in zip(kins, per_case)]
    if mode == "intermittent":
        zone = st.margin + max(heads * q * kin.pitch for kin, q in zip(kins, per_case))
        return zone, [(n, None, (zone - n * kin.pitch) / 2, n, kin.move((zone + n * kin.pitch) / 2, share).time)
                      for kin, n in zip(kins, batch)]
    if "process_s" in block:
        core = max(n * kin.pitch + 1.02 * kin.phi * kin.pitch * value(kin, "process_s") for kin, n in zip(kins, batch))
    else:
        core = max(n * kin.pitch + value(kin, "process_length_mm") / 1e3 for kin, n in zip(kins, batch))
    zone, out = st.margin + core, []
    for kin, n in zip(kins, batch):
        speed = min(block.get("max_speed_m_s", math.inf), kin.v)
        if "process_s" in block and value(kin, "process_s") > 0:
            speed = min(speed, (core - n * kin.pitch) / value(kin, "process_s"))
        out.append((n, zone / speed, 0.0, n * model.round_up(zone / (n * kin.pitch)), n * kin.pitch / speed))
    return zone, out


# ---------------------------------------------------------------- how all of it moves

class Net:
    """Several rings event by event. `joints`: pairs of (ring, station) that take together."""

    def __init__(self, rings, carriers, joints, paces=None):
        self.rings, self.now, self.heap, self.tick = rings, 0, [], 0
        self.paces = paces or [0] * len(rings)
        self.other = {a: b for x, y in joints for a, b in ((x, y), (y, x))}
        self.fill = [timed.first_fill(r.slots, n) for r, n in zip(rings, carriers)]
        if None in self.fill:
            raise ValueError("the carriers do not fit the slots")
        self.ready = [list(f) for f in self.fill]
        self.free = [[s - f for s, f in zip(r.slots, fill)] for r, fill in zip(rings, self.fill)]
        self.open = [[True] * len(r.batch) for r in rings]
        self.inside = [[0] * len(r.batch) for r in rings]
        self.worked = [[0] * len(r.batch) for r in rings]
        self.paced = [True] * len(rings)
        self.takes = [[[] for _ in r.batch] for r in rings]
        self.leaves = [[[] for _ in r.batch] for r in rings]
        for c, r in enumerate(rings):
            for i in range(len(r.batch)):
                self.fire(c, i)

    def after(self, delay, what, c, i):
        heapq.heappush(self.heap, (self.now + delay, what, c, i))

    def may_take(self, c, i):
        r, b = self.rings[c], self.rings[c].batch[i]
        if not self.open[c][i] or self.ready[c][i] < b or (i == 0 and not self.paced[c]):
            return False
        if r.kinds[i] == "flow" and self.inside[c][i] + b > r.places[i]:
            return False
        return r.kinds[i] != "reserve" or self.free[c][(i + 1) % len(r.batch)] >= b

    def take(self, c, i):
        r, b = self.rings[c], self.rings[c].batch[i]
        if r.kinds[i] == "reserve":
            self.free[c][(i + 1) % len(r.batch)] -= b
        self.ready[c][i] -= b
        self.inside[c][i] += b
        self.open[c][i] = False
        self.takes[c][i].append(self.now)
        self.after(r.move_in[i], timed.FREED, c, i)
        self.after(r.residence[i], timed.WORKED, c, i)
        if r.kinds[i] != "stop":
            self.after(r.cycle[i], timed.OPEN, c, i)
        if i == 0 and self.paces[c]:
            self.paced[c] = False
            self.after(self.paces[c], timed.PACED, c, 0)

    def fire(self, c, i):
        r, b = self.rings[c], self.rings[c].batch[i]
        nxt = (i + 1) % len(r.batch)
        while self.worked[c][i] and (r.kinds[i] == "reserve" or self.free[c][nxt] >= b):
            if r.kinds[i] != "reserve":
                self.free[c][nxt] -= b
            if r.kinds[i] == "stop":
                self.open[c][i] = True
            self.worked[c][i] -= 1
            self.inside[c][i] -= b
            self.leaves[c][i].append(self.now)
            self.after(r.lag[nxt], timed.ARRIVE, c, nxt)
        sides = [(c, i)] + ([self.other[c, i]] if (c, i) in self.other else [])
        if all(self.may_take(*side) for side in sides):
            for side in sides:
                self.take(*side)

    def step(self):
        if not self.heap:
            return False
        self.now = self.heap[0][0]
        while self.heap and self.heap[0][0] == self.now:
            touched = set()
            while self.heap and self.heap[0][0] == self.now:
                _, what, c, i = heapq.heappop(self.heap)
                m = len(self.rings[c].batch)
                if what == timed.ARRIVE:
                    self.ready[c][i] += self.rings[c].batch[i - 1]
                elif what == timed.FREED:
                    self.free[c][i] += self.rings[c].batch[i]
                    i = (i - 1) % m
                elif what == timed.WORKED:
                    self.worked[c][i] += 1
                elif what == timed.OPEN:
                    self.open[c][i] = True
                else:
                    self.paced[c] = True
                touched.add((c, i))
            for at in sorted(touched):
                self.fire(*at)
        return True

    def state(self):
        return repr((self.ready, self.free, self.open, self.inside, self.worked, self.paced,
                     sorted((t - self.now, *rest) for t, *rest in self.heap)))


class Played:
    """A net until its state recurs: the rate in cases a second, and passages in one period."""

    def __init__(self, net, cases, most=20_000):
        self.net, seen, count = net, {}, 0
        self.recurred, self.rate = True, Fraction(0)
        log, b = net.takes[0][0], Fraction(net.rings[0].batch[0], cases[0])
        while True:
            if len(log) > count:
                count = len(log)
                state = hash(net.state())
                if state in seen or count >= most:
                    since, before = seen.get(state, (log[count // 2 - 1], count // 2))
                    self.recurred = state in seen
                    self.since, self.until = since, net.now
                    self.rate = (count - before) * b * 1_000_000 / (net.now - since)
                    break
                seen[state] = (net.now, count)
            if not net.step():
                self.since = self.until = net.now
                return
        # Two laps more see every passage to its end that begins in the period.
        laps = max(2 * sum(f) // r.batch[0] + 2 for f, r in zip(net.fill, net.rings))
        goal = [len(t[0]) + laps for t in net.takes]
        while any(len(t[0]) < g for t, g in zip(net.takes, goal)) and net.step():
            pass

    def passages(self, c, start, end, since):
        net, ring = self.net, self.net.rings[c]
        if not self.rate:
            return [math.inf]
        log = net.takes[c][start] if since == "taken_in" else net.leaves[c][start]
        span = self.since, self.until, self.recurred
        return timed.passages(ring.batch, net.fill[c], log, net.takes[c][end], start, end, span)


# ---------------------------------------------------------------- the judge

class OneOf(judge.Judge):
    """The rules of one circuit that hold whatever the others do."""

    def __init__(self, coupled, index, plan):
        super().__init__(coupled.views[index], plan)
        self.coupled, self.index, self.claims = coupled, index, {}

    def option(self, circuit, name, s, share):
        if self.coupled.joint(name) is None:
            return super().option(circuit, name, s, share)
        st = self.coupled.cell.stations[name]
        self.kept(st.fixed, s, f"{name}: ")
        block = st.blocks.get(s["mode"])
        if block is None or not 1 <= s["heads"] <= block.get("max_batch", 1):
            self.fault(f"{name}: {s['mode']} with {s['heads']} heads is no choice of the cell's")
            return None
        opt = hand_off(self.coupled, name, self.index, s["mode"], s["heads"], share)
        self.claimed(circuit, name, s, opt)
        return opt

    def runs(self, build, k, kin, claim, claims):
        self.claims[k] = (kin, claim, claims)


class Several(judge.Judge):
    def __init__(self, coupled, plan):
        super().__init__(coupled.cell, plan)
        self.coupled = coupled

    def judge(self):
        by_id = {c["id"]: c for c in self.plan["circuits"]}
        self.equal("circuits", sorted(by_id), sorted(c.id for c in self.coupled.circuits))
        judges, builds, price = [], [], 0.0
        for i, circuit in enumerate(self.coupled.circuits):
            one = OneOf(self.coupled, i, self.plan)
            one.where = f"{circuit.id}: "
            done = one.circuit(circuit, by_id[circuit.id])
            self.faults += one.faults
            if done is None:
                return self.faults
            judges.append(one)
            builds.append(done[0])
            price += done[0].price()
        if len({b.share for b in builds}) > 1:
            self.fault("acceleration_share differs from circuit to circuit")
        self.same("price", self.plan.get("price"), price)
        self.at_most("price against max_price", price, self.cell.max_price)
        docs = [by_id[c.id] for c in self.coupled.circuits]
        self.lie(builds, docs)
        for k in range(len(self.cell.skus)):
            self.move(judges, builds, k)
        return self.faults

    # ------------------------------------------------------------ movement

    def move(self, judges, builds, k):
        coupled = self.coupled
        if not all(k in j.claims for j in judges):
            return
        rings = [timed.ring_of(b, k) for b in builds]
        joints = [((a, builds[a].circuit.order.index(name)), (b, builds[b].circuit.order.index(name)))
                  for name, a, b in coupled.joints]
        cases = [int(per[k]) if per[k].denominator == 1 else per[k] for per in coupled.per_case]
        carriers = [b.carriers for b in builds]
        free = Played(Net(rings, carriers, joints), cases)
        phi = builds[0].circuit.kin[k].phi / cases[0]
        for c, one in enumerate(judges):
            kin, claim, _ = one.claims[k]
            one.same("rate_per_min", claim.get("rate_per_min"), float(free.rate) * cases[c] * 60, judge.RATE)
            self.faults += [f for f in one.faults if f not in self.faults]
        if float(free.rate) < phi * (1 - judge.RATE):
            self.fault(f"{self.cell.skus[k]}: {float(free.rate) * 60} cases a minute, below the design rate {phi * 60}")
            return
        steps = math.lcm(*cases)
        step = timed.micros(1 / phi / steps)
        paces = [rings[c].batch[0] * (steps // cases[c]) * step for c in range(len(rings))]
        paced = Played(Net(rings, carriers, joints, paces), cases)
        for c, one in enumerate(judges):
            for i, (what, claimed, seg) in enumerate(one.claims[k][2]):
                m = len(rings[c].batch)
                longest = max(paced.passages(c, (i - 1) % m, i, "left")) / 1e6
                if paced.recurred:
                    one.same(f"{what} longest_s", claimed.get("longest_s"), longest, tol=judge.TICKS)
                one.at_most(f"{what} longest_s against max_s", longest, seg.max_s, tol=1e-6)
            order = builds[c].circuit.order
            for w in one.cell.windows:
                times = paced.passages(c, order.index(w.start), order.index(w.end), w.since)
                one.at_most(f"window {w.start} to {w.end} max_s", max(times) / 1e6, w.max_s, tol=1e-6)
                if min(times) / 1e6 < w.min_s * (1 - judge.LENGTH) - 1e-6:
                    one.fault(f"window {w.start} to {w.end}: {min(times) / 1e6} below min_s {w.min_s}")
            self.faults += [f for f in one.faults if f not in self.faults]

    # ------------------------------------------------------------ places on the floor

    def lie(self, builds, docs):
        coupled, rows = self.coupled, self.coupled.rows()
        edge, corner, reach = [], [], []
        for b in builds:
            out = b.form.radius + b.circuit.width / 2
            r = math.hypot(out, b.circuit.longest / 2)
            flat = b.form.plane == "flat"
            edge.append(b.form.cross / 2 + out if flat else b.circuit.width / 2)
            corner.append(max(0.0, r - out) if flat else 0.0)
            reach.append(r)
        deepest = [{s: max([self.deep(c, d, s) for d in docs[c]["stations"] if d["stands"] == s], default=0.0)
                    for s in ("front", "back")} for c in range(len(docs))]

        def side(row, s):
            return max(edge[c] + max(deepest[c][s], corner[c]) for c in range(len(docs)) if c == row or coupled.above[c] == row)

        middle = {rows[0]: side(rows[0], "front")}
        for one, two in zip(rows, rows[1:]):
            between = [coupled.cell.stations[n].depth for n, a, b in coupled.joints if (a, b) == (one, two)]
            linked = edge[one] + max(between, default=0.0) + edge[two]
            middle[two] = middle[one] + max(linked, side(one, "back") + side(two, "front"))
        for c, below in enumerate(coupled.above):
            if below is not None:
                middle[c] = middle[below]
        across = middle[rows[-1]] + side(rows[-1], "back")
        place = [d["place"] for d in docs]
        for c, p in enumerate(place):
            self.same(f"{docs[c]['id']} middle_m", p.get("middle_m"), middle[c])
        centre = [self.centres(b, d, p["offset_m"]) for b, d, p in zip(builds, docs, place)]
        self.meet(docs, centre)
        floors = [(n, r) for c in range(len(docs)) for n, r in self.floors(builds, docs, centre, middle, edge, c)]
        low = min([p["offset_m"] - r for p, r in zip(place, reach)] + [r[0] for _, r in floors])
        high = max([p["offset_m"] + b.n * b.circuit.module + r for p, b, r in zip(place, builds, reach)]
                   + [r[1] for _, r in floors])
        self.same("least x of the cell", low, 0.0, tol=1e-9)
        for i, (one, a) in enumerate(floors):
            for two, b in floors[:i]:
                over = min(min(a[1], b[1]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[2], b[2]))
                if over > 1e-6:
                    self.fault(f"floors of {two} and {one} overlap by {over}")
        c = self.cell.clearance
        w, h = high - low + c["left"] + c["right"], across + c["front"] + c["back"]
        if self.cell.feed:
            s, along, wide = self.cell.feed
            w, h = ((w + along, max(h, wide + c["front"] + c["back"])) if s in ("left", "right")
                    else (max(w, along + c["left"] + c["right"]), h + wide))
        self.footprint(w, h)
        said = self.plan.get("hand")
        hands = (said,) if said else ("left_to_right", "right_to_left")
        views = [({d["id"]: (d["stands"], x) for d, x in zip(doc["stations"], xs)}, view)
                 for doc, xs, view in zip(docs, centre, coupled.views)]
        if all(any(model.closed(view, where, hand) for where, view in views) for hand in hands):
            self.fault("no hand leaves infeed and discharge open as asked")

    def deep(self, c, doc, s):
        """Depth of a station beside its loop: a hand-off between rows has none, one over another loop that of the lower."""
        coupled, name = self.coupled, doc["id"]
        st, joint = coupled.cell.stations[name], coupled.joint(doc["id"])
        if joint is not None and not (coupled.over(joint[1], joint[2]) and c == joint[1]):
            return 0.0
        rows = coupled.rows()
        row = c if coupled.above[c] is None else coupled.above[c]
        outermost = row == (rows[0] if s == "front" else rows[-1])
        return st.depth + max(0.0, st.access - (self.cell.clearance[s] if outermost else 0.0))

    @staticmethod
    def centres(build, doc, offset):
        straight, out = build.n * build.circuit.module, []
        for s, o in zip(sorted(doc["stations"], key=lambda s: build.circuit.order.index(s["id"])), build.options):
            at = s["start_m"] + o.zone / 2
            out.append(offset + (2 * straight + build.form.arc - at if s["straight"] == "back" else at))
        doc["stations"].sort(key=lambda s: build.circuit.order.index(s["id"]))
        return out

    def meet(self, docs, centre):
        for name, a, b in self.coupled.joints:
            (i, one), (j, two) = [next((i, s) for i, s in enumerate(docs[c]["stations"]) if s["id"] == name) for c in (a, b)]
            self.same(f"{name}: centres of its zones", centre[a][i], centre[b][j], tol=1e-6)
            self.equal(f"{name}: work", (one["mode"], one["heads"]), (two["mode"], two["heads"]))
            if self.coupled.over(a, b):
                self.equal(f"{name}: stands", one["stands"], two["stands"])
                asked = self.cell.stations[name].side
                self.equal(f"{name}: stands", one["stands"], "front" if asked == "either" else asked)
            else:
                self.equal(f"{name}: stands", (one["stands"], two["stands"]), ("back", "front"))

    def floors(self, builds, docs, centre, middle, edge, c):
        coupled = self.coupled
        for doc, x, o in zip(docs[c]["stations"], centre[c], builds[c].options):
            st, joint = coupled.cell.stations[doc["id"]], coupled.joint(doc["id"])
            long = o.zone if st.frame is None else st.frame
            if joint is not None and c != joint[1]:
                continue
            if joint is not None and not coupled.over(joint[1], joint[2]):
                other = joint[2]
                if st.frame is None:
                    at = builds[other].circuit.order.index(doc["id"])
                    long = max(long, builds[other].options[at].zone)
                low, high = middle[c] + edge[c], middle[other] - edge[other]
            elif doc["stands"] == "front":
                low, high = middle[c] - edge[c] - st.depth, middle[c] - edge[c]
            else:
                low, high = middle[c] + edge[c], middle[c] + edge[c] + st.depth
            if high > low:
                yield doc["id"], (x - long / 2, x + long / 2, low, high)


def main(argv):
    if len(argv) != 3:
        print(__doc__.strip(), file=sys.stderr)
        return 2
    plan = model.read_document(argv[2])
    faults = Several(Coupled(model.read_document(argv[1])), plan).judge()
    for line in faults:
        print(line)
    if not faults:
        print("all holds")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv))
