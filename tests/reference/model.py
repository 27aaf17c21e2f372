"""A second reading of the planning model: values, options, sections, geometry, motor duty.

SI units throughout. Section i of a circuit is the one BEFORE station i (from order[i-1] to order[i]).
The timed run (section 7 of the model) is in timed.py. Nothing here is shared with the engine.
"""
import json
import math
from dataclasses import dataclass, field

from motion import move

G = 9.80665
INF = math.inf

KEYS = {
    "cell": "format name requirements skus circuits segments windows stations changeover feed",
    "feed": "into side runs width_mm products belts needed_gap_mm stacking",
    "feed_products": "length_mm gap_mm delivered_per_min per_sku",
    "feed_sku": "length_mm gap_mm delivered_per_min",
    "belt": "id gap_mm max_speed_m_s length_mm",
    "stacking": "lanes max_lanes lane_products_per_min push_out_s buffer_products length_mm",
    "requirements": "efficiency headroom clearance_mm clearance_sides_mm infeed discharge hand floor keep_out footprint_tolerance_m2 max_price",
    "keep_out": "name x_mm y_mm length_mm width_mm",
    "floor": "length_mm width_mm",
    "fixed_loop": "form modules_per_straight carriers",
    "fixed_station": "mode heads",
    "sku": "id net_rate products_per_stack stacks_per_case loads measures_mm groups week",
    "week": "planned_min breaks_min changes order",
    "changeover": "operators limit_min keep_limit counts_from moves_wait week",
    "net_rate": "cases_per_min products_per_min",
    "load": "extent_mm mass_kg base_mm base_across_mm cg_height_mm friction held stability_factor max_accel_m_s2",
    "circuit": "id carries items_per_carrier carrier track max_carriers fixed order adjustments above",
    "carrier": "length_mm gap_mm movers_per_carrier mass_kg max_speed_m_s max_accel_m_s2 max_jerk_m_s3 "
               "peak_force_n continuous_force_n friction_force_n pair price",
    "pair": "play_mm paddle_offset_mm paddle_thickness_mm squeeze_n",
    "track": "module_mm max_modules width_mm module_price curve_price forms",
    "form": "id plane radius_mm cross_mm",
    "segment": "from to ride_through_s min_length_mm min_s max_s loaded circuit",
    "window": "from to since max_s min_s circuit",
    "clearance_sides": "front back left right",
    "opening": "station side",
    "station": "id depth_mm access_mm frame_length_mm margin_mm side fixed intermittent continuous per_sku failures short_stops work_times supply "
               "adjustments room_for_people",
    "intermittent": "base_s per_extra_s settle_s max_batch price price_per_head",
    "continuous": "process_s process_length_mm return_s max_batch max_speed_m_s price price_per_head may_wait",
    "per_sku": "base_s per_extra_s settle_s process_s process_length_mm return_s max_batch",
    # What chance does; only simulation reads it, so that nothing here hangs on it.
    "failures": "mean_time_between_s mean_time_to_repair_s counts between repair",
    "spread": "distribution variation",
    "supply": "over_net_rate gaps outages surge room_carriers",
    "surge": "factor every_s lasts_s",
}


def read_document(path):
    """JSON first, so that nothing beyond the standard library is needed for it."""
    text = open(path, encoding="utf-8").read()
    try:
        return json.loads(text)
    except ValueError:
        import yaml
        return yaml.safe_load(text)


def known(kind, doc):
    extra = set(doc) - set(KEYS[kind].split())
    if extra:
        raise ValueError(f"unknown keys in {kind}: {sorted(extra)}")
    return doc


# ---------------------------------------------------------------- the cell

@dataclass
class Kin:
    """Derived values of one SKU on one circuit (section 3)."""
    sku: str
    phi: float
    pitch: float
    v: float
    a: float
    j: object              # None: no jerk limit
    a_lat: float
    empty: float           # mass of the carrier
    full: float            # with its load
    has_load: bool
    held: bool

    def move(self, d, share):
        return move(d, self.v, self.a * share, self.j)

    def curve_speed(self, radius, loaded):
        return min(self.v, math.sqrt(self.a_lat * radius)) if loaded else self.v


@dataclass
class Form:
    id: str
    plane: str
    radius: float
    cross: float

    @property
    def arc(self):
        return math.pi * self.radius + self.cross


@dataclass
class Segment:
    ride_through: float = 0.0
    min_length: float = 0.0
    min_s: float = 0.0
    max_s: float = INF
    loaded: bool = True


@dataclass
class Window:
    start: str
    end: str
    since: str
    min_s: float
    max_s: float


@dataclass
class Station:
    id: str
    depth: float
    access: float
    frame: object          # None: the zone
    margin: float
    side: str
    blocks: dict           # mode -> block
    per_sku: dict
    fixed: dict = field(default_factory=dict)      # decided beforehand


@dataclass
class Circuit:
    id: str
    order: list
    kin: list              # one Kin for each SKU, in document order
    movers: int
    length: float          # of the whole carrier
    longest: float         # of carrier and extents (the E of section 6)
    force: object
    continuous_force: object
    friction: float
    carrier_price: float
    max_carriers: object
    module: float
    max_modules: int
    width: float
    module_price: float
    curve_price: float
    forms: list
    fixed: dict = field(default_factory=dict)      # decided beforehand

    @property
    def big_pitch(self):
        return max(k.pitch for k in self.kin)

    def form(self, name):
        return next((f for f in self.forms if f.id == name), None)


@dataclass
class Cell:
    clearance: dict        # by side
    floor: object
    skus: list
    circuits: list
    stations: dict
    segments: dict = field(default_factory=dict)
    windows: list = field(default_factory=list)
    max_price: float = INF
    tolerance: float = 0.0         # plans within it of the least footprint count as equal in floor
    keep_out: list = field(default_factory=list)    # x, y, length, width on the floor
    feed: object = None            # side, then its floor along and across the cell
    openings: list = field(default_factory=list)    # station, side of the cell to which it must be open
    hand: object = None            # left_to_right or right_to_left, where it is asked

    def segment(self, a, b):
        return self.segments.get((a, b), Segment())


def after_changes(doc):
    """Share of a week that is left when every lot's change takes as long as it may; 1 where changes lie outside."""
    asked = known("changeover", doc.get("changeover") or {})
    week = known("week", asked.get("week") or {})
    if week.get("changes") != "inside":
        return 1.0
    lots = sum((s.get("week") or {}).get("lots", 1) for s in doc["skus"])
    count = max(lots - 1, 0) if week.get("order") == "open" else lots if lots > 1 else 0
    planned = week["planned_min"] - week.get("breaks_min", 0)
    return (planned - count * asked["limit_min"]) / planned


def read_feed(feed, skus):
    """Side of the cell, and the rectangle of floor along and across it (section 9c)."""
    known("feed", feed)
    products = known("feed_products", feed["products"])
    own = {k: known("feed_sku", v) for k, v in (products.get("per_sku") or {}).items()}
    each = [(own.get(s["id"], {}).get("length_mm", products["length_mm"]),
             own.get(s["id"], {}).get("gap_mm", products.get("gap_mm", 0))) for s in skus]
    stacking = known("stacking", feed.get("stacking") or {})
    long, gap = stacking.get("length_mm", 0), None
    for belt in feed["belts"]:
        known("belt", belt)
        gap = belt.get("gap_mm", gap)
        long += belt.get("length_mm") or max(length + (comes if gap is None else gap) for length, comes in each)
    size = long / 1e3, feed["width_mm"] / 1e3
    return (feed["side"], *(size[::-1] if feed.get("runs") == "across" else size))


def read_cell(doc):
    known("cell", doc)
    req = known("requirements", doc.get("requirements") or {})
    floor = req.get("floor")
    if floor:
        known("floor", floor)
        floor = (floor["length_mm"] / 1e3, floor["width_mm"] / 1e3)
    missed = [known("keep_out", k) for k in req.get("keep_out") or []]
    missed = [tuple(k.get(key, 0) / 1e3 for key in ("x_mm", "y_mm", "length_mm", "width_mm")) for k in missed]
    if missed and not floor:
        raise ValueError("keep_out without a floor")
    factor = req.get("headroom", 1.0) / req.get("efficiency", 1.0) / after_changes(doc)
    for s in doc["skus"]:
        known("sku", s), known("net_rate", s["net_rate"])
    stations = {s["id"]: read_station(s) for s in doc["stations"]}
    circuits = [read_circuit(c, doc["skus"], factor) for c in doc["circuits"]]
    sides = known("clearance_sides", req.get("clearance_sides_mm") or {})
    clearance = {s: sides.get(s, req.get("clearance_mm", 0)) / 1e3 for s in ("front", "back", "left", "right")}
    cell = Cell(clearance, floor, [s["id"] for s in doc["skus"]], circuits, stations,
                max_price=req.get("max_price", INF), tolerance=req.get("footprint_tolerance_m2", 0.0), keep_out=missed,
                feed=read_feed(doc["feed"], doc["skus"]) if doc.get("feed") else None, hand=req.get("hand"))
    for key in ("infeed", "discharge"):
        if req.get(key):
            asked = known("opening", req[key])
            cell.openings.append((asked["station"], asked["side"]))
    pairs = {(c.order[i - 1], c.order[i]) for c in circuits for i in range(len(c.order))}
    for s in doc.get("segments") or []:
        known("segment", s)
        if (s["from"], s["to"]) not in pairs:
            raise ValueError(f"segment {s['from']} to {s['to']}: not consecutive stations")
        cell.segments[s["from"], s["to"]] = Segment(
            s.get("ride_through_s", 0), s.get("min_length_mm", 0) / 1e3, s.get("min_s", 0),
            s.get("max_s", INF), s.get("loaded", True))
    for w in doc.get("windows") or []:
        known("window", w)
        cell.windows.append(Window(w["from"], w["to"], w.get("since", "left"), w.get("min_s", 0), w.get("max_s", INF)))
    return cell


def read_station(s):
    known("station", s)
    blocks = {m: known(m, s[m]) for m in ("intermittent", "continuous") if s.get(m) is not None}
    per_sku = {k: known("per_sku", v) for k, v in (s.get("per_sku") or {}).items()}
    frame = s.get("frame_length_mm")
    return Station(s["id"], s.get("depth_mm", 0) / 1e3, s.get("access_mm", 0) / 1e3, None if frame is None else frame / 1e3,
                   s.get("margin_mm", 0) / 1e3, s.get("side", "either"), blocks, per_sku,
                   known("fixed_station", s.get("fixed") or {}))


def read_circuit(c, skus, factor):
    known("circuit", c), known("carrier", c["carrier"]), known("track", c["track"])
    car, track = c["carrier"], c["track"]
    movers = car.get("movers_per_carrier", 1)
    length = car["length_mm"] * movers / 1e3
    kin = [derive(s, c, factor) for s in skus]
    longest = max([length] + [taken(car, (s.get("loads") or {}).get(c["id"]) or {}) for s in skus])
    forms = [Form(f["id"], f["plane"], f["radius_mm"] / 1e3, f.get("cross_mm", 0) / 1e3)
             for f in (known("form", f) for f in track["forms"])]
    return Circuit(
        c["id"], list(c["order"]), kin, movers, length, longest, car.get("peak_force_n"),
        car.get("continuous_force_n"), car.get("friction_force_n", 0), car.get("price", 0), c.get("max_carriers"),
        track["module_mm"] / 1e3, track.get("max_modules", 40), track.get("width_mm", 0) / 1e3,
        track.get("module_price", 0), track.get("curve_price", 0), forms, known("fixed_loop", c.get("fixed") or {}))


def taken(car, load):
    """Track under one carrier: its movers or its load, or a pair opened round the load with movers and paddles."""
    extent, length = load.get("extent_mm", 0), car["length_mm"]
    movers = length * car.get("movers_per_carrier", 1)
    if "pair" not in car:
        return max(movers, extent) / 1e3
    grip = known("pair", car["pair"])
    inner = extent + grip.get("play_mm", 0)             # from paddle to paddle
    middles = inner - 2 * grip.get("paddle_offset_mm", 0)
    return max(movers, middles + length, inner + 2 * grip.get("paddle_thickness_mm", 0)) / 1e3


def squeeze_limit(car, load):
    """Two paddles, each with mu times the squeeze; only a load that is held is held by it."""
    squeeze, mass = (car.get("pair") or {}).get("squeeze_n"), load.get("mass_kg", 0)
    if squeeze is None or not load.get("held", False) or not mass:
        return INF
    return 2 * load.get("friction", 0) * squeeze / mass


def derive(s, c, factor):
    car = c["carrier"]
    load = known("load", (s.get("loads") or {}).get(c["id"]) or {})
    movers = car.get("movers_per_carrier", 1)
    rate, stacks = s["net_rate"], s.get("stacks_per_case", 1)
    if "cases_per_min" in rate:
        cases = rate["cases_per_min"] / 60
    else:
        cases = rate["products_per_min"] / 60 / (s.get("products_per_stack", 1) * stacks)
    items = stacks if c["carries"] == "stack" else 1
    phi = cases * items / c.get("items_per_carrier", 1) * factor
    pitch = taken(car, load) + car.get("gap_mm", 0) / 1e3
    empty, full = car.get("mass_kg", 0), car.get("mass_kg", 0) + load.get("mass_kg", 0)
    a = car["max_accel_m_s2"]
    if car.get("peak_force_n") is not None:
        net = car["peak_force_n"] * movers - car.get("friction_force_n", 0)
        if net <= 0:
            raise ValueError("the force limit leaves no acceleration")
        if full > 0:
            a = min(a, net / full)
    held, lat = load.get("held", False), INF
    if not held:
        base = load.get("base_mm")
        a = min(a, load_limit(load, base))
        lat = load_limit(load, load.get("base_across_mm", base))
    grip = squeeze_limit(car, load)
    a, lat = min(a, grip), min(lat, grip)
    return Kin(s["id"], phi, pitch, car["max_speed_m_s"], a, car.get("max_jerk_m_s3"), lat, empty, full,
               bool(load), held and grip >= G)


def load_limit(load, base_mm):
    """Sliding, tipping over the given base, and the tested value; each only where it is given."""
    f, limit = load.get("stability_factor", 0.6), load.get("max_accel_m_s2", INF)
    if load.get("friction") is not None:
        limit = min(limit, f * load["friction"] * G)
    if base_mm is not None and load.get("cg_height_mm"):
        limit = min(limit, f * G * base_mm / (2 * load["cg_height_mm"]))
    return limit


# ---------------------------------------------------------------- station options

@dataclass(frozen=True)
class SkuOption:
    batch: int
    move_in: float
    cycle: float           # tau
    residence: float
    tail: float
    places: int            # carriers that the station can hold
    capacity: float        # carriers a second


@dataclass(frozen=True)
class Option:
    station: str
    mode: str
    heads: int
    kind: str              # stop | flow | reserve (flow that must not wait)
    zone: float
    price: float
    sku: tuple             # one SkuOption for each SKU

    def feasible(self, circuit):
        return all(o.capacity >= k.phi * (1 - 1e-9) for o, k in zip(self.sku, circuit.kin))


def round_up(x):
    return math.ceil(x - 1e-9)


def options(cell, circuit, name, share=1.0):
    st = cell.stations[name]
    return [make_option(circuit, st, mode, h, share)
            for mode, block in st.blocks.items() for h in range(1, block.get("max_batch", 1) + 1)]


def make_option(circuit, st, mode, heads, share=1.0):
    block = st.blocks[mode]

    def value(kin, key, default=0.0):
        return st.per_sku.get(kin.sku, {}).get(key, block.get(key, default))

    batch = [min(heads, value(k, "max_batch", 1)) for k in circuit.kin]
    pairs = list(zip(circuit.kin, batch))
    price = block.get("price", 0) + block.get("price_per_head", 0) * heads
    out = []
    if mode == "intermittent":
        zone, kind = st.margin + heads * circuit.big_pitch, "stop"
        for k, b in pairs:
            x = k.move((zone + b * k.pitch) / 2, share).time
            tau = x + value(k, "settle_s") + value(k, "base_s") + value(k, "per_extra_s") * (b - 1)
            out.append(SkuOption(b, x, tau, tau, (zone - b * k.pitch) / 2, b, b / tau))
        return Option(st.id, mode, heads, kind, zone, price, tuple(out))
    kind = "flow" if block.get("may_wait", True) else "reserve"
    timed = "process_s" in block
    if timed:
        core = max(b * k.pitch + 1.02 * k.phi * k.pitch * value(k, "process_s") for k, b in pairs)
    else:
        core = max(value(k, "process_length_mm") / 1e3 + b * k.pitch for k, b in pairs)
    zone = st.margin + core
    for k, b in pairs:
        u = min(block.get("max_speed_m_s", INF), k.v)
        least = 0.0
        if timed:
            work = value(k, "process_s")
            if work > 0:
                u = min(u, (core - b * k.pitch) / work)
            back = value(k, "return_s", None)
            least = 0.0 if back is None else work + back
        x = b * k.pitch / u
        tau = max(x, least)
        places = b * round_up(zone / (b * k.pitch))
        out.append(SkuOption(b, x, tau, zone / u, 0.0, places, b / tau))
    return Option(st.id, mode, heads, kind, zone, price, tuple(out))


# ---------------------------------------------------------------- sections

def slots(length, pitch):
    return math.floor(length / pitch + 1e-6)


def slots_needed(b, d, phi, ride_through):
    return b + d - math.gcd(b, d) + round_up(phi * ride_through)


def lag(kin, length, tail, curve, radius, seg, share):
    t = kin.move(length + tail, share).time
    if curve > 0:
        v, vc = kin.v, kin.curve_speed(radius, seg.loaded)
        t += curve * (1 / vc - 1 / v) + (v - vc) ** 2 / (kin.a * share * v)
    return max(t, seg.min_s)


# ---------------------------------------------------------------- loop and footprint

def loop_length(circuit, form, n):
    return 2 * n * circuit.module + 2 * form.arc


def closed(cell, where, hand):
    """What is not open as asked. `where`: by station its side of the loop and its place along the floor, which grows in the
    travel direction of the front straight; seen from the front that is to the right, unless the cell is mirrored."""
    faults = []
    if cell.hand and hand != cell.hand:
        faults.append(f"hand {hand}, {cell.hand} is asked")
    for name, side in cell.openings:
        own, at = where[name]
        if side in ("front", "back"):
            free = own == side
        else:
            rightward = (side == "right") == (hand == "left_to_right")
            row = [x for other, (s, x) in where.items() if s == own and other != name]
            free = all(at > x for x in row) if rightward else all(at < x for x in row)
        if not free:
            faults.append(f"{name}: not open to the {side}, {hand}")
    return faults


def can_open(cell, where):
    return any(not closed(cell, where, hand) for hand in ("left_to_right", "right_to_left"))


def deep(cell, station, side):
    """Floor beside the track, and what must be free in front of it and is not free anyway."""
    return station.depth + max(0.0, station.access - cell.clearance[side])


def footprint(cell, circuit, form, n, stands):
    """`stands`: (side, depth as `deep` gives it) of every station. Returns (W, H)."""
    front = max([d for s, d in stands if s == "front"], default=0.0)
    back = max([d for s, d in stands if s == "back"], default=0.0)
    out = form.radius + circuit.width / 2
    reach = math.hypot(out, circuit.longest / 2)
    beside = cell.clearance["front"] + cell.clearance["back"]
    w = n * circuit.module + 2 * reach + cell.clearance["left"] + cell.clearance["right"]
    if form.plane == "upright":
        h = circuit.width + front + back + beside
    else:
        h = sum(form.cross / 2 + max(out + depth, reach) for depth in (front, back)) + beside
    if cell.feed is None:
        return w, h
    side, along, across = cell.feed
    if side in ("left", "right"):
        return w + along, max(h, across + beside)
    return max(w, along + cell.clearance["left"] + cell.clearance["right"]), h + across


def fits_floor(cell, w, h):
    if cell.floor is None:
        return True
    return any(place_on(cell, *size) is not None for size in ((w, h), (h, w)))


def free_at(cell, x, y, w, h):
    """Whether a rectangle with its corner here lies on the floor and over no place that must be missed."""
    a, b = cell.floor
    near = 1e-9 * max(1.0, a, b)
    if x < -near or y < -near or x + w > a + near or y + h > b + near:
        return False
    return all(min(x + w, px + l) - max(x, px) <= near or min(y + h, py + d) - max(y, py) <= near
               for px, py, l, d in cell.keep_out)


def place_on(cell, w, h):
    """A free corner of a rectangle that lies so. Its left edge touches the floor's or a right edge of a place, or can be
    pushed until it does without losing anything; likewise its lower edge."""
    lefts = {0.0} | {x + l for x, _, l, _ in cell.keep_out}
    lows = {0.0} | {y + d for _, y, _, d in cell.keep_out}
    return next(((x, y) for x in sorted(lefts) for y in sorted(lows) if free_at(cell, x, y, w, h)), None)


def upright_faults(circuit, seg):
    """What forbids an upright loop whose return section has these limits."""
    faults = []
    if seg.loaded and not all(k.held for k in circuit.kin):
        faults.append("the return of an upright loop is loaded and a load is not held")
    if circuit.force is not None:
        mass = max(k.full if seg.loaded else k.empty for k in circuit.kin)
        have, need = circuit.force * circuit.movers, circuit.friction + mass * G
        if have < need:
            faults.append(f"peak force {have} N does not carry the weight up the ends, {need} N")
    return faults


def frame_overlap(a, b):
    """Length by which two frames overlap; each is (centre, length)."""
    return (a[1] + b[1]) / 2 - abs(a[0] - b[0])


# ---------------------------------------------------------------- a built circuit, and its motor duty

@dataclass
class Build:
    """One circuit with every decision taken; lists run over circuit.order."""
    cell: Cell
    circuit: Circuit
    form: Form
    n: int
    share: float
    options: list
    lengths: list          # section before each station
    curves: list           # arc of the ends in it: 0, A or 2A
    carriers: int = 0

    def segment(self, i):
        return self.cell.segment(self.circuit.order[i - 1], self.circuit.order[i])

    def slots(self, k):
        p = self.circuit.kin[k].pitch
        return [slots(x, p) for x in self.lengths]

    def lags(self, k):
        kin = self.circuit.kin[k]
        return [lag(kin, self.lengths[i], self.options[i - 1].sku[k].tail, self.curves[i], self.form.radius,
                    self.segment(i), self.share) for i in range(len(self.lengths))]

    def price(self):
        c = self.circuit
        return (sum(o.price for o in self.options) + 2 * self.n * c.module_price + 2 * c.curve_price
                + self.carriers * c.carrier_price)


def move_heat(m, mass, friction):
    return 2 * mass ** 2 * m.peak_accel ** 2 * (m.accel_time - 4 / 3 * m.jerk_time) + friction ** 2 * m.time


def duty_sum(build, k):
    """Sum of force squared times time over one lap (section 9)."""
    c, kin = build.circuit, build.circuit.kin[k]
    total = 0.0
    for i, opt in enumerate(build.options):
        seg = build.segment(i)
        mass = kin.full if seg.loaded else kin.empty
        tail = build.options[i - 1].sku[k].tail
        total += move_heat(kin.move(build.lengths[i] + tail, build.share), mass, c.friction)
        if build.form.plane == "upright" and build.curves[i] > 0:
            total += (mass * G) ** 2 / 2 * build.curves[i] / kin.curve_speed(build.form.radius, seg.loaded)
        o = opt.sku[k]
        if opt.kind == "stop":
            total += move_heat(kin.move((opt.zone + o.batch * kin.pitch) / 2, build.share), kin.full, c.friction)
        else:
            total += c.friction ** 2 * o.residence
    return total


def motor_rms(build, k):
    return math.sqrt(duty_sum(build, k) * build.circuit.kin[k].phi / build.carriers)


def duty_limit(circuit):
    return INF if circuit.continuous_force is None else circuit.continuous_force * circuit.movers
