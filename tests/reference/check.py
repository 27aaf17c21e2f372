"""Hand-checked cases of this reading: python3 check.py"""
import copy
import math
import random
from fractions import Fraction

import brute
import judge
import model
import random_cells
import ratio
import timed


def close(a, b, tol=1e-6):
    assert abs(a - b) <= tol * max(1.0, abs(b)), (a, b)


def moves():
    for d, v, a, j, t in ((10, 5, 10, 30, 2.833333), (1, 2, 10, 100, .8), (.5, 2, 10, 100, .558258),
                          (.05, 2, 10, 100, .251984), (.02, 2, 10, 100, .185664), (.3, .2, 10, 100, 1.589443),
                          (2, 4, 40, 2000, .62), (10, 5, 10, None, 2.5), (.05, 2, 10, None, .141421),
                          (.3, .2, 10, None, 1.52)):
        m = model.move(d, v, a, j)
        close(m.time, t)
        # the profile's own parts must give the distance back: two ramps of mean speed half the peak, and the cruise
        peak = m.peak_accel * (m.accel_time - m.jerk_time)
        close(peak * (m.time - m.accel_time), d)
        assert peak <= v * (1 + 1e-9) and m.peak_accel <= a * (1 + 1e-9)


def stop_ring(cycle, lag, slots, batch=None, move_in=1):
    m = len(cycle)
    batch = batch or (1,) * m
    return timed.Ring(("stop",) * m, tuple(batch), (move_in,) * m, tuple(cycle), tuple(cycle), tuple(batch),
                      tuple(slots), tuple(lag))


def rings():
    per_s = 1_000_000
    # carriers are short: N over the way round; many: the slowest station
    ring = stop_ring((100, 300, 200), (50, 70, 80), (9, 9, 9))
    for n in range(1, 12):
        close(timed.rate(ring, n), min(Fraction(n * per_s, 800), Fraction(per_s, 300)))
    # Penny Fab One: four stations of 2 h, w carriers, no way between them (lag 0 needs slots only)
    fab = stop_ring((2,) * 4, (0,) * 4, (20,) * 4, move_in=0)
    assert [timed.rate(fab, w) / per_s for w in range(1, 6)] == [Fraction(min(w, 4), 8) for w in range(1, 6)]
    # one carrier: both works and both ways, move-ins lie within the works
    tight = stop_ring((30, 30), (20, 20), (2, 1), move_in=10)
    one = timed.rate(tight, 1)
    assert one == Fraction(per_s, 100), one
    # batch 2 after batch 3: in 6 carriers the first fires 3 times, the second twice
    mixed = stop_ring((100, 100), (10, 10), (6, 4), (2, 3))
    assert 0 < timed.rate(mixed, 6) <= Fraction(2 * per_s, 100)
    # 4 slots are the least for 2 and 3 (2 + 3 - gcd): with 3 the pair sticks fast
    assert timed.rate(stop_ring((100, 100), (10, 10), (6, 3), (2, 3)), 6) == 0
    # a carrier in a section holds its slot for lag + move-in: slots / (lag + move-in) bounds the rate
    assert timed.rate(stop_ring((1, 1), (100, 10), (8, 8), move_in=1), 4) == Fraction(4 * per_s, 112)
    slow = timed.Ring(("stop", "stop"), (1, 1), (1, 1), (1, 1), (1, 1), (1, 1), (9, 2), (10, 99))
    assert timed.rate(slow, 9) == Fraction(2 * per_s, 100)
    # continuous, next taken every 40, in for 200, 4 places: 4 in 200; a train that must not wait reserves instead
    flow = timed.Ring(("flow", "stop"), (1, 1), (40, 1), (40, 10), (200, 10), (4, 1), (9, 9), (5, 5))
    assert timed.rate(flow, 9) == Fraction(4 * per_s, 200)
    keep = timed.Ring(("reserve", "stop"), (1, 1), (40, 1), (40, 10), (200, 10), (4, 1), (9, 9), (5, 5))
    assert timed.rate(keep, 9) == Fraction(per_s, 40)
    # reserved slots are held from the taking on: 3 slots / (200 + lag 5 + move-in 1)
    few = timed.Ring(("reserve", "stop"), (1, 1), (40, 1), (40, 10), (200, 10), (4, 1), (9, 3), (5, 5))
    assert timed.rate(few, 9) == Fraction(3 * per_s, 206)


def paced():
    # one round takes 800; paced at one in 1000 with 2 carriers, 2 * 1000 - 800 are spent waiting before order[0]
    ring = stop_ring((100, 300, 200), (50, 70, 80), (9, 9, 9))
    run = timed.Paced(ring, 2, 1e6 / 1000)
    assert [run.longest(i) for i in range(3)] == [50 + 1200, 70, 80]
    assert set(run.passages(1, 0, "left")) == {80 + 200 + 1250}
    assert set(run.passages(1, 2, "taken_in")) == {300 + 80}
    assert set(run.passages(1, 1, "taken_in")) == {2000}
    # pairs taken one by one: the second of each pair waits for the first
    ring = stop_ring((100, 40), (10, 10), (6, 6), (2, 1))
    assert timed.Paced(ring, 4, 2e6 / 200).longest(1) == 10 + 40


def derived():
    circuit = {"id": "c", "carries": "stack", "items_per_carrier": 2,
               "carrier": {"length_mm": 100, "gap_mm": 20, "movers_per_carrier": 2, "mass_kg": 3, "max_speed_m_s": 2,
                           "max_accel_m_s2": 50, "peak_force_n": 40, "friction_force_n": 5}}
    sku = {"id": "k", "net_rate": {"products_per_min": 240}, "products_per_stack": 2, "stacks_per_case": 3,
           "loads": {"c": {"extent_mm": 150, "mass_kg": 2, "base_mm": 100, "cg_height_mm": 50, "friction": 0.5}}}
    k = model.derive(sku, circuit, 1.1 / 0.9)
    close(k.phi, 240 / 60 / 6 * 3 / 2 * 1.1 / 0.9)
    close(k.pitch, 0.22)
    close(k.a, 0.6 * 0.5 * model.G)            # sliding beats force 75/5 and tipping 0.6 g
    close(k.a_lat, 0.6 * 0.5 * model.G)
    close(k.curve_speed(0.3, True), math.sqrt(0.18 * 0.5 * model.G))
    close(k.curve_speed(0.3, False), 2)
    sku["loads"]["c"]["held"] = True
    k = model.derive(sku, circuit, 1)
    close(k.a, 15)
    assert k.a_lat == math.inf
    # a pair round 150 mm with 10 mm of play, paddles 20 mm inwards of the middles: 160 + 100 + 40, and a gap of 20
    circuit["carrier"]["pair"] = {"play_mm": 10, "paddle_offset_mm": -20, "squeeze_n": 14}
    k = model.derive(sku, circuit, 1)
    close(k.pitch, 0.32)
    close(k.a, 2 * 0.5 * 14 / 2)
    close(k.a_lat, 7)
    assert not k.held                             # 7 m/s2 do not carry its weight
    circuit["carrier"]["pair"] = {"play_mm": 10, "paddle_offset_mm": 20, "paddle_thickness_mm": 25, "squeeze_n": 30}
    k = model.derive(sku, circuit, 1)
    close(k.pitch, 0.24)                          # 160 + 100 - 40, movers outermost
    close(k.a, 15)                                # the squeeze would carry 15 too
    assert k.held
    assert model.slots(0.66, 0.22) == 3 and model.slots_needed(2, 3, 0.5, 4) == 6


def duty():
    # 5 kg, 300 mm, 1 m/s, 0.1 s ramps, cycle 0.45 s: 33.333 N without friction (a textbook's axis, recomputed)
    m = model.move(0.3, 1, 10)
    close(math.sqrt(model.move_heat(m, 5, 0) / 0.45), 33.333, 1e-4)


def random_ring(rng):
    m = rng.randint(1, 4)
    b = [rng.randint(1, 3) for _ in range(m)]
    kinds = [rng.choice(["stop", "stop", "flow", "reserve"]) for _ in range(m)]
    move_in = [rng.randint(1, 30) * 10 for _ in range(m)]
    cycle = [x + rng.randint(0, 100) * 10 for x in move_in]
    stay = [cycle[i] if kinds[i] == "stop" else rng.randint(10, 300) * 10 for i in range(m)]
    places = [b[i] if kinds[i] == "stop" else b[i] * rng.randint(1, 4) for i in range(m)]
    slots = [b[i] + b[i - 1] - math.gcd(b[i], b[i - 1]) + rng.randint(-1, 5) for i in range(m)]
    lag = [rng.randint(1, 200) * 10 for _ in range(m)]
    return timed.Ring(*map(tuple, (kinds, b, move_in, cycle, stay, places, [max(1, c) for c in slots], lag)))


def run_against_cycles():
    """The timed run and the cycles of the unfolded graph must say the same, stuck rings included."""
    rng, moving = random.Random(5), 0
    for _ in range(600):
        ring = random_ring(rng)
        n = rng.randint(1, sum(ring.slots))
        steady = timed.run_until_steady(ring, n, 0, 20000)
        rate, tol = float(steady.rate), 1e-9 if steady.recurred else 2e-4
        if rate == 0:
            assert not ratio.keeps_up(ring, n, 1e-3), (ring, n)
            continue
        moving += 1
        assert ratio.keeps_up(ring, n, rate * (1 - tol)), (ring, n, rate)
        assert not ratio.keeps_up(ring, n, rate * (1 + max(tol, 1e-6))), (ring, n, rate)
    assert moving > 200


def teeth():
    """Plans of the brute force hold; a plan with any one of its numbers moved does not."""
    held, bitten = 0, 0
    for i in range(14):
        cell = model.read_cell(random_cells.make_cell(random.Random(f"1/{i}"), "c"))
        out = brute.solve(cell, 0.05, 5)
        if not out["found"]:
            continue
        assert judge.Judge(cell, out["plan"]).judge() == []
        held += 1
        for path in list(numbers(out["plan"])):
            plan = copy.deepcopy(out["plan"])
            at = plan
            for step in path[:-1]:
                at = at[step]
            if path[-1] in ("format", "proven_bound_m2", "turned"):
                continue
            if path[0] == "placing":
                # A little aside may be as free: moved off the floor.
                at[path[-1]] = 1000.0
            else:
                at[path[-1]] += 1 if isinstance(at[path[-1]], int) else 0.01 + at[path[-1]] * 0.01
            if path[-1] == "acceleration_share" and at[path[-1]] < 1:
                continue
            try:
                assert judge.Judge(cell, plan).judge(), path
            except (KeyError, TypeError, IndexError):
                pass
            bitten += 1
    assert held > 5 and bitten > 300, (held, bitten)


def fed():
    """The floor of a product stream by hand, and a footprint that leaves it out does not hold."""
    feed = {"into": "x", "side": "left", "width_mm": 900, "needed_gap_mm": 5,
            "products": {"length_mm": 140, "gap_mm": 20, "per_sku": {"b": {"length_mm": 160}}},
            "belts": [{"id": "m"}, {"id": "g", "gap_mm": 60}, {"id": "t", "length_mm": 500}, {"id": "u"}],
            "stacking": {"length_mm": 300}}
    skus = [{"id": "a"}, {"id": "b"}]
    size = (0.18 + 0.22 + 0.5 + 0.22 + 0.3, 0.9)
    for one, other in zip(model.read_feed(feed, skus)[1:], size):
        close(one, other)
    for one, other in zip(model.read_feed({**feed, "runs": "across"}, skus)[1:], size[::-1]):
        close(one, other)
    bitten = 0
    for i in range(12):
        doc = random_cells.make_cell(random.Random(f"1/{i}"), "c")
        (doc.get("requirements") or {}).pop("floor", None), (doc.get("requirements") or {}).pop("keep_out", None)
        alone = model.read_cell(doc)
        for side, runs in (("left", "along"), ("right", "across"), ("front", "along"), ("back", "across")):
            cell = model.read_cell({**doc, "feed": {**feed, "into": doc["stations"][0]["id"], "side": side, "runs": runs}})
            out = brute.solve(cell, 0.05, 2)
            if not out["found"]:
                break
            assert judge.Judge(cell, out["plan"]).judge() == []
            assert any("footprint" in str(fault) for fault in judge.Judge(alone, out["plan"]).judge()), (i, side)
            bitten += 1
    assert bitten > 8, bitten


def opened():
    """Sides of the cell by hand, and plans that leave none open that was asked do not hold."""
    where = {"a": ("front", 0.5), "b": ("front", 2.0), "c": ("back", 2.2), "d": ("back", 0.4)}
    right, left = "left_to_right", "right_to_left"
    open_to = {("front", right): "ab", ("back", right): "cd", ("left", right): "ad", ("right", right): "bc",
               ("front", left): "ab", ("back", left): "cd", ("left", left): "bc", ("right", left): "ad"}
    for (side, hand), names in open_to.items():
        for name in where:
            cell = model.Cell({}, None, [], [], {}, openings=[(name, side)])
            assert (not model.closed(cell, where, hand)) == (name in names), (name, side, hand)
    bitten = 0
    for i in range(12):
        doc = random_cells.make_cell(random.Random(f"1/{i}"), "c")
        for key in ("infeed", "discharge", "hand"):
            doc["requirements"].pop(key, None)
        first = doc["circuits"][0]["order"][0]
        for side in ("front", "back", "left", "right"):
            asked = {**doc["requirements"], "infeed": {"station": first, "side": side}, "hand": right}
            cell = model.read_cell({**doc, "requirements": asked})
            out = brute.solve(cell, 0.05, 2)
            if not out["found"]:
                continue
            assert judge.Judge(cell, out["plan"]).judge() == []
            turned = model.read_cell({**doc, "requirements": {**asked, "hand": left}})
            if side in ("front", "back"):
                assert judge.Judge(turned, out["plan"]).judge() == []
                continue
            alone = [s["stands"] for s in out["plan"]["circuits"][0]["stations"]]
            if alone.count(alone[0]) > 1:
                assert judge.Judge(turned, out["plan"]).judge(), (i, side)
                bitten += 1
    assert bitten > 3, bitten


def numbers(doc, path=()):
    for key, value in doc.items() if isinstance(doc, dict) else enumerate(doc):
        if isinstance(value, (dict, list)):
            yield from numbers(value, (*path, key))
        elif isinstance(value, (int, float)):
            yield (*path, key)


for test in (moves, rings, paced, derived, duty, run_against_cycles, teeth, fed, opened):
    test()
    print("ok", test.__name__)
