"""Larger cells: python3 larger_cells.py SEED COUNT OUTDIR [--stations S] [--skus K] [--heads H] [--form flat|upright|both]

For comparing programs with another solver and for measuring. Every station can work in both modes (unless `--modes` says
otherwise), depths and SKUs vary, and times are made from the rate, so that nearly all can be planned. The same arguments
give the same files.
"""
import argparse
import json
import os
import random
import sys

CIRCUIT = "ring"


def make_skus(rng, count, fastest):
    """`fastest`: carriers a second of the fastest SKU; one carrier a case."""
    out = []
    for i in range(count):
        speed = fastest if i == 0 else fastest * rng.uniform(.5, 1)
        products = rng.choice([4, 6, 8, 12])
        load = {"extent_mm": rng.choice([120, 150, 180, 200, 220, 240, 260, 280]), "mass_kg": round(rng.uniform(.4, 4), 1),
                "base_mm": rng.choice([100, 140, 180, 220]), "base_across_mm": rng.choice([90, 120, 160]),
                "cg_height_mm": rng.choice([60, 90, 120]), "friction": rng.choice([.3, .35, .4])}
        if rng.random() < .2:
            load["max_accel_m_s2"] = rng.choice([2, 2.5, 3, 4])
        sku = {"id": f"K{i + 1}", "products_per_stack": products, "loads": {CIRCUIT: load}}
        if rng.random() < .5:
            sku["net_rate"] = {"cases_per_min": round(speed * 60, 1)}
        else:
            sku["net_rate"] = {"products_per_min": round(speed * 60 * products)}
        out.append(sku)
    return out


def make_station(rng, name, phi, heads, modes, skus):
    """At least `need` heads make the rate; the others are there to be chosen from."""
    need = rng.randint(1, max(1, round(heads * .5)))
    travel = .75 + .12 * need
    st = {"id": name, "depth_mm": rng.choice([300, 400, 600, 800, 900, 1200, 1500]), "margin_mm": rng.choice([0, 40, 60, 100])}
    if rng.random() < .25:
        st["side"] = rng.choice(["front", "back"])
    if rng.random() < .2:
        st["frame_length_mm"] = rng.choice([600, 800, 1000])
    if "intermittent" in modes:
        extra, settle = rng.choice([0, .05, .1, .15]), rng.choice([0, .05, .1])
        base = need / phi * rng.uniform(.7, .92) - travel - settle - extra * (need - 1)
        while base < .15:                      # too fast for so few heads: more of them
            need += 1
            base = need / phi * rng.uniform(.8, .92) - .75 - .12 * need - settle - extra * (need - 1)
        st["intermittent"] = {"base_s": round(base, 2), "per_extra_s": extra, "settle_s": settle, "max_batch": max(need, heads),
                              "price": rng.randint(10, 60) * 1000, "price_per_head": rng.randint(2, 20) * 1000}
    if "continuous" in modes:
        block = {"max_batch": heads, "max_speed_m_s": rng.choice([.5, .6, .8]), "price": rng.randint(20, 90) * 1000,
                 "price_per_head": rng.randint(2, 20) * 1000}
        if rng.random() < .65:
            block["process_s"] = round(min(need, heads) / phi * rng.uniform(.3, .6), 2)
            block["return_s"] = round(min(need, heads) / phi * rng.uniform(.15, .35), 2)
        else:
            block["process_length_mm"] = rng.choice([250, 350, 450])
            if rng.random() < .4:
                block["may_wait"] = False
        st["continuous"] = block
    per_sku = {}
    for sku in skus:
        if rng.random() < .12:
            values = {}
            if "intermittent" in st:
                values["base_s"] = round(st["intermittent"]["base_s"] * rng.uniform(.7, 1), 2)
            if "process_s" in st.get("continuous", {}):
                values["process_s"] = round(st["continuous"]["process_s"] * rng.uniform(.6, 1), 2)
            if rng.random() < .15 and heads > need:
                values["max_batch"] = rng.randint(need, heads)
            if values:
                per_sku[sku["id"]] = values
    if per_sku:
        st["per_sku"] = per_sku
    return st


def make_cell(seed, stations, skus, heads, form="both", modes=("intermittent", "continuous")):
    rng = random.Random(f"{seed}/{stations}/{skus}/{heads}/{form}")
    fastest = rng.uniform(.35, .55)
    efficiency, headroom = rng.choice([.88, .9, .92, .95]), rng.choice([1.05, 1.1])
    phi = fastest * headroom / efficiency
    kinds = make_skus(rng, skus, fastest)
    order = [f"s{i + 1}" for i in range(stations)]
    placed = [make_station(rng, name, phi, heads, modes, kinds) for name in order]
    forms = []
    if form in ("flat", "both"):
        forms.append({"id": "flat-400", "plane": "flat", "radius_mm": 400, "cross_mm": rng.choice([0, 200])})
        forms.append({"id": "flat-250", "plane": "flat", "radius_mm": 250})
    if form in ("upright", "both"):
        forms.append({"id": "upright-300", "plane": "upright", "radius_mm": 300})
    segments = [{"from": order[-1], "to": order[0], "loaded": False}]
    for i in range(1, stations):
        seg = {"from": order[i - 1], "to": order[i]}
        if rng.random() < .3:
            seg["ride_through_s"] = rng.choice([1, 2, 3, 4])
        if rng.random() < .1:
            seg["min_length_mm"] = rng.choice([300, 500])
        if rng.random() < .1:
            seg["min_s"] = rng.choice([1.5, 2.5])
        if len(seg) > 2:
            segments.append(seg)
    return {
        "format": 1, "name": f"{stations} stations, {skus} SKUs, {heads} heads, {form}, {seed}",
        "requirements": {"efficiency": efficiency, "headroom": headroom, "clearance_mm": rng.choice([500, 700])},
        "skus": kinds,
        "circuits": [{
            "id": CIRCUIT, "carries": "case",
            "carrier": {"length_mm": 150, "gap_mm": 10, "mass_kg": 2, "max_speed_m_s": 2, "max_accel_m_s2": 10,
                        "max_jerk_m_s3": 200, "peak_force_n": 120, "friction_force_n": 4, "price": 900},
            "track": {"module_mm": 500, "max_modules": 12 + 4 * stations, "width_mm": 300, "module_price": 1500,
                      "curve_price": 2500, "forms": forms},
            "order": order}],
        "segments": segments, "stations": placed}


def write(folder, name, doc):
    path = os.path.join(folder, name + ".json")
    with open(path, "w", encoding="utf-8") as out:
        json.dump(doc, out, indent=1)
        out.write("\n")
    return path


def main(argv):
    args = argparse.ArgumentParser()
    args.add_argument("seed", type=int)
    args.add_argument("count", type=int)
    args.add_argument("folder")
    args.add_argument("--stations", type=int, default=10)
    args.add_argument("--skus", type=int, default=48)
    args.add_argument("--heads", type=int, default=8)
    args.add_argument("--form", choices=["flat", "upright", "both"], default="both")
    args.add_argument("--modes", nargs="+", choices=["intermittent", "continuous"], default=["intermittent", "continuous"])
    args = args.parse_args(argv[1:])
    os.makedirs(args.folder, exist_ok=True)
    for i in range(args.count):
        doc = make_cell(args.seed + i, args.stations, args.skus, args.heads, args.form, tuple(args.modes))
        print(write(args.folder, f"s{args.stations}-k{args.skus}-h{args.heads}-{args.form}-{args.seed + i}", doc))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv))
