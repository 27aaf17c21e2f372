"""Random small cells: python3 random_cells.py SEED COUNT OUTDIR

Every cell is a document of its own, sized from its rate so that most can be planned. Numbers are rounded to what a
person would type, and ties (same lengths, same times) are wanted: they are where readings differ.
"""
import json
import math
import os
import random
import sys

import model

NAMES = ["erect", "load", "glue", "press"]


def some(rng, share):
    return rng.random() < share


def make_load(rng, length):
    load = {}
    if some(rng, .8):
        load["extent_mm"] = rng.choice([60, 90, 120, 150, 180, 200, 240])
    if some(rng, .7):
        load["mass_kg"] = rng.choice([.2, .5, 1, 2.4, 4])
    if some(rng, .5):
        load["friction"] = rng.choice([.25, .35, .5])
        if some(rng, .3):
            load["stability_factor"] = rng.choice([.5, .7, 1])
    if some(rng, .4):
        load["base_mm"] = rng.choice([60, 80, 120, 200])
        load["cg_height_mm"] = rng.choice([40, 80, 110, 150])
        if some(rng, .4):
            load["base_across_mm"] = rng.choice([30, 50, 90])
    if some(rng, .2):
        load["max_accel_m_s2"] = rng.choice([1.5, 3, 4, 6])
    if some(rng, .25):
        load["held"] = True
    return load


def make_skus(rng, carries, slow, length):
    out = []
    for i in range(rng.choice([1, 1, 2, 2, 3])):
        stacks, products = rng.choice([1, 1, 2, 3]), rng.choice([1, 4, 6])
        carriers = slow * rng.uniform(.55, 1)           # per second, before headroom
        cases = carriers * 60 / (stacks if carries == "stack" else 1)
        sku = {"id": f"S{i + 1}", "stacks_per_case": stacks, "products_per_stack": products}
        if some(rng, .5):
            sku["net_rate"] = {"cases_per_min": round(cases, 1)}
        else:
            sku["net_rate"] = {"products_per_min": round(cases * stacks * products)}
        if some(rng, .9):
            sku["loads"] = {"ring": make_load(rng, length)}
        out.append(sku)
    return out


def make_carrier(rng):
    c = {"length_mm": rng.choice([80, 100, 120, 150]), "gap_mm": rng.choice([0, 5, 10, 20]),
         "mass_kg": rng.choice([.8, 1.5, 2, 3]), "max_speed_m_s": rng.choice([.4, .8, 1, 1.5, 2]),
         "max_accel_m_s2": rng.choice([1, 2, 4, 6, 10, 20]), "price": rng.choice([0, 500, 900])}
    if some(rng, .15):
        c["movers_per_carrier"], c["length_mm"] = 2, rng.choice([50, 60, 75])
    if some(rng, .35):
        c["max_jerk_m_s3"] = rng.choice([10, 30, 100, 400])
    if some(rng, .35):
        c["peak_force_n"] = rng.choice([40, 60, 90, 140])
    if some(rng, .5):
        c["friction_force_n"] = rng.choice([2, 4, 6])
    if some(rng, .35):
        c["continuous_force_n"] = c.get("friction_force_n", 0) + rng.choice([1, 2, 4, 8, 15])
    return c


def make_pair(rng, carrier, skus):
    """A pair that follows the SKU; with a squeeze only where every held load can be squeezed."""
    pair = {"play_mm": rng.choice([0, 5, 20]), "paddle_offset_mm": rng.choice([-30, 0, 10, 25]),
            "paddle_thickness_mm": rng.choice([0, 8, 30])}
    held = [load for load in (s.get("loads", {}).get("ring", {}) for s in skus) if load.get("held")]
    grips = all(load.get("extent_mm", 0) - 2 * pair["paddle_offset_mm"] >= carrier["length_mm"]
                and ("friction" in load or not load.get("mass_kg")) for load in held)
    if grips and some(rng, .8):
        pair["squeeze_n"] = rng.choice([5, 15, 35])
    return pair


def intermittent(rng, phi, travel, forced=None):
    """Times such that about `b` heads make the rate with some reserve; now and then a hair below it, or slack."""
    heads = forced or rng.choice([1, 1, 2, 2, 3])
    b = heads if forced or some(rng, .6) else rng.randint(1, heads)
    budget = b / phi * rng.choice([rng.uniform(.75, .85), rng.uniform(.85, .95)] + [rng.uniform(.3, .7)] * (not forced))
    settle = rng.choice([0, 0, .05, .1])
    extra = rng.choice([0, 0, .05, .2])
    base = budget - travel(b) - settle - extra * (b - 1)
    out = {"base_s": max(.05, round(base, 2)), "max_batch": heads, "price": rng.randint(0, 9) * 1000,
           "price_per_head": rng.randint(0, 9) * 500}
    if settle:
        out["settle_s"] = settle
    if extra:
        out["per_extra_s"] = extra
    return out


def continuous(rng, phi, pitch):
    heads = rng.choice([1, 1, 2, 3])
    out = {"max_batch": heads, "price": rng.randint(0, 9) * 1000, "price_per_head": rng.randint(0, 9) * 500}
    least = phi * pitch
    if some(rng, .6):
        out["process_s"] = round(rng.uniform(.2, 2.5) / phi, 2)
        if some(rng, .5):
            room = heads / phi * .95 - out["process_s"]
            if room < .1:
                out["process_s"] = round(heads / phi * .5, 2)
                room = heads / phi * .45
            out["return_s"] = round(rng.uniform(.5, 1) * room, 2)
        if some(rng, .4):
            out["max_speed_m_s"] = round(least * rng.uniform(1.05, 3) + .01, 2)
    else:
        out["process_length_mm"] = rng.choice([40, 100, 150, 200, 300])
        out["max_speed_m_s"] = round(least * rng.uniform(1.05, 3) + .01, 2)
    if some(rng, .35):
        out["may_wait"] = False
    return out


def make_station(rng, name, phi, pitch, travel, skus, forced=None):
    st = {"id": name}
    if some(rng, .7):
        st["depth_mm"] = rng.choice([0, 150, 300, 500, 800, 1200])
    if some(rng, .2):
        st["access_mm"] = rng.choice([100, 400, 800])
    if some(rng, .3):
        st["margin_mm"] = rng.choice([10, 25, 60, 100])
    if some(rng, .25):
        st["frame_length_mm"] = rng.choice([100, 250, 400, 600])
    if some(rng, .3):
        st["side"] = rng.choice(["front", "back"])
    both = rng.random()
    if forced or both < .65:
        st["intermittent"] = intermittent(rng, phi, travel, forced)
    if not forced and both > .5:
        st["continuous"] = continuous(rng, phi, pitch)
    if some(rng, .3) and not forced:
        keys = []
        if "intermittent" in st:
            keys.append("base_s")
        if "continuous" in st:
            keys.append("process_s" if "process_s" in st["continuous"] else "process_length_mm")
        most = max(st[m]["max_batch"] for m in ("intermittent", "continuous") if m in st)
        if most > 1:
            keys += ["max_batch", "max_batch"]
        key = rng.choice(keys)
        if key == "max_batch":
            value = rng.randint(1, most)
        else:
            block = st["intermittent" if key == "base_s" else "continuous"]
            value = round(block[key] * rng.uniform(.5, 1.1), 2)
        st["per_sku"] = {rng.choice(skus)["id"]: {key: value}}
    return st


def make_segments(rng, order, phi, pitch, travel, ends, bare):
    out = []
    for i, b in enumerate(order):
        a = order[i - 1]
        seg = {"from": a, "to": b}
        if some(rng, .25):
            seg["ride_through_s"] = round(rng.uniform(.3, 3) / phi, 1)
        if some(rng, .15):
            seg["min_length_mm"] = rng.choice([100, 250, 400, round(2 * pitch * 1000)])
        if some(rng, .2):
            seg["min_s"] = round(rng.uniform(.2, 1.8) / phi, 2)
        if some(rng, .22):
            way = max(seg.get("min_s", 0), travel(1) * rng.uniform(1, 2) + rng.choice([0, ends]))
            seg["max_s"] = round(way + rng.choice([.1, .6, 2]) / phi, 2)
        if i == bare or some(rng, .08):
            seg["loaded"] = False
        if len(seg) > 2:
            out.append(seg)
    return out


def make_cell(rng, name):
    order = NAMES[:rng.choice([2, 2, 2, 3, 3, 3, 4])]
    carrier = make_carrier(rng)
    carries = rng.choice(["case", "stack"])
    items = rng.choice([1, 1, 1, 2])
    reach = math.sqrt(carrier["max_accel_m_s2"])
    slow = min(1.2, reach / 2.5) * rng.uniform(.2, .9)          # carriers a second
    skus = make_skus(rng, carries, slow * items, carrier["length_mm"])
    req = {}
    if some(rng, .4):
        req["efficiency"] = rng.choice([.85, .9, .95])
    if some(rng, .4):
        req["headroom"] = rng.choice([1.05, 1.1])
    if some(rng, .4):
        req["clearance_mm"] = rng.choice([100, 500, 700])
    if some(rng, .25):
        sides = rng.sample(["front", "back", "left", "right"], rng.choice([1, 2]))
        req["clearance_sides_mm"] = {side: rng.choice([0, 200, 900]) for side in sides}
    phi = slow * req.get("headroom", 1) / req.get("efficiency", 1)
    if carrier.get("movers_per_carrier") == 2 and some(rng, .6):
        carrier["pair"] = make_pair(rng, carrier, skus)
    extents = [s.get("loads", {}).get("ring", {}).get("extent_mm", 0) for s in skus]
    longest = max([carrier["length_mm"] * carrier.get("movers_per_carrier", 1)] + extents)
    pitch = (longest + carrier["gap_mm"]) / 1e3
    accel = min(carrier["max_accel_m_s2"], 3)

    def travel(b):
        return 2 * math.sqrt(b * pitch / accel) + b * pitch / carrier["max_speed_m_s"] * .3

    # batches that do not divide each other, side by side: 2 and 3 heads, and no fewer will do
    heads = rng.sample([2, 3], 2) + [rng.choice([None, 1])] * 2 if some(rng, .2) else [None] * 4
    stations = [make_station(rng, n, phi, pitch, travel, skus, h) for n, h in zip(order, heads)]
    forms, bare = [], None
    plane = rng.choice(["flat", "flat", "upright", "both"])
    radius = rng.choice([120, 150, 200, 300])
    if plane != "upright":
        forms.append({"id": "flat", "plane": "flat", "radius_mm": radius})
        if some(rng, .4):
            forms[-1]["cross_mm"] = rng.choice([50, 200, 500])
        if some(rng, .2):
            forms.append({"id": "wide", "plane": "flat", "radius_mm": radius + 100})
    if plane in ("upright", "both"):
        forms.append({"id": "up", "plane": "upright", "radius_mm": rng.choice([radius, 120, 150])})
        if some(rng, .85):
            bare = rng.randrange(len(order))
    module = rng.choice([200, 240, 250, 330, 500])
    track = {"module_mm": module, "max_modules": max(3, rng.choice([1500, 2000, 2500]) // module),
             "width_mm": rng.choice([50, 80, 150, 300]),
             "module_price": rng.choice([0, 1000, 1500]), "curve_price": rng.choice([0, 2500]), "forms": forms}
    circuit = {"id": "ring", "carries": carries, "items_per_carrier": items, "carrier": carrier, "track": track,
               "order": order}
    if some(rng, .15) and not heads[0]:
        circuit["max_carriers"] = len(order) + rng.randint(1, 8)
    if some(rng, .15):
        req["floor"] = {"length_mm": rng.choice([1800, 2500, 3500, 5000]), "width_mm": rng.choice([1200, 1800, 3000])}
        # Drawn from another source, so that the other cells of a seed stay what they were.
        own = random.Random(rng.random())
        if own.random() < .5:
            req["keep_out"] = [{"x_mm": own.randrange(0, req["floor"]["length_mm"], 100),
                                "y_mm": own.randrange(0, req["floor"]["width_mm"], 100),
                                "length_mm": own.choice([200, 400]), "width_mm": own.choice([200, 300])}
                               for _ in range(own.randint(1, 2))]
    doc = {"format": 1, "name": name, "requirements": req, "skus": skus, "circuits": [circuit], "stations": stations}
    segments = make_segments(rng, order, phi, pitch, travel, math.pi * radius / 1e3 / carrier["max_speed_m_s"], bare)
    if heads[0]:           # hard enough without further limits
        segments = [{k: s[k] for k in ("from", "to", "loaded")} for s in segments if "loaded" in s]
    if segments:
        doc["segments"] = segments
    if some(rng, .15):
        doc["windows"] = [make_window(rng, order, phi, travel)]
    if some(rng, .95):
        ease(doc)
    # Drawn from another source, so that all else of a seed stays what it was.
    own = random.Random(rng.random())
    for key in ("infeed", "discharge"):
        if own.random() < .25:
            sides = ["front", "back", "left", "right"]
            req[key] = {"station": own.choice(order), "side": own.choice(sides)}
    if own.random() < (.5 if "infeed" in req or "discharge" in req else .05):
        req["hand"] = own.choice(["left_to_right", "right_to_left"])
    return doc


def ease(doc):
    """Shorten the work of stations that no option can do at the rate."""
    cell = model.read_cell(doc)
    circuit = cell.circuits[0]
    for st in doc["stations"]:
        for _ in range(12):
            if any(o.feasible(circuit) for o in model.options(cell, circuit, st["id"])):
                break
            for block in [st.get("intermittent", {}), st.get("continuous", {})] + list(st.get("per_sku", {}).values()):
                for key in ("base_s", "process_s", "return_s"):
                    if key in block:
                        block[key] = round(block[key] * .8, 2)
                if "max_speed_m_s" in block:
                    block["max_speed_m_s"] = round(block["max_speed_m_s"] * 1.25, 3)
            cell.stations[st["id"]] = model.read_station(st)


def make_window(rng, order, phi, travel):
    a, b = rng.sample(order, 2)
    stations = (order.index(b) - order.index(a)) % len(order)
    out = {"from": a, "to": b}
    if some(rng, .7):
        out["since"] = rng.choice(["taken_in", "left"])
    guess = stations * (travel(2) + 1.5 / phi)
    if some(rng, .8):
        out["max_s"] = round(guess * rng.uniform(.8, 2.5), 2)
    else:
        out["min_s"] = round(guess * rng.uniform(.2, .8), 2)
    return out


def main(argv):
    if len(argv) != 4:
        print(__doc__.strip(), file=sys.stderr)
        return 2
    seed, count, folder = int(argv[1]), int(argv[2]), argv[3]
    os.makedirs(folder, exist_ok=True)
    for i in range(count):
        name = f"cell-{seed}-{i:04d}"
        doc = make_cell(random.Random(f"{seed}/{i}"), name)
        with open(os.path.join(folder, name + ".json"), "w", encoding="utf-8") as out:
            json.dump(doc, out, indent=1)
            out.write("\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv))
