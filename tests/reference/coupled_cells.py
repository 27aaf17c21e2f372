"""A cell of circuits that hand stacks over into cases, for benchmarks: python3 coupled_cells.py SEED [SKUS [CIRCUITS]] > cell.json

Two circuits: six stations on the circuit of stacks and eight on that of cases, the hand-off counted on both. Three: the cases are
passed on to a third circuit, on whose back straight a press holds them for several beats. Every station works on a standing batch or
on moving carriers, and the times are made from the rate, so that nearly all such cells can be planned.
"""
import json
import random
import sys


def work(rng, per_s, most):
    """Both ways of working, at a rate of so many units a second."""
    beat = 1 / per_s
    return {"depth_mm": rng.choice([300, 500, 800, 1100]), "margin_mm": rng.choice([20, 60, 100]),
            "intermittent": {"base_s": round(beat * rng.uniform(.4, .7), 2), "per_extra_s": round(beat * .1, 2),
                             "max_batch": most, "price": rng.randint(8, 40) * 1000, "price_per_head": rng.randint(2, 9) * 1000},
            "continuous": {"process_s": round(beat * rng.uniform(.3, .6), 2), "return_s": round(beat * .25, 2),
                           "max_batch": most, "max_speed_m_s": 0.8, "price": rng.randint(8, 40) * 1500,
                           "price_per_head": rng.randint(2, 9) * 1500}}


def cell(seed, skus):
    rng = random.Random(seed)
    stacks = 2
    slow = .45
    out = {"format": 1, "name": f"Two circuits, {skus} SKUs, seed {seed}",
           "requirements": {"efficiency": .93, "headroom": 1.05, "clearance_mm": 500}, "skus": [], "stations": []}
    for k in range(skus):
        extent = rng.choice([70, 80, 90, 100, 120])
        out["skus"].append({
            "id": f"S{k + 1:02}", "net_rate": {"cases_per_min": round(60 * slow * rng.uniform(.6, 1), 1)},
            "stacks_per_case": stacks,
            "loads": {"stacks": {"extent_mm": extent, "mass_kg": round(rng.uniform(.3, 1.2), 2), "held": True},
                      "cases": {"extent_mm": 2 * extent + rng.choice([40, 80]), "mass_kg": round(rng.uniform(.8, 3), 2),
                                "base_mm": 200, "cg_height_mm": rng.choice([60, 90, 120]), "friction": .4}}})
    phi = slow * 1.05 / .93
    orders = [["stack", "count", "press", "turn", "hand-over", "clear"],
              ["erect", "glue-base", "hand-over", "insert", "fold", "glue", "seal", "push-off"]]
    for order, per_s, most in ((orders[0], phi * stacks, 4), (orders[1], phi, 3)):
        for name in order:
            if name != "hand-over":
                out["stations"].append({"id": name, **work(rng, per_s, most)})
    out["stations"].append({"id": "hand-over", **work(rng, phi, 3)})
    out["circuits"] = [
        {"id": name, "carries": carries, "order": order,
         "carrier": {"length_mm": long, "gap_mm": 10, "mass_kg": 1.4, "max_speed_m_s": 1.8, "max_accel_m_s2": 9,
                     "max_jerk_m_s3": 180, "peak_force_n": 90, "continuous_force_n": 32, "friction_force_n": 4, "price": 800},
         "track": {"module_mm": 400, "max_modules": 24, "width_mm": 260, "module_price": 1200, "curve_price": 2200,
                   "forms": [{"id": "flat-300", "plane": "flat", "radius_mm": 300},
                             {"id": "upright-300", "plane": "upright", "radius_mm": 300}]}}
        for name, carries, order, long in (("stacks", "stack", orders[0], 90), ("cases", "case", orders[1], 170))]
    out["segments"] = [{"from": "clear", "to": "stack", "loaded": False, "circuit": "stacks"},
                       {"from": "push-off", "to": "erect", "loaded": False, "circuit": "cases"}]
    return out


def three(seed, skus):
    rng = random.Random(seed)
    out = cell(seed, skus)
    out["name"] = f"Three circuits, {skus} SKUs, seed {seed}"
    phi = .45 * 1.05 / .93
    orders = [["stack", "count", "hand-over", "clear"], ["erect", "glue-base", "hand-over", "fold", "pass-on"],
              ["pass-on", "glue", "press", "discharge"]]
    known = {station["id"]: station for station in out["stations"]}
    dwell = round(rng.uniform(2, 5) / phi, 2)
    known["press"] = {
        "depth_mm": 500, "margin_mm": 100, "side": "back",
        "intermittent": {"base_s": dwell, "max_batch": 8, "price": 20000, "price_per_head": 4000},
        "continuous": {"process_s": dwell, "max_batch": 2, "max_speed_m_s": 0.8, "price": 25000, "price_per_head": 6000}}
    known["discharge"] = {**work(rng, phi, 3), "side": "back"}
    known["pass-on"] = work(rng, phi, 3)
    out["stations"] = [{**known[name], "id": name} for name in dict.fromkeys(sum(orders, []))]
    for circuit, order in zip(out["circuits"], orders):
        circuit["order"] = order
    for circuit in out["circuits"]:
        circuit["track"]["forms"] = circuit["track"]["forms"][:1]
    out["circuits"].append({**out["circuits"][1], "id": "closing", "order": orders[2]})
    for sku in out["skus"]:
        sku["loads"]["closing"] = sku["loads"]["cases"]
    out["segments"] = [{"from": "clear", "to": "stack", "loaded": False, "circuit": "stacks"},
                       {"from": "discharge", "to": "pass-on", "loaded": False, "circuit": "closing"}]
    return out


if __name__ == "__main__":
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 48
    make = three if len(sys.argv) > 3 and int(sys.argv[3]) == 3 else cell
    print(json.dumps(make(int(sys.argv[1]), count), indent=1))
