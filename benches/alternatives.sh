#!/usr/bin/env bash
# CPU seconds of a rate sweep of 50 points, a compare with the usual variants, and a conflict of the cell with 10 stations
# and 48 SKUs; and how many of their plans are proven. Divide by two for two cores.
#
#   cargo build --release --locked && bash benches/alternatives.sh [SECONDS]
#
# SECONDS (default 600) limits each of the three by the clock on the wall.
set -euo pipefail
cd "$(dirname "$0")/.."
limit=${1:-600}
program=${PROGRAM:-target/release/loopwright}
cell=benches/cells/s10-k48-h8-both-1.json
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
python3 - "$cell" "$folder/narrow.json" <<'P'
import json, sys
cell = json.load(open(sys.argv[1]))
cell.setdefault("requirements", {})["floor"] = {"length_mm": 9000, "width_mm": 4500}
json.dump(cell, open(sys.argv[2], "w"))
P
measure() {
    local name=$1
    shift
    # An impossible cell ends with 1.
    TIMEFORMAT="$name: %U s CPU, %R s on the clock"
    time "$program" "$@" --json --time-limit "$limit" >"$folder/$name.json" || test $? -eq 1
    python3 - "$folder/$name.json" <<'P'
import json, sys
said = json.load(open(sys.argv[1]))
plans = [part["plan"] for part in said.get("points", []) + said.get("variants", [])] or [said["plan"]]
print(f"  {sum(plan['proven'] for plan in plans)} of {len(plans)} proven")
P
}
measure sweep sweep "$cell" --over 'rate*0.8..1.2/50' --crossover 0
measure compare compare "$cell"
measure conflict explain "$folder/narrow.json"
