"""Ways to lay a circuit out, and ways to share out its track, for the brute force."""
import itertools
from dataclasses import dataclass

import model


@dataclass
class Arrangement:
    form: object
    n: int
    straights: list        # for each straight in use: station indices in travel order, the front (or top) one first
    names: list            # its name: front | back | top
    stands: list           # (side, depth) of each station, in the circuit's order
    curves: list           # arc in the section before each station
    area: float
    signature: tuple       # equal for arrangements that differ only in what nothing here looks at

    @property
    def sides(self):
        return [s for s, _ in self.stands]


def arrangements(cell, circuit):
    m = len(circuit.order)
    stations = [cell.stations[s] for s in circuit.order]
    framed = any(s.frame is not None for s in stations)
    for form, n, first in itertools.product(circuit.forms, range(1, circuit.max_modules + 1), range(m)):
        if circuit.fixed.get("form", form.id) != form.id or circuit.fixed.get("modules_per_straight", n) != n:
            continue
        turn = [(first + i) % m for i in range(m)]
        if form.plane == "upright":
            back = circuit.order[turn[0] - 1]
            if model.upright_faults(circuit, cell.segment(back, circuit.order[turn[0]])):
                continue
            ways = [([turn], ["top"], sides) for sides in itertools.product(("front", "back"), repeat=m)]
        else:
            ways = []
            for cut in range(m + 1):
                used = [(part, name) for part, name in ((turn[:cut], "front"), (turn[cut:], "back")) if part]
                sides = [""] * m
                for part, name in used:
                    for i in part:
                        sides[i] = name
                ways.append(([p for p, _ in used], [x for _, x in used], sides))
        for straights, names, sides in ways:
            if any(st.side not in ("either", side) for st, side in zip(stations, sides)):
                continue
            where = {}
            for part, name in zip(straights, names):
                for place, i in enumerate(part):
                    where[circuit.order[i]] = sides[i], -place if name == "back" else place
            if not model.can_open(cell, where):
                continue
            stands = [(side, model.deep(cell, st, side)) for st, side in zip(stations, sides)]
            w, h = model.footprint(cell, circuit, form, n, stands)
            if not model.fits_floor(cell, w, h):
                continue
            curves = [0.0] * m
            for part in straights:
                curves[part[0]] = form.arc * (3 - len(straights))
            seen = tuple(sides) if framed else ()
            yield Arrangement(form, n, straights, names, stands, curves, w * h,
                              (form.id, n, tuple(map(tuple, straights)), seen))


def least_length(cell, circuit, i, up, down):
    seg = cell.segment(circuit.order[i - 1], circuit.order[i])
    low = seg.min_length
    for k, kin in enumerate(circuit.kin):
        need = model.slots_needed(up.sku[k].batch, down.sku[k].batch, kin.phi, seg.ride_through)
        low = max(low, need * kin.pitch)
    return low


def share_out(cell, circuit, arr, opts, grid, fit):
    """All section lengths: every section on the grid or at a slot step of some SKU, except one that takes what is
    left, each in turn."""
    m, module = len(opts), arr.n * circuit.module
    zones = [sum(opts[i].zone for i in part) for part in arr.straights]
    spare = [module - z for z in zones]
    if min(spare) < -1e-9:
        return
    total = model.loop_length(circuit, arr.form, arr.n) - sum(zones)
    heads = {part[0] for part in arr.straights}
    low = [least_length(cell, circuit, i, opts[i - 1], opts[i]) for i in range(m)]
    empty = module if len(arr.straights) == 1 else 0.0           # the straight without stations
    for i in heads:
        low[i] = max(low[i], arr.curves[i] + empty)
    if sum(low) > total + 1e-9:
        return
    inner = [[i for i in part if i not in heads] for part in arr.straights]
    room = [0.0] * m
    for part, left in zip(inner, spare):
        if sum(low[i] for i in part) > left + 1e-9:
            return
        for i in part:
            room[i] = left - sum(low[j] for j in part)
    over = total - sum(low)
    choices = []
    for i in range(m):
        high = low[i] + (over if i in heads else min(over, room[i]))
        choices.append([x for x in lengths_between(circuit, low[i], high, grid)
                        if fit(i, opts[i - 1], opts[i], x, arr.curves[i], arr.form)])
    given = set()
    for rest in range(m):
        others = [i for i in range(m) if i != rest]
        for pick in combos([choices[i] for i in others], total - low[rest]):
            lengths = [0.0] * m
            for i, x in zip(others, pick):
                lengths[i] = x
            lengths[rest] = total - sum(pick)
            key = tuple(round(x, 7) for x in lengths)
            if key in given or lengths[rest] < low[rest] - 1e-9:
                continue
            given.add(key)
            if any(sum(lengths[i] for i in part) > left + 1e-9 for part, left in zip(inner, spare)):
                continue
            if not fit(rest, opts[rest - 1], opts[rest], lengths[rest], arr.curves[rest], arr.form):
                continue
            if frames_clear(cell, circuit, arr, opts, lengths):
                yield tuple(lengths)


def lengths_between(circuit, low, high, grid):
    found = {round(low + grid * g, 9) for g in range(int((high - low + 1e-9) / grid) + 1)} | {round(high, 9)}
    for p in {kin.pitch for kin in circuit.kin}:
        c = int(low / p)
        while c * p <= high + 1e-9:
            if c * p >= low - 1e-9:
                found.add(round(c * p, 9))
            c += 1
    return sorted(found)


def combos(choices, most):
    """Products of the choices whose sum stays within `most`; each list ascends."""
    if not choices:
        yield ()
        return
    for x in choices[0]:
        if x > most + 1e-9:
            break
        for tail in combos(choices[1:], most - x):
            yield (x, *tail)


def frames_clear(cell, circuit, arr, opts, lengths):
    for part in arr.straights:
        at, placed = 0.0, []
        for i in part:
            if i != part[0]:
                at += lengths[i]
            st = cell.stations[circuit.order[i]]
            frame = (at + opts[i].zone / 2, opts[i].zone if st.frame is None else st.frame)
            for side, other in placed:
                if side == arr.sides[i] and model.frame_overlap(frame, other) > 1e-9:
                    return False
            placed.append((arr.sides[i], frame))
            at += opts[i].zone
    return True


def starts(build, arr):
    """Where each zone starts along the loop: the slack before the far end goes to the front straight first."""
    module, start = build.n * build.circuit.module, {}
    used = []
    for part in arr.straights:
        used.append(sum(build.options[i].zone for i in part) + sum(build.lengths[i] for i in part[1:]))
    if len(arr.straights) == 1:
        # one section holds both ends and the empty straight; the zones start with their straight
        first = 0.0 if arr.names[0] != "back" else module + build.form.arc
        begins = [first]
    else:
        front, back = arr.straights
        turn = build.lengths[back[0]] - build.form.arc           # slack on both sides of the first end
        before_end = min(module - used[0], turn)
        begins = [module - used[0] - before_end, module + build.form.arc + turn - before_end]
    for part, at in zip(arr.straights, begins):
        for i in part:
            if i != part[0]:
                at += build.lengths[i]
            start[i] = at
            at += build.options[i].zone
    return [start[i] for i in range(len(build.options))]
