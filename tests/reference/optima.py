"""Makes the data of the test `small_optima`: python3 optima.py SEED COUNT FOLDER [--choose N]

Of so many random cells those whose optimum is certain: the brute force came to its end, and the engine proves the same area,
carriers and price (or both find that there is no plan). Of these, N that differ as much as possible are written.
"""
import argparse
import collections
import json
import math
import multiprocessing
import os
import random
import sys
import tempfile

import against_engine
import brute
import model
import random_cells

MOST_IMPOSSIBLE = 12
HOW = ("Random cell {name} of tests/reference/random_cells.py. Optimum by the brute force of tests/reference/brute.py on a "
       "{grid:g} mm grid, which came to its end; the engine agreed and proved it when this file was made by "
       "tests/reference/optima.py.")


def features(doc, plan):
    """What makes a cell different from others, as words."""
    circuit, found = doc["circuits"][0], set()
    carrier, track = circuit["carrier"], circuit["track"]
    found |= {f"offers {form['plane']}" for form in track["forms"]}
    found |= {f"{len(circuit['order'])} stations", f"{len(doc['skus'])} SKUs", circuit["carries"]}
    for key in ("max_jerk_m_s3", "peak_force_n", "continuous_force_n", "movers_per_carrier"):
        if key in carrier:
            found.add(key)
    for key in ("max_carriers",):
        if key in circuit:
            found.add(key)
    found |= {key for key in ("floor", "clearance_mm", "efficiency") if key in doc["requirements"]}
    for seg in doc.get("segments", []):
        found |= set(seg) - {"from", "to"}
    for window in doc.get("windows", []):
        found |= {f"window {key}" for key in ("min_s", "max_s") if key in window} | {window.get("since", "left")}
    for st in doc["stations"]:
        found |= {key for key in ("frame_length_mm", "side", "per_sku", "margin_mm") if key in st}
        found |= {"both modes"} if "intermittent" in st and "continuous" in st else set()
        found |= {key for key in ("process_length_mm", "return_s", "may_wait") if key in st.get("continuous", {})}
    found |= {"held" for s in doc["skus"] for load in s.get("loads", {}).values() if load.get("held")}
    if plan["status"] != "planned":
        return found | {"impossible"}
    built = plan["circuits"][0]
    form = next(f for f in track["forms"] if f["id"] == built["form"])
    found.add(f"built {form['plane']}")
    if built["acceleration_share"] < 1:
        found.add("slowed for the motors")
    found |= {f"built {s['mode']}" for s in built["stations"]} | {f"{s['heads']} heads" for s in built["stations"]}
    batches = [s["skus"][0]["batch"] for s in built["stations"]]
    for a, b in zip(batches, batches[1:] + batches[:1]):
        if math.gcd(a, b) not in (a, b):
            found.add("batches that do not divide")
        elif a != b:
            found.add("batches that differ")
    if len({s["stands"] for s in built["stations"]}) == 2:
        found.add("front and back")
    return found


def certain(task):
    """(name, document, optimum, features), or None where the optimum is not certain."""
    args, number = task
    name = f"cell-{args.seed}-{number:04d}"
    doc = random_cells.make_cell(random.Random(f"{args.seed}/{number}"), name)
    cell, path = model.read_cell(doc), os.path.join(args.work, name + ".json")
    with open(path, "w", encoding="utf-8") as file:
        json.dump(doc, file)
    _, plan, _ = against_engine.ask(args.engine, "plan", path, "--time-limit", "2", seconds=60)
    effort = plan["effort"]
    if plan["status"] == "stopped" or effort["programs"] > args.programs:
        return None
    best = brute.solve(cell, args.grid_mm / 1e3, args.seconds)
    if plan["status"] == "impossible":
        if best["finished"] and not best["found"]:
            return name, doc, None, features(doc, plan)
        return None
    if not best["found"] or against_engine.compare(plan, best) != ([], ["equal"]) or against_engine.judged(cell, plan):
        return None
    return name, doc, {key: best[key] for key in ("area_m2", "carriers", "price")}, features(doc, plan)


def choose(found, count):
    """One after the other, the cell with most of what is rare so far."""
    chosen, seen, impossible = [], collections.Counter(), 0
    left = sorted(found, key=lambda f: f[0])
    while left and len(chosen) < count:
        if impossible >= MOST_IMPOSSIBLE:
            left = [f for f in left if f[2] is not None]
            if not left:
                break
        best = max(left, key=lambda f: sum(2.0 ** -seen[word] for word in f[3]))
        left.remove(best)
        chosen.append(best)
        seen.update(best[3])
        impossible += best[2] is None
    return chosen, seen


def main(argv):
    args = argparse.ArgumentParser()
    args.add_argument("seed", type=int)
    args.add_argument("count", type=int)
    args.add_argument("folder")
    args.add_argument("--choose", type=int, default=60)
    args.add_argument("--seconds", type=float, default=10, help="for the brute force, a cell")
    args.add_argument("--grid-mm", type=float, default=25)
    args.add_argument("--programs", type=int, default=60, help="cells for which the engine solves more are left out")
    args.add_argument("--engine", default=against_engine.ENGINE)
    args.add_argument("--jobs", type=int, default=os.cpu_count())
    args = args.parse_args(argv[1:])
    os.makedirs(args.folder, exist_ok=True)
    with tempfile.TemporaryDirectory() as args.work, multiprocessing.Pool(args.jobs) as pool:
        tasks = ((args, i) for i in range(args.count))
        found = [f for f in pool.imap_unordered(certain, tasks) if f]
    chosen, seen = choose(found, args.choose)
    for name, doc, optimum, words in chosen:
        with open(os.path.join(args.folder, name + ".json"), "w", encoding="utf-8") as file:
            json.dump({"how": HOW.format(name=name, grid=args.grid_mm), "features": sorted(words), "optimum": optimum,
                       "cell": doc}, file, indent=1)
            file.write("\n")
    for word, count in seen.most_common():
        print(f"{count:4d} {word}")
    print(f"{len(chosen)} of {len(found)} certain ones, of {args.count} cells")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv))
