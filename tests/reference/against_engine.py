"""The engine against this reading, on random small cells: python3 against_engine.py SEED COUNT [--seconds S]

For every cell: the judge on the engine's plan; the brute force, whose answer is an upper bound; and the engine's judge on
the brute force's plan. What the engine has not proven is counted, not blamed, but a bound above a plan that holds always
is. Exit 1 on any disagreement; each such cell is kept in a folder with the plans of both, and its file is printed.
"""
import argparse
import collections
import json
import multiprocessing
import os
import random
import subprocess
import sys
import tempfile
import time

import brute
import judge
import model
import random_cells

SAME = 1e-6                # relative, areas and prices
FOR_LESS = 0.3             # share of the cells with prices that are planned once more with a limit on the price
HERE = os.path.dirname(os.path.abspath(__file__))
ENGINE = os.path.join(HERE, "..", "..", "target", "release", "loopwright")


def ask(engine, *args, seconds):
    """Exit code and the JSON document that was printed (None where there is none)."""
    done = subprocess.run([engine, *args, "--json"], capture_output=True, text=True, timeout=seconds)
    try:
        return done.returncode, json.loads(done.stdout), done.stderr
    except ValueError:
        return done.returncode, None, done.stderr


def more(a, b):
    return a > b + SAME * max(1.0, abs(b))


def judged(cell, plan):
    j = judge.Judge(cell, plan)
    try:
        return j.judge()
    except (KeyError, TypeError, IndexError) as error:
        return j.faults + [f"{j.where}plan document: {type(error).__name__} {error}"]


def bound_of(plan):
    """No plan has less floor than this, as the engine says."""
    return plan["proven_bound_m2"] if plan["status"] in ("planned", "stopped") else float("inf")


def compare(plan, best):
    """Faults of the engine's answer beside a plan that holds, and what stays open."""
    status = plan["status"]
    if status == "impossible":
        return [f"engine: impossible; here a plan of {best['area_m2']} m2"], []
    if more(bound_of(plan), best["area_m2"]):
        return [f"engine: no plan below {bound_of(plan)} m2; here one of {best['area_m2']} m2"], []
    if status == "stopped":
        return [], ["unproven"]
    proof, area = plan["proof"], plan["footprint"]["area_m2"]
    if more(area, best["area_m2"]):
        if proof["footprint"]["proven"]:
            return [f"engine: least floor {area} m2; here {best['area_m2']} m2"], []
        return [], ["unproven", "unproven and above"]
    if not proof["footprint"]["proven"]:
        return [], ["unproven"]
    if more(best["area_m2"], area):
        return [], ["below the grid"]
    carriers = plan["circuits"][0]["carriers"]
    if proof["carriers"]["bound"] > best["carriers"]:
        return [f"engine: no fewer than {proof['carriers']['bound']} carriers; here {best['carriers']}"], []
    if not proof["carriers"]["proven"]:
        return [], ["carriers unproven"]
    if carriers > best["carriers"]:
        return [f"engine: fewest carriers {carriers}; here {best['carriers']}"], []
    if carriers < best["carriers"]:
        return [], ["below the grid"]
    if more(proof["price"]["bound"], best["price"]):
        return [f"engine: no price below {proof['price']['bound']}; here {best['price']}"], []
    if not proof["price"]["proven"]:
        return [], ["price unproven"]
    if more(plan["price"], best["price"]):
        return [f"engine: least price {plan['price']}; here {best['price']}"], []
    return [], ["equal" if not more(best["price"], plan["price"]) else "below the grid"]


def planned(args, path):
    """The engine's exit code, plan and findings, and the seconds it took."""
    began = time.monotonic()
    try:
        answer = ask(args.engine, "plan", path, "--time-limit", str(args.time_limit),
                     seconds=20 * args.time_limit + 60)
    except subprocess.TimeoutExpired:
        answer = None, None, "does not stop at its time limit"
    return *answer, time.monotonic() - began


def one(task):
    args, number = task
    name = f"cell-{args.seed}-{number:04d}"
    doc = random_cells.make_cell(random.Random(f"{args.seed}/{number}"), name)
    cell, faults, marks = model.read_cell(doc), [], []
    path = os.path.join(args.work, name + ".json")
    with open(path, "w", encoding="utf-8") as file:
        json.dump(doc, file, indent=1)
    code, plan, said, took = planned(args, path)
    money = random.Random(f"{args.seed}/{number}/money")
    if plan and plan["status"] == "planned" and plan["price"] > 0 and money.random() < FOR_LESS:
        # the same cell again, for less money than its plan takes
        doc["requirements"]["max_price"] = round(plan["price"] * money.uniform(.85, .999), 2)
        cell, marks = model.read_cell(doc), ["for less money"]
        with open(path, "w", encoding="utf-8") as file:
            json.dump(doc, file, indent=1)
        code, plan, said, took = planned(args, path)
    status = (plan or {}).get("status")
    expected = {"planned": (0,), "stopped": (0,), "impossible": (1,)}
    if code not in expected.get(status, ()):
        faults.append(f"engine: exit {code}, status {status}: {' '.join(said.split())}")
        return finish(args, name, doc, plan, None, faults, ["no answer"], took)
    marks.append(status)
    if status == "planned":
        faults += judged(cell, plan)
    best = brute.solve(cell, args.grid_mm / 1e3, args.seconds)
    if best["found"]:
        marks.append("compared")
        found, open_ = compare(plan, best)
        faults += found
        marks += open_
        faults += disbelieved(args, path, name, best["plan"])
    else:
        marks.append("nothing on the grid" if best["finished"] else "unfinished")
        if status == "impossible" and best["finished"]:
            marks.append("both impossible")
        if status == "stopped" or status == "planned" and not plan["proof"]["footprint"]["proven"]:
            marks.append("unproven")
    return finish(args, name, doc, plan, best, faults, marks, took)


def disbelieved(args, path, name, plan):
    """What the engine's judge says against a plan of the brute force."""
    where = os.path.join(args.work, name + ".brute.json")
    with open(where, "w", encoding="utf-8") as file:
        json.dump(plan, file)
    code, said, err = ask(args.engine, "judge", path, where, seconds=120)
    os.remove(where)
    if code == 0:
        return []
    return [f"engine's judge, exit {code}: {json.dumps(said) if said else ' '.join(err.split())}"[:600]]


def finish(args, name, doc, plan, best, faults, marks, took):
    path = os.path.join(args.work, name + ".json")
    if faults:
        os.makedirs(args.keep, exist_ok=True)
        for end, what in (("", doc), (".engine", plan), (".brute", best)):
            with open(os.path.join(args.keep, f"{name}{end}.json"), "w", encoding="utf-8") as file:
                json.dump(what, file, indent=1)
    os.remove(path)
    return name, faults, marks, took


def arguments(argv):
    args = argparse.ArgumentParser()
    args.add_argument("seed", type=int)
    args.add_argument("count", type=int)
    args.add_argument("--first", type=int, default=0, help="number of the first cell")
    args.add_argument("--seconds", type=float, default=5, help="for the brute force, a cell")
    args.add_argument("--time-limit", type=float, default=10, help="for the engine, a cell")
    args.add_argument("--grid-mm", type=float, default=50)
    args.add_argument("--engine", default=ENGINE, help="the program")
    args.add_argument("--keep", default="disagreements", help="folder for the cells that failed")
    args.add_argument("--jobs", type=int, default=os.cpu_count())
    args.add_argument("--list", action="store_true", help="print every cell, not only those that failed")
    return args.parse_args(argv[1:])


def main(argv):
    args = arguments(argv)
    counts, failed, slowest = collections.Counter(), 0, (0.0, "")
    with tempfile.TemporaryDirectory() as args.work, multiprocessing.Pool(args.jobs) as pool:
        tasks = ((args, args.first + i) for i in range(args.count))
        for name, faults, marks, took in pool.imap_unordered(one, tasks):
            counts.update(marks)
            slowest = max(slowest, (took, name))
            failed += bool(faults)
            if args.list:
                print(f"{name} {took:.2f} s: {', '.join(marks)}")
            for line in faults:
                print(f"FAILED {os.path.join(args.keep, name + '.json')}: {line}", flush=True)
    for mark, count in counts.most_common():
        print(f"{count:6d} {mark}")
    print(f"slowest answer of the engine: {slowest[0]:.2f} s ({slowest[1]})")
    print(f"{args.count} cells, {failed} with a disagreement")
    if counts["compared"] * 4 < args.count:
        print("fewer than a quarter could be compared: that is not a check")
        return 1
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv))
