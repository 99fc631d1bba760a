#!/usr/bin/env bash
# The main job on the worked examples: two lamps walked to their verdicts, and every unit's chart.
set -eu
cd "$(dirname "${BASH_SOURCE[0]}")/.."
. tests/ready.sh
ready run || exit $?

nextprobe=.venv/bin/nextprobe
out=samples/out
mkdir -p "$out"

heading() { printf '\n== %s\n' "$*"; }

# The answers decide the verdict; the same walk, as a document, goes into $out.
walk() { # TOPOLOGY COMPLAINT NAME
    "$nextprobe" walk "$1" --complaint "$2" --answers "samples/$3.yaml"
    "$nextprobe" walk "$1" --complaint "$2" --answers "samples/$3.yaml" --json >"$out/$3.walk.json"
}

heading "What nextprobe knows"
"$nextprobe" list

heading "A porch lamp that never comes on in the dark: the answers in samples/porch-lamp.yaml"
walk light-controlled-lamp never-on-in-dark porch-lamp

heading "A reading lamp that flickers: the answers in samples/reading-lamp.yaml"
walk buck-lamp flicker reading-lamp

heading "Every shipped topology as a chart for the wall and as a page for the phone, into $out/charts"
"$nextprobe" chart --all --depth stage --format pdf --format html --format json -o "$out/charts"
ls -l "$out" "$out/charts"
