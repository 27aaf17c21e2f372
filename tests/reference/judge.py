"""Judge a plan document against its cell: python3 judge.py CELL PLAN

One line for each thing that does not hold, with both numbers. Exit 0 when all holds, 1 otherwise.
"""
import sys

import model
import timed
from ratio import keeps_up

LENGTH = 1e-6      # relative, lengths, times, money
RATE = 1e-4        # relative, rates and forces
TICKS = 5e-6       # seconds: a chain of times rounded to whole microseconds may differ by a few of them


class Judge:
    def __init__(self, cell, plan):
        self.cell, self.plan, self.faults, self.notes = cell, plan, [], []
        self.where = ""

    def fault(self, text):
        self.faults.append(f"{self.where}{text}")

    def same(self, what, claimed, own, rel=LENGTH, tol=1e-9):
        if claimed is None:
            self.fault(f"{what}: missing (here {own})")
        elif not abs(claimed - own) <= max(tol, rel * abs(own)):
            self.fault(f"{what}: plan says {claimed}, here {own}")

    def equal(self, what, claimed, own):
        if claimed != own:
            self.fault(f"{what}: plan says {claimed!r}, here {own!r}")

    def at_most(self, what, value, limit, rel=LENGTH, tol=1e-9):
        if not value <= limit + max(tol, rel * abs(limit)):
            self.fault(f"{what}: {value} exceeds {limit}")

    # ------------------------------------------------------------ the whole plan

    def judge(self):
        by_id = {c["id"]: c for c in self.plan["circuits"]}
        self.equal("circuits", sorted(by_id), sorted(c.id for c in self.cell.circuits))
        price, size, counted = 0.0, None, set()
        for circuit in self.cell.circuits:
            if circuit.id not in by_id:
                continue
            self.where = f"{circuit.id}: "
            judged = self.circuit(circuit, by_id[circuit.id])
            if judged is None:
                return self.faults
            build, stands = judged
            # a station that serves two circuits is bought once
            price += build.price() - sum(o.price for o in build.options if o.station in counted)
            counted.update(o.station for o in build.options)
            size = model.footprint(self.cell, circuit, build.form, build.n, stands)
        self.where = ""
        self.same("price", self.plan.get("price"), price)
        self.at_most("price against max_price", price, self.cell.max_price)
        if len(self.cell.circuits) == 1:
            self.footprint(*size)
        else:
            self.notes.append("several circuits: the model does not say how their footprints add up; not judged")
        return self.faults

    def footprint(self, w, h):
        fp = self.plan["footprint"]
        self.same("footprint length_m", fp.get("length_m"), w)
        self.same("footprint width_m", fp.get("width_m"), h)
        self.same("footprint area_m2", fp.get("area_m2"), w * h)
        if not model.fits_floor(self.cell, w, h):
            self.fault(f"floor: {w} x {h} does not fit {self.cell.floor}")
        at = self.plan.get("placing")
        if at and self.cell.floor and not model.free_at(self.cell, at["x_m"], at["y_m"], *((h, w) if at["turned"] else (w, h))):
            self.fault(f"placing: {w} x {h} is not free at {at}")
        if self.cell.keep_out and not at:
            self.fault("placing: missing, though places must be missed")
        bound, gap = self.plan.get("proven_bound_m2"), self.plan.get("gap")
        if bound is None or gap is None:
            self.fault("proven_bound_m2 or gap: missing")
            return
        self.at_most("proven_bound_m2 against area_m2", bound, w * h)
        shares = [(w * h - bound) / base for base in (w * h, bound) if base > 0] or [0.0]
        if all(abs(gap - s) > 1e-6 for s in shares):
            self.fault(f"gap: plan says {gap}, here {shares[0]} of the area")

    # ------------------------------------------------------------ one circuit

    def circuit(self, circuit, doc):
        """None when too little of it can be read to go on."""
        form, n = circuit.form(doc["form"]), doc["modules_per_straight"]
        share, carriers = doc.get("acceleration_share", 1.0), doc["carriers"]
        if form is None:
            self.fault(f"form {doc['form']!r} is not one of the cell's")
            return None
        self.at_most("modules_per_straight", n, circuit.max_modules)
        if not (isinstance(n, int) and n >= 1 and isinstance(carriers, int) and carriers >= 1):
            self.fault(f"modules_per_straight {n}, carriers {carriers}: not whole numbers above 0")
            return None
        if circuit.max_carriers is not None:
            self.at_most("carriers against max_carriers", carriers, circuit.max_carriers)
        self.kept(circuit.fixed, {"form": doc["form"], "modules_per_straight": n, "carriers": carriers}, "")
        if not 0 < share <= 1:
            self.fault(f"acceleration_share {share}: not within (0, 1]")
            return None
        loop = model.loop_length(circuit, form, n)
        self.same("loop_length_m", doc.get("loop_length_m"), loop)
        stations = {s["id"]: s for s in doc["stations"]}
        self.equal("stations", sorted(stations), sorted(circuit.order))
        if sorted(stations) != sorted(circuit.order):
            return None
        placed = [stations[name] for name in circuit.order]
        options = []
        for name, s in zip(circuit.order, placed):
            opt = self.option(circuit, name, s, share)
            if opt is None:
                return None
            options.append(opt)
        stands = self.places(circuit, form, n, placed, options)
        lengths, curves = self.sections(circuit, form, n, loop, doc, placed, options)
        build = model.Build(self.cell, circuit, form, n, share, options, lengths, curves, carriers)
        if form.plane == "upright":
            i = max(range(len(curves)), key=lambda s: curves[s])
            for text in model.upright_faults(circuit, build.segment(i)):
                self.fault(text)
        docs = {(s["from"], s["to"]): s for s in doc["sections"]}
        skus = {s["id"]: s for s in doc["skus"]}
        for k, kin in enumerate(circuit.kin):
            self.sku(build, k, kin, docs, skus.get(kin.sku, {}))
        return build, stands

    def kept(self, fixed, planned, of):
        for key, value in fixed.items():
            if planned[key] != value:
                self.fault(f"{of}{key}: {planned[key]}, fixed to {value}")

    def option(self, circuit, name, s, share):
        st = self.cell.stations[name]
        self.kept(st.fixed, s, f"{name}: ")
        block = st.blocks.get(s["mode"])
        if block is None:
            self.fault(f"{name}: has no mode {s['mode']}")
            return None
        if not 1 <= s["heads"] <= block.get("max_batch", 1):
            self.fault(f"{name}: {s['heads']} heads, max_batch is {block.get('max_batch', 1)}")
            return None
        opt = model.make_option(circuit, st, s["mode"], s["heads"], share)
        self.claimed(circuit, name, s, opt)
        return opt

    def claimed(self, circuit, name, s, opt):
        """What the plan says of an option."""
        self.same(f"{name} zone_m", s.get("zone_m"), opt.zone)
        claims = {c["id"]: c for c in s["skus"]}
        for k, o in zip(circuit.kin, opt.sku):
            c = claims.get(k.sku, {})
            self.equal(f"{name} {k.sku} batch", c.get("batch"), o.batch)
            self.same(f"{name} {k.sku} cycle_s", c.get("cycle_s"), o.cycle)
            self.same(f"{name} {k.sku} capacity_per_min", c.get("capacity_per_min"), o.capacity * 60, RATE)
            if not o.capacity >= k.phi * (1 - 1e-9):
                self.fault(f"{name} {k.sku}: capacity {o.capacity * 60} a minute below the design rate {k.phi * 60}")

    def places(self, circuit, form, n, placed, options):
        """Where zones lie, on which straight and side, and their frames."""
        straight_m, stands, groups, where = n * circuit.module, [], {}, {}
        begin = {"front": 0.0, "top": 0.0, "back": straight_m + form.arc}
        allowed = ("top",) if form.plane == "upright" else ("front", "back")
        for s, opt in zip(placed, options):
            st, name, start = self.cell.stations[s["id"]], s["id"], s["start_m"]
            straight, side = s["straight"], s["stands"]
            stands.append((side, model.deep(self.cell, st, side)))
            if straight not in allowed:
                self.fault(f"{name}: straight {straight!r} is not one of {allowed} of a form that lies {form.plane}")
                continue
            if side not in ("front", "back"):
                self.fault(f"{name}: stands {side!r}")
            if form.plane == "flat":
                self.equal(f"{name} stands", side, straight)
            if st.side != "either" and side != st.side:
                self.fault(f"{name}: stands {side}, must stand {st.side}")
            middle = start + opt.zone / 2
            where[name] = side, 2 * straight_m + form.arc - middle if straight == "back" else middle
            low, high = begin[straight], begin[straight] + straight_m
            if start < low - LENGTH or start + opt.zone > high + LENGTH * high:
                self.fault(f"{name}: zone {start} to {start + opt.zone} leaves its straight {low} to {high}")
            frame = opt.zone if st.frame is None else st.frame
            groups.setdefault((straight, side), []).append((name, start + opt.zone / 2, frame))
        said = self.plan.get("hand")
        hands = (said,) if said else ("left_to_right", "right_to_left")
        if len(where) == len(placed) and all(model.closed(self.cell, where, hand) for hand in hands):
            self.fault(f"{model.closed(self.cell, where, hands[0])}")
        for group in groups.values():
            for i, a in enumerate(group):
                for b in group[:i]:
                    over = model.frame_overlap(a[1:], b[1:])
                    if over > LENGTH:
                        self.fault(f"frames of {b[0]} and {a[0]} overlap by {over} (0 allowed)")
        return stands

    def sections(self, circuit, form, n, loop, doc, placed, options):
        straight_m, m = n * circuit.module, len(placed)
        claims = {(s["from"], s["to"]): s for s in doc["sections"]}
        ends = [(straight_m, straight_m + form.arc), (2 * straight_m + form.arc, 2 * straight_m + 2 * form.arc)]
        starts = [s["start_m"] for s in placed]
        if sum(starts[i] < starts[i - 1] for i in range(m)) != (1 if m > 1 else 0):
            self.fault(f"stations do not lie in travel order: starts {starts}")
        lengths, curves = [], []
        for i in range(m):
            a, b = placed[i - 1], placed[i]
            leave = a["start_m"] + options[i - 1].zone
            arrive = b["start_m"]
            if arrive <= a["start_m"]:
                arrive += loop
            own = arrive - leave
            curve = sum(hi - lo for e0, e1 in ends for turn in (0, loop)
                        for lo, hi in ((e0 + turn, e1 + turn),) if lo >= leave - LENGTH and hi <= arrive + LENGTH)
            claim = claims.get((a["id"], b["id"]), {})
            what = f"section {a['id']} to {b['id']}"
            self.same(f"{what} length_m", claim.get("length_m"), own, tol=2e-9)
            self.same(f"{what} curve_m", claim.get("curve_m"), curve)
            if own < -LENGTH:
                self.fault(f"{what}: length {own} below 0, zones overlap")
            seg = self.cell.segment(a["id"], b["id"])
            if own < seg.min_length * (1 - LENGTH) - 1e-9:
                self.fault(f"{what}: length {own} below min_length {seg.min_length}")
            # the stated length decides, as far as it agrees: slots hang on the last decimals
            said = claim.get("length_m")
            lengths.append(said if said is not None and abs(said - own) <= LENGTH * max(1, own) else own)
            curves.append(curve)
        self.same("zones and sections together", sum(lengths) + sum(o.zone for o in options), loop)
        self.equal("number of sections", len(doc["sections"]), m)
        return lengths, curves

    # ------------------------------------------------------------ one SKU on one circuit

    def sku(self, build, k, kin, section_docs, claim):
        circuit, n = build.circuit, build.carriers
        own_slots, lags = build.slots(k), build.lags(k)
        self.where = f"{circuit.id} {kin.sku}: "
        self.same("design_rate_per_min", claim.get("design_rate_per_min"), kin.phi * 60)
        claims = []
        for i, name in enumerate(circuit.order):
            before = circuit.order[i - 1]
            doc = section_docs.get((before, name), {})
            c = next((c for c in doc.get("skus", []) if c["id"] == kin.sku), {})
            claims.append((f"section {before} to {name}", c, build.segment(i)))
            what, seg = claims[-1][0], claims[-1][2]
            self.equal(f"{what} slots", c.get("slots"), own_slots[i])
            self.same(f"{what} lag_s", c.get("lag_s"), lags[i])
            b, d = build.options[i - 1].sku[k].batch, build.options[i].sku[k].batch
            need = model.slots_needed(b, d, kin.phi, seg.ride_through)
            if own_slots[i] < need:
                self.fault(f"{what}: {own_slots[i]} slots, needs {need}")
        rms = model.motor_rms(build, k)
        self.same("motor_rms_n", claim.get("motor_rms_n"), rms, RATE)
        self.at_most("motor_rms_n against the continuous force", rms, model.duty_limit(circuit))
        if n > sum(own_slots):
            self.fault(f"{n} carriers do not fit {sum(own_slots)} slots")
        else:
            self.runs(build, k, kin, claim, claims)
        self.where = f"{circuit.id}: "

    def runs(self, build, k, kin, claim, claims):
        circuit, n, ring = build.circuit, build.carriers, timed.ring_of(build, k)
        steady = timed.run_until_steady(ring, n)
        rate = float(steady.rate)
        self.same("rate_per_min", claim.get("rate_per_min"), rate * 60, RATE)
        # where nothing recurs the slope is too coarse to decide: the cycles do
        least = kin.phi * (1 - RATE)
        if not (rate >= least if steady.recurred else keeps_up(ring, n, least)):
            self.fault(f"rate {rate * 60} a minute below the design rate {kin.phi * 60}")
            return
        paced = timed.Paced(ring, n, kin.phi)
        for i, (what, c, seg) in enumerate(claims):
            longest = paced.longest(i) / 1e6
            self.same(f"{what} longest_s", c.get("longest_s"), longest, tol=TICKS)
            self.at_most(f"{what} longest_s against max_s", longest, seg.max_s, tol=1e-6)
        for w in self.cell.windows:
            if w.start not in circuit.order or w.end not in circuit.order:
                continue
            times = paced.passages(circuit.order.index(w.start), circuit.order.index(w.end), w.since)
            what = f"window {w.start} ({w.since}) to {w.end}"
            self.at_most(f"{what} max_s", max(times) / 1e6, w.max_s, tol=1e-6)
            if min(times) / 1e6 < w.min_s * (1 - LENGTH) - 1e-6:
                self.fault(f"{what}: {min(times) / 1e6} below min_s {w.min_s}")


def main(argv):
    if len(argv) != 3:
        print(__doc__.strip(), file=sys.stderr)
        return 2
    plan = model.read_document(argv[2])
    if plan.get("status") != "planned":
        print(f"status {plan.get('status')}")
        return 0
    judge = Judge(model.read_cell(model.read_document(argv[1])), plan)
    try:
        faults = judge.judge()
    except (KeyError, TypeError, IndexError) as error:
        faults = judge.faults + [f"{judge.where}plan document: {type(error).__name__} {error}"]
    for line in faults:
        print(line)
    for line in judge.notes:
        print(f"note: {line}")
    if not faults:
        print("all holds")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv))
