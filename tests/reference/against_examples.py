"""The judge on every example's plan: python3 against_examples.py [FOLDER]

A cell document NAME.yaml (or .json) has its plan beside it, NAME.plan.json. Exit 1 when a plan does not hold, when one is
missing, or when there is nothing to judge.
"""
import os
import sys

import coupled
import judge
import model

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")
PLAN = ".plan.json"


def cells(folder):
    for where, _, names in os.walk(folder):
        for name in sorted(names):
            stem, ending = os.path.splitext(name)
            if ending in (".yaml", ".yml", ".json") and not name.endswith(PLAN):
                yield os.path.join(where, name), os.path.join(where, stem + PLAN)


def faults_of(cell_path, plan_path):
    if not os.path.exists(plan_path):
        return "no plan", [f"{plan_path} is missing"]
    plan = model.read_document(plan_path)
    if plan.get("status") != "planned":
        return plan.get("status"), []
    doc = model.read_document(cell_path)
    several = len(doc["circuits"]) > 1
    j = coupled.Several(coupled.Coupled(doc), plan) if several else judge.Judge(model.read_cell(doc), plan)
    try:
        return "planned", j.judge()
    except (KeyError, TypeError, IndexError) as error:
        return "planned", j.faults + [f"{j.where}plan document: {type(error).__name__} {error}"]


def main(argv):
    folder = argv[1] if len(argv) > 1 else os.path.join(ROOT, "examples")
    looked, judged, failed = 0, 0, 0
    for cell_path, plan_path in cells(folder):
        status, faults = faults_of(cell_path, plan_path)
        looked, judged, failed = looked + 1, judged + (status == "planned"), failed + bool(faults)
        print(f"{os.path.relpath(cell_path, folder)}: {status}{'' if faults or status != 'planned' else ', all holds'}")
        for line in faults:
            print(f"  FAILED {line}")
    print(f"{looked} examples, {judged} plans judged, {failed} that do not hold")
    return 1 if failed or judged == 0 else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv))
