#!/usr/bin/env bash
# Makes the committed reports again and compares every text file of theirs byte for byte with the committed one.
# For changes that must not change a word: exits 1 and shows the first differences. With --write, samples and reports
# are replaced by what was made, pictures too.
#   tests/same_reports.sh [--write] [PROGRAM]      without PROGRAM the dev build is made and used
set -euo pipefail
cd "$(dirname "$0")/.."
write=no
if [ "${1:-}" = --write ]; then
    write=yes
    shift
fi
program=${1:-}
if [ -z "$program" ]; then
    cargo build --quiet
    program=${CARGO_TARGET_DIR:-target}/debug/noisetally
fi
program=$(realpath "$program")
made=$(mktemp -d)
trap 'rm -rf "$made"' EXIT
top=$PWD
cd "$made"
"$program" demo samples/pond-evening >/dev/null && "$program" session samples/pond-evening >/dev/null 2>&1
"$program" demo --evening loft samples/loft-evening >/dev/null && "$program" session samples/loft-evening >/dev/null 2>&1
"$program" demo --evening lane samples/lane-evening >/dev/null && "$program" session samples/lane-evening >/dev/null 2>&1
"$program" demo --evening night shed-night >/dev/null && "$program" night shed-night >/dev/null 2>&1
if [ $write = yes ]; then
    rm -rf "$top/samples" "$top/reports"
    cp -r samples reports "$top"
    exit 0
fi
status=0
# The page holds the pictures, whose bytes are not compared.
diff -r --brief --exclude='*.png' --exclude=report.html "$top/reports" reports || status=1
if [ $status = 1 ]; then
    diff -r --exclude='*.png' --exclude=report.html "$top/reports" reports | cut -c1-300 | head -60
else
    echo "all text files of $(find reports -mindepth 1 -maxdepth 1 -type d | wc -l) reports are the same"
fi
exit $status
