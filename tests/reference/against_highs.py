"""The engine's mixed-integer programs against HiGHS: python3 against_highs.py [SEED] [--cells N]

Random cells of 6 to 10 stations; for each, the programs that the engine's search would solve first, by the engine's example
`programs` (through cargo), solved by its own solver and by HiGHS. The optima must be equal, or both say that there is none.
Exit 1 on a difference, or when fewer than fifty optima were compared.
"""
import argparse
import collections
import json
import os
import random
import re
import subprocess
import sys
import tempfile
import time

import highspy

import larger_cells

SAME = 1e-6                # relative, objectives
LEAST_COMPARED = 50
ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")


def highs(seconds):
    h = highspy.Highs()
    for name, value in (("output_flag", False), ("threads", 1), ("presolve", "off"), ("mip_rel_gap", 0.0),
                        ("mip_abs_gap", 1e-9), ("time_limit", seconds)):
        if h.setOptionValue(name, value) != highspy.HighsStatus.kOk:
            raise RuntimeError(f"HiGHS refuses {name} = {value}")
    return h


def solve(path, columns, seconds):
    """(status, objective) by HiGHS; raises where the file was not read as it was meant."""
    h = highs(seconds)
    if h.readModel(path) != highspy.HighsStatus.kOk:
        raise RuntimeError(f"{path}: not read")
    with open(path, encoding="utf-8") as text:
        rows = sum(1 for line in text if re.match(r" r\d", line))
    if (h.getNumCol(), h.getNumRow()) != (columns, rows):
        raise RuntimeError(f"{path}: {columns} columns and {rows} rows, read as {h.getNumCol()} and {h.getNumRow()}")
    h.run()
    status = h.getModelStatus()
    if status == highspy.HighsModelStatus.kOptimal:
        return "optimal", h.getInfo().objective_function_value
    if status in (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kUnboundedOrInfeasible):
        return "infeasible", None          # every variable has bounds: never unbounded
    return "unknown", None


def differ(ours, theirs):
    """What is different, or None; `unknown` on either side is no comparison."""
    if "unknown" in (ours[0], theirs[0]):
        return None
    if ours[0] != theirs[0]:
        return f"engine says {ours[0]} {ours[1]}, HiGHS {theirs[0]} {theirs[1]}"
    if ours[0] == "optimal" and not abs(ours[1] - theirs[1]) <= SAME * max(1.0, abs(theirs[1])):
        return f"engine's optimum {ours[1]}, that of HiGHS {theirs[1]}"
    return None


def programs(folder, cells, most, seconds):
    done = subprocess.run(
        ["cargo", "run", "--release", "--quiet", "-p", "loopwright-api", "--example", "programs", "--", folder, str(most),
         str(seconds), *cells], cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True)
    return [json.loads(line) for line in done.stdout.splitlines()]


def sizes(seed, count):
    rng = random.Random(seed)
    for i in range(count):
        yield {"seed": seed * 1000 + i, "stations": rng.randint(6, 10), "skus": rng.randint(1, 10),
               "heads": rng.randint(2, 6), "form": rng.choice(["flat", "upright", "both"]),
               "modes": rng.choice([("intermittent", "continuous"), ("intermittent", "continuous"), ("intermittent",)])}


def tightened(rng, doc):
    """Every third cell with longest times on its sections, so that some programs have no solution."""
    if rng.random() < 1 / 3:
        for seg in doc["segments"]:
            seg["max_s"] = max(seg.get("min_s", 0), rng.choice([1.2, 2, 3, 4, 6]))
    return doc


def main(argv):
    args = argparse.ArgumentParser()
    args.add_argument("seed", type=int, nargs="?", default=1)
    args.add_argument("--cells", type=int, default=60)
    args.add_argument("--most", type=int, default=4, help="programs of each cell")
    args.add_argument("--seconds", type=float, default=20, help="for one program")
    args = args.parse_args(argv[1:])
    counts, failed, spent, slowest = collections.Counter(), 0, [0.0, 0.0], 0.0
    with tempfile.TemporaryDirectory() as folder:
        rng = random.Random(args.seed)
        cells = [larger_cells.write(folder, f"cell-{i:03d}", tightened(rng, larger_cells.make_cell(**size)))
                 for i, size in enumerate(sizes(args.seed, args.cells))]
        for line in programs(folder, cells, args.most, args.seconds):
            ours, began = (line["status"], line["objective"]), time.monotonic()
            theirs = solve(line["file"], line["columns"], args.seconds)
            spent[0] += line["seconds"]
            spent[1] += time.monotonic() - began
            slowest = max(slowest, line["seconds"])
            counts[f"{ours[0]}, HiGHS {theirs[0]}"] += 1
            if "unknown" in (ours[0], theirs[0]):
                print(f"not compared: {os.path.basename(line['file'])}, engine {ours} after {line['seconds']:.2f} s, HiGHS {theirs}")
            if said := differ(ours, theirs):
                failed += 1
                print(f"DIFFER {os.path.basename(line['file'])} (seed {args.seed}): {said}")
            # the check must be able to fail: one carrier more is a wrong optimum
            if ours[0] == theirs[0] == "optimal" and differ((ours[0], ours[1] + 1), theirs) is None:
                print("no check: a wrong optimum passes")
                return 1
    for what, count in counts.most_common():
        print(f"{count:6d} engine {what}")
    print(f"engine {spent[0]:.1f} s (slowest {slowest:.1f} s), HiGHS {spent[1]:.1f} s")
    compared = counts["optimal, HiGHS optimal"]
    print(f"{compared} optima compared, {counts['infeasible, HiGHS infeasible']} both without one, {failed} different")
    if compared < LEAST_COMPARED:
        print(f"fewer than {LEAST_COMPARED} optima: that is not a check")
        return 1
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv))
