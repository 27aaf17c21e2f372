"""Whether a ring keeps up with a given rate: no cycle of its unfolded event graph takes longer than it may.

Only the brute force needs it, to refuse candidates without running them; the run in timed.py stays the judge.
"""
import math

from timed import first_fill


def edges(ring, fill):
    """(source, target, microseconds, tokens): target's nth firing waits for source's, `tokens` rounds before."""
    b, m = ring.batch, len(ring.batch)
    period = math.lcm(*b)
    per = [period // x for x in b]
    base = [2 * sum(per[:i]) for i in range(m)]
    out = []

    def node(i, leave, j):
        return base[i] + leave * per[i] + j % per[i], -(j // per[i])

    def wait(target, source, time):
        (t, _), (s, tokens) = target, source
        out.append((s, t, time, tokens))

    for i in range(m):
        nxt, kind = (i + 1) % m, ring.kinds[i]
        for j in range(per[i]):
            take, leave = node(i, 0, j), node(i, 1, j)
            last = (j + 1) * b[i] - 1 - fill[i]                      # the last carrier this batch waits for
            wait(take, node((i - 1) % m, 1, last // b[i - 1]), ring.lag[i])
            wait(leave, take, ring.residence[i])
            wait(leave, node(i, 1, j - 1), 0)
            if kind == "stop":
                wait(take, node(i, 1, j - 1), 0)
            else:
                wait(take, node(i, 0, j - 1), ring.cycle[i])
            if kind == "flow":
                wait(take, node(i, 1, j - ring.places[i] // b[i]), 0)
            freed = -(-((j + 1) * b[i] + fill[nxt] - ring.slots[nxt]) // b[nxt])
            wait(take if kind == "reserve" else leave, node(nxt, 0, freed - 1), ring.move_in[nxt])
    return out, 2 * sum(per), period


def keeps_up(ring, carriers, rate):
    """`rate` in carriers a second."""
    fill = first_fill(ring.slots, carriers)
    if fill is None:
        return False
    arcs, nodes, period = edges(ring, fill)
    lap = period / rate * 1e6
    arcs = [(s, t, time - lap * tokens) for s, t, time, tokens in arcs]
    far, back = [0.0] * nodes, [-1] * nodes
    for turn in range(nodes + 1):
        moved = False
        for s, t, w in arcs:
            if far[s] + w > far[t] + 1e-6:
                far[t], back[t], moved = far[s] + w, s, True
        if not moved:
            return True
        if turn % 4 == 3 and circular(back):
            return False
    return False


def circular(back):
    """A cycle among the predecessors is a cycle of positive weight."""
    seen = [0] * len(back)
    for start in range(len(back)):
        at, path = start, start + 1
        while at >= 0 and not seen[at]:
            seen[at] = path
            at = back[at]
        if at >= 0 and seen[at] == path:
            return True
    return False
