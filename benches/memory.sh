#!/usr/bin/env bash
# Time and peak memory of planning each example and each cell of benches/cells: bash benches/memory.sh [SECONDS]
# Needs a release build (`cargo build --release`) and GNU time (Debian: package time).
set -euo pipefail
cd "$(dirname "$0")/.."
limit=${1:-10}
program=target/release/loopwright
clock=/usr/bin/time
[ -x "$program" ] || { echo "no $program: run 'cargo build --release' first" >&2; exit 1; }
[ -x "$clock" ] || { echo "no $clock: install the package 'time' first" >&2; exit 1; }

note=$(mktemp)
trap 'rm -f "$note"' EXIT
printf '%-44s %8s %9s\n' cell seconds 'peak MiB'
find examples benches/cells -type f \( -name '*.yaml' -o -name '*.yml' -o -name '*.json' \) ! -name '*.plan.json' | sort |
    while read -r cell; do
        # Exit code 1 is the answer that there is no plan.
        "$clock" -q -o "$note" -f '%e %M' "$program" plan "$cell" --json --time-limit "$limit" > /dev/null 2>&1 || [ $? = 1 ]
        awk -v cell="$cell" 'END { printf "%-44s %8.2f %9.1f\n", cell, $1, $2 / 1024 }' "$note"
    done
