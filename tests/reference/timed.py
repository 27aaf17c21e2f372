"""The timed run of section 7, event by event in whole microseconds, and the paced run on top of it."""
import hashlib
import heapq
import math
from dataclasses import dataclass
from fractions import Fraction

STARTS = 100_000           # takes of order[0] after which a state that has not recurred is given up on
ARRIVE, FREED, WORKED, OPEN, PACED = range(5)


def micros(seconds):
    return math.floor(seconds * 1e6 + 0.5)


def micros_or_inf(seconds):
    return seconds if seconds == math.inf else micros(seconds)


@dataclass(frozen=True)
class Ring:
    """What one SKU's run needs: numbers per station, and per section before it; times in microseconds."""
    kinds: tuple           # stop | flow | reserve
    batch: tuple
    move_in: tuple
    cycle: tuple
    residence: tuple
    places: tuple
    slots: tuple
    lag: tuple


def ring_of(build, k):
    sku = [o.sku[k] for o in build.options]
    return Ring(tuple(o.kind for o in build.options), tuple(o.batch for o in sku),
                tuple(micros(o.move_in) for o in sku), tuple(micros(o.cycle) for o in sku),
                tuple(micros(o.residence) for o in sku), tuple(o.places for o in sku),
                tuple(build.slots(k)), tuple(micros(t) for t in build.lags(k)))


def first_fill(slots, carriers):
    """All in the section before order[0], then backwards; None when they do not fit."""
    fill, m = [0] * len(slots), len(slots)
    for step in range(m):
        i = -step % m
        fill[i] = min(carriers, slots[i])
        carriers -= fill[i]
    return fill if carriers == 0 else None


class Run:
    def __init__(self, ring, carriers, pace=0):
        m = len(ring.batch)
        self.ring, self.m, self.pace = ring, m, pace
        self.fill = first_fill(ring.slots, carriers)
        if self.fill is None:
            raise ValueError("the carriers do not fit the slots")
        self.ready = list(self.fill)
        self.free = [c - f for c, f in zip(ring.slots, self.fill)]
        self.open = [True] * m         # the station may take (as far as its own time goes)
        self.inside = [0] * m          # carriers in the zone
        self.worked = [0] * m          # batches that only wait to leave
        self.paced = True
        self.now, self.heap = 0, []
        self.takes = [[] for _ in range(m)]
        self.leaves = [[] for _ in range(m)]
        for i in range(m):
            self.fire(i)

    def after(self, delay, what, i):
        heapq.heappush(self.heap, (self.now + delay, what * self.m + i))

    def fire(self, i):
        """Leave, then take, as far as the rules let station i. Nothing else can fire because of it at this instant:
        what it changes for its neighbours comes later, as an event."""
        r, b, nxt = self.ring, self.ring.batch[i], (i + 1) % self.m
        kind = r.kinds[i]
        while self.worked[i] and (kind == "reserve" or self.free[nxt] >= b):
            if kind != "reserve":
                self.free[nxt] -= b
            if kind == "stop":
                self.open[i] = True
            self.worked[i] -= 1
            self.inside[i] -= b
            self.leaves[i].append(self.now)
            self.after(r.lag[nxt], ARRIVE, nxt)
        if not self.open[i] or self.ready[i] < b or (i == 0 and not self.paced):
            return
        if kind == "flow" and self.inside[i] + b > r.places[i]:
            return
        if kind == "reserve":
            if self.free[nxt] < b:
                return
            self.free[nxt] -= b
        self.ready[i] -= b
        self.inside[i] += b
        self.open[i] = False
        self.takes[i].append(self.now)
        self.after(r.move_in[i], FREED, i)
        self.after(r.residence[i], WORKED, i)
        if kind != "stop":
            self.after(r.cycle[i], OPEN, i)
        if i == 0 and self.pace:
            self.paced = False
            self.after(self.pace, PACED, 0)

    def step(self):
        """Everything that happens at the next instant. False when nothing ever happens again."""
        if not self.heap:
            return False
        self.now = self.heap[0][0]
        while self.heap and self.heap[0][0] == self.now:
            touched = set()
            while self.heap and self.heap[0][0] == self.now:
                what, i = divmod(heapq.heappop(self.heap)[1], self.m)
                if what == ARRIVE:
                    self.ready[i] += self.ring.batch[i - 1]
                elif what == FREED:
                    self.free[i] += self.ring.batch[i]
                    i = (i - 1) % self.m       # whoever waits for these slots
                elif what == WORKED:
                    self.worked[i] += 1
                elif what == OPEN:
                    self.open[i] = True
                else:
                    self.paced = True
                touched.add(i)
            for i in touched:
                self.fire(i)
        return True

    def state(self):
        """A digest of everything that decides the future: counts, and what is under way with its time left."""
        full = (tuple(self.ready), tuple(self.free), tuple(self.open), tuple(self.inside), tuple(self.worked),
                self.paced, tuple(sorted((t - self.now, code) for t, code in self.heap)))
        return hashlib.blake2b(repr(full).encode(), digest_size=16).digest()


@dataclass
class Steady:
    """[since, until] is one period (or, where nothing recurred, the second half of the run)."""
    run: Run
    recurred: bool
    since: int
    until: int
    rate: Fraction         # carriers a second


def run_until_steady(ring, carriers, pace=0, starts=STARTS):
    run = Run(ring, carriers, pace)
    seen, count, b = {}, 0, ring.batch[0]
    while True:
        if len(run.takes[0]) > count:
            count = len(run.takes[0])
            state = run.state()
            if state in seen:
                t0, n0 = seen[state]
                rate = Fraction((count - n0) * b * 1_000_000, run.now - t0)
                return Steady(run, True, t0, run.now, rate)
            if count >= starts:
                half = count // 2
                t0 = run.takes[0][half - 1]
                rate = Fraction((count - half) * b * 1_000_000, run.now - t0)
                return Steady(run, False, t0, run.now, rate)
            seen[state] = (run.now, count)
        if not run.step():
            return Steady(run, True, run.now, run.now, Fraction(0))      # stuck


def rate(ring, carriers, starts=STARTS):
    if first_fill(ring.slots, carriers) is None:
        return Fraction(0)
    return run_until_steady(ring, carriers, 0, starts).rate


def passages(batches, fill, log, takes, start, end, span):
    """Times of the carriers that begin in a span at `start`, as `log` says, until they are taken in at `end`."""
    since, until, recurred = span
    ahead, i = 0, start
    while True:
        i = (i + 1) % len(batches)
        ahead += fill[i]                   # carriers keep their order: these pass first
        if i == end:
            break
    out, b, d = [], batches[start], batches[end]
    for batch, t in enumerate(log):
        if since < t <= until:
            for n in range(batch * b, batch * b + b):
                at = (n + ahead) // d
                if at < len(takes):
                    out.append(takes[at] - t)
                elif recurred:
                    raise AssertionError("a passage was not seen to its end")
    return out


class Paced:
    """Steady state of the paced run, and passage times in it, carrier by carrier."""

    def __init__(self, ring, carriers, phi, starts=STARTS):
        self.ring, self.m = ring, len(ring.batch)
        self.steady = run_until_steady(ring, carriers, micros(ring.batch[0] / phi), starts)
        self.run = self.steady.run
        # A passage counts when it begins within the period; two laps more see every such passage to its end.
        goal = len(self.run.takes[0]) + 2 * carriers // ring.batch[0] + 2
        while self.steady.rate and len(self.run.takes[0]) < goal and self.run.step():
            pass

    def passages(self, start, end, since):
        """Times (microseconds) from station `start` (taken in, or left) to being taken in at `end`; round the whole
        loop when both are the same station."""
        if not self.steady.rate:
            return [math.inf]
        log = self.run.takes[start] if since == "taken_in" else self.run.leaves[start]
        span = self.steady.since, self.steady.until, self.steady.recurred
        return passages(self.ring.batch, self.run.fill, log, self.run.takes[end], start, end, span)

    def longest(self, i):
        """Longest time in the section before station i."""
        return max(self.passages((i - 1) % self.m, i, "left"))
