#!/usr/bin/env bash
# The main job on the worked examples: two dead lamps walked to their verdicts, and their charts.
set -eu
cd "$(dirname "${BASH_SOURCE[0]}")/.."
. tests/ready.sh
ready run || exit $?

nextprobe=.venv/bin/nextprobe
charts=samples/charts
mkdir -p "$charts"

heading() { printf '\n== %s\n' "$*"; }

heading "What nextprobe knows"
"$nextprobe" list

heading "A porch lamp that never lights: light-controlled, answers in samples/porch-lamp.yaml"
"$nextprobe" walk light-controlled-lamp --answers samples/porch-lamp.yaml --json

heading "A reading lamp that went dark: buck driver, answers in samples/reading-lamp.yaml"
"$nextprobe" walk buck-lamp --answers samples/reading-lamp.yaml --json

heading "Charts for the wall, into $charts"
for topology in light-controlled-lamp buck-lamp; do
    "$nextprobe" chart "$topology" --depth stage -o "$charts/$topology.pdf"
done
ls -l "$charts"
