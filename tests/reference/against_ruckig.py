"""The engine's move times against the time-optimal trajectories of ruckig: python3 against_ruckig.py [COUNT] [SEED]

Runs the engine's example `moves` (by cargo, from the workspace), and asks ruckig for every move. Exit 1 on a miss.
"""
import os
import subprocess
import sys

import ruckig

TOLERANCE = 1e-6           # seconds, and relative to the time where that is below a second
LEAST = 1e-9               # seconds: digits that neither side promises
ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")


def moves(seed, count):
    done = subprocess.run(
        ["cargo", "run", "--release", "--quiet", "-p", "loopwright-solver", "--example", "moves", "--", str(seed),
         str(count)], cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True)
    return [tuple(map(float, line.split())) for line in done.stdout.splitlines()]


def least_time(s, v, a, j):
    asked = ruckig.InputParameter(1)
    asked.current_position, asked.target_position = [0.0], [s]
    asked.max_velocity, asked.max_acceleration, asked.max_jerk = [v], [a], [j]
    path = ruckig.Trajectory(1)
    said = ruckig.Ruckig(1).calculate(asked, path)
    if said not in (ruckig.Result.Working, ruckig.Result.Finished):
        raise RuntimeError(f"ruckig says {said} of {(s, v, a, j)}")
    return path.duration


def off(ours, theirs):
    """Deviation in units of the tolerance; above 1 is a miss."""
    return abs(ours - theirs) / max(LEAST, TOLERANCE * min(1.0, theirs))


def kind(s, v, a, j):
    """Which limits the move reaches, by the closed forms' own conditions."""
    ramp = v / a if j == float("inf") else v / a + a / j if v * j > a * a else 2 * (v / j) ** .5
    short = 0.0 if j == float("inf") else 2 * a ** 3 / j ** 2
    return "full speed" if s >= v * ramp else "full acceleration" if s >= short else "neither"


def main(argv):
    count, seed = (int(x) for x in (argv[1:] + ["10000", "1"][len(argv) - 1:]))
    given = moves(seed, count)
    if len(given) != count:
        print(f"asked for {count} moves, got {len(given)}")
        return 1
    misses, worst, kinds = 0, (0.0, None), {}
    for *limits, time in given:
        theirs = least_time(*limits)
        kinds[kind(*limits)] = kinds.get(kind(*limits), 0) + 1
        worst = max(worst, (off(time, theirs), (*limits, time, theirs)), key=lambda w: w[0])
        if not off(time, theirs) <= 1:
            misses += 1
            if misses <= 20:
                print(f"MISS s v a j = {limits}: {time} s, ruckig {theirs} s")
    print(f"{count} moves, {misses} off; reached: {kinds}")
    print("worst: s=%g v=%g a=%g j=%g: %.12f s, ruckig %.12f s" % worst[1])
    # the check must be able to fail: the same moves with times that are wrong by a hundred-thousandth
    blind = sum(off(time * (1 + 1e-5), time) <= 1 for *_, time in given)
    if blind > count // 100 or min(kinds.values()) < count // 20 or len(kinds) < 3:
        print(f"no check: a wrong time would pass for {blind} moves; kinds {kinds}")
        return 1
    return 1 if misses else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv))
