"""The engine against the second reading on random small cells of two and three circuits: python3 against_coupled.py SEED COUNT

For every cell: this reading's judge on the engine's plan; and plans with one number moved, which the engine's judge must
refuse wherever this reading does. Exit 1 on any disagreement; each such cell is kept in a folder, and its file is printed.
"""
import argparse
import collections
import copy
import json
import os
import random
import subprocess
import sys
import tempfile

import coupled

HERE = os.path.dirname(os.path.abspath(__file__))
ENGINE = os.path.join(HERE, "..", "..", "target", "release", "loopwright")
MOVED = 4                  # plans with one number moved, of each cell


def some(rng, share):
    return rng.random() < share


def make_station(rng, name, beat, skus, ways=("both", "stop", "move", "length")):
    """Work that one unit of takes about so many seconds at most."""
    st = {"id": name, "depth_mm": rng.choice([0, 200, 500, 900]), "margin_mm": rng.choice([0, 30, 80])}
    way = rng.choice(ways)
    heads = rng.choice([1, 1, 2, 3])
    if way in ("both", "stop"):
        st["intermittent"] = {"base_s": round(beat * rng.uniform(.2, .6), 2), "max_batch": heads,
                              "price": rng.randint(1, 40) * 1000, "price_per_head": rng.randint(0, 9) * 1000}
        if some(rng, .5):
            st["intermittent"]["per_extra_s"] = round(beat * .1, 2)
        if some(rng, .3):
            st["intermittent"]["settle_s"] = .05
    if way in ("both", "move"):
        st["continuous"] = {"process_s": round(beat * rng.uniform(.2, .5), 2), "max_batch": heads, "max_speed_m_s": 0.8,
                            "price": rng.randint(1, 40) * 1500}
        if some(rng, .5):
            st["continuous"]["return_s"] = round(beat * .2, 2)
    if way == "length":
        st["continuous"] = {"process_length_mm": rng.choice([100, 250, 400]), "max_speed_m_s": rng.choice([.4, .7]),
                            "max_batch": rng.choice([1, 2]), "price": rng.randint(1, 40) * 1200}
    if "continuous" in st and some(rng, .2):
        st["continuous"]["may_wait"] = False
    if some(rng, .2):
        st["frame_length_mm"] = rng.choice([200, 600, 900])
    if some(rng, .15):
        st["access_mm"] = rng.choice([300, 800])
    if some(rng, .2):
        st["per_sku"] = {rng.choice(skus): {"max_batch": 1}}
    return st


def make_cell(rng, name):
    count = rng.choice([2, 2, 2, 3])
    stacks = [rng.choice([1, 2, 3]) for _ in range(rng.choice([1, 2, 3]))]
    skus = [f"S{k}" for k in range(len(stacks))]
    slow = rng.uniform(.15, .45)
    req = {"clearance_mm": rng.choice([0, 400])}
    if some(rng, .4):
        req |= {"efficiency": .95, "headroom": 1.05}
    phi = slow * req.get("headroom", 1) / req.get("efficiency", 1)
    doc = {"format": 1, "name": name, "requirements": req, "skus": [], "circuits": [], "stations": [], "segments": []}
    carries = ["stack"] + ["case"] * (count - 1) if some(rng, .7) else ["case"] * count
    for k, n in enumerate(stacks):
        loads = {}
        for c in range(count):
            loads[f"c{c}"] = {"extent_mm": rng.choice([60, 90, 150, 220]), "mass_kg": round(rng.uniform(.2, 2), 2), "held": True}
            if carries[c] == "case" and some(rng, .3):
                loads[f"c{c}"] |= {"held": False, "base_mm": 140, "cg_height_mm": 80, "friction": .4}
        doc["skus"].append({"id": skus[k], "net_rate": {"cases_per_min": round(60 * slow * rng.uniform(.6, 1), 1)},
                            "stacks_per_case": n, "loads": loads})
    orders = [[f"{'abc'[c]}{i}" for i in range(rng.choice([1, 2, 2, 3]))] for c in range(count)]
    shared = [f"h{c}" for c in range(count - 1)]
    for c in range(count - 1):
        for at in (c, c + 1):
            orders[at].insert(rng.randrange(len(orders[at]) + 1), shared[c])
    most = max(stacks) if carries[0] == "stack" else 1
    for c, order in enumerate(orders):
        beat = 1 / phi / (most if c == 0 and carries[0] == "stack" else 1)
        doc["stations"] += [make_station(rng, s, beat, skus) for s in order if s not in shared]
    doc["stations"] += [make_station(rng, s, 1 / phi, skus, ("both", "stop", "move")) for s in shared]
    for c, order in enumerate(orders):
        forms = [{"id": "flat", "plane": "flat", "radius_mm": rng.choice([150, 250]), "cross_mm": rng.choice([0, 0, 200])}]
        if some(rng, .3):
            forms.append({"id": "up", "plane": "upright", "radius_mm": 150})
            doc["segments"].append({"from": order[-1], "to": order[0], "loaded": False, "circuit": f"c{c}"})
        circuit = {"id": f"c{c}", "carries": carries[c], "order": order,
                   "carrier": {"length_mm": rng.choice([80, 120, 160]), "gap_mm": 10, "mass_kg": 1.2, "max_speed_m_s": 1.6,
                               "max_accel_m_s2": rng.choice([4, 9]), "friction_force_n": 4, "peak_force_n": 90, "price": 700},
                   "track": {"module_mm": rng.choice([200, 300, 400]), "max_modules": 14, "width_mm": rng.choice([80, 200]),
                             "module_price": 1100, "curve_price": 2000, "forms": forms}}
        if some(rng, .4):
            circuit["carrier"]["max_jerk_m_s3"] = 150
        if some(rng, .3):
            circuit["carrier"]["continuous_force_n"] = 20
        doc["circuits"].append(circuit)
    if count == 2 and some(rng, .25):
        doc["circuits"][1]["above"] = "c0"
    named = {(s["from"], s["to"]) for s in doc["segments"]}
    for c, order in enumerate(orders):
        for i in range(len(order)):
            pair = order[i - 1], order[i]
            if pair in named or len(order) < 2 or not some(rng, .25):
                continue
            seg = {"from": pair[0], "to": pair[1], "circuit": f"c{c}"}
            seg |= rng.choice([{"ride_through_s": round(1.5 / phi, 1)}, {"min_length_mm": 300}, {"min_s": 1.5},
                               {"max_s": round(4 / phi, 1)}])
            doc["segments"].append(seg)
    if some(rng, .2):
        c = rng.randrange(count)
        if len(orders[c]) > 1:
            a, b = rng.sample(orders[c], 2)
            doc["windows"] = [{"from": a, "to": b, "since": rng.choice(["left", "taken_in"]), "circuit": f"c{c}",
                               "max_s": round(rng.uniform(4, 9) / phi, 1)}]
    if some(rng, .2):
        req["floor"] = {"length_mm": 6000, "width_mm": 5000}
    own = [s for c, order in enumerate(orders) for s in order if s not in shared]
    if some(rng, .3) and own:
        req["infeed"] = {"station": rng.choice(own), "side": rng.choice(["left", "right"])}
    if some(rng, .2):
        req["hand"] = rng.choice(["left_to_right", "right_to_left"])
    return doc


def ask(engine, *args):
    done = subprocess.run([engine, *args, "--json"], capture_output=True, text=True, timeout=120)
    try:
        return done.returncode, json.loads(done.stdout), done.stderr
    except ValueError:
        return done.returncode, None, done.stderr


def faults_of(cell, plan):
    judge = coupled.Several(cell, plan)
    try:
        return judge.judge()
    except (KeyError, TypeError, IndexError, ValueError, StopIteration) as error:
        return judge.faults + [f"plan document: {type(error).__name__} {error}"]


# What decides a plan: the places of these numbers are moved, by a length or by one.
DECIDES = ("offset_m", "start_m", "carriers", "heads", "modules_per_straight", "length_m", "width_m", "price", "cycle_s",
           "rate_per_min", "middle_m", "slots", "longest_s", "batch")


def places(doc, path=()):
    for key, value in doc.items() if isinstance(doc, dict) else enumerate(doc):
        if isinstance(value, (dict, list)):
            yield from places(value, (*path, key))
        elif key in DECIDES and isinstance(value, (int, float)) and not isinstance(value, bool):
            yield (*path, key)


def moved(rng, plan):
    out = copy.deepcopy(plan)
    at = out
    path = rng.choice([p for p in places(plan) if p[0] in ("circuits", "footprint", "price") and "module_loads" not in p
                       and "pair" not in p])
    for step in path[:-1]:
        at = at[step]
    at[path[-1]] += 1 if isinstance(at[path[-1]], int) else .013 + abs(at[path[-1]]) * .01
    return path, out


def check(seed, index, folder, engine, limit):
    """How it went, and what disagrees."""
    doc = make_cell(random.Random(f"{seed}/{index}"), f"coupled-{seed}-{index:04d}")
    cell_file = os.path.join(folder, "cell.json")
    with open(cell_file, "w", encoding="utf-8") as out:
        json.dump(doc, out)
    code, plan, said = ask(engine, "plan", cell_file, "--time-limit", str(limit))
    if code == 2:
        return "refused", [f"engine refuses the cell: {said}"], doc
    if plan is None or code not in (0, 1):
        return "broken", [f"engine: exit {code}: {said}"], doc
    if plan["status"] != "planned":
        return plan["status"], [], doc
    cell = coupled.Coupled(doc)
    faults = faults_of(cell, copy.deepcopy(plan))
    rng = random.Random(f"moved/{seed}/{index}")
    bitten = 0
    for _ in range(MOVED):
        path, other = moved(rng, plan)
        if not faults_of(cell, copy.deepcopy(other)):
            continue
        bitten += 1
        plan_file = os.path.join(folder, "plan.json")
        with open(plan_file, "w", encoding="utf-8") as out:
            json.dump(other, out)
        if ask(engine, "judge", cell_file, plan_file)[0] == 0:
            faults.append(f"the engine's judge lets pass what this reading refuses: {'/'.join(map(str, path))} moved")
    proven = "proven" if plan["proof"]["footprint"]["proven"] else "planned, not proven"
    return proven, faults, (doc, bitten)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("seed", type=int)
    parser.add_argument("count", type=int)
    parser.add_argument("--engine", default=ENGINE)
    parser.add_argument("--time-limit", type=float, default=3)
    parser.add_argument("--keep", default="disagreements")
    args = parser.parse_args()
    told, bad, bitten = collections.Counter(), 0, 0
    with tempfile.TemporaryDirectory() as folder:
        for index in range(args.count):
            how, faults, kept = check(args.seed, index, folder, args.engine, args.time_limit)
            told[how] += 1
            doc = kept
            if isinstance(kept, tuple):
                doc, teeth = kept
                bitten += teeth
            if faults:
                bad += 1
                os.makedirs(args.keep, exist_ok=True)
                path = os.path.join(args.keep, doc["name"] + ".json")
                with open(path, "w", encoding="utf-8") as out:
                    json.dump(doc, out, indent=1)
                print(path)
                for line in faults[:8]:
                    print(f"  {line}")
    for how, n in told.most_common():
        print(f"{n:6} {how}")
    print(f"{args.count} cells, {bitten} moved numbers refused by both, {bad} with a disagreement")
    return 1 if bad or not told["proven"] else 0


if __name__ == "__main__":
    sys.exit(main())
