#!/bin/sh
# Makes the README's pictures from the demos. Needs chromium; TIDEOVER is the program, built in release where not given.
set -eu
cd "$(dirname "$0")/../.."
program=${TIDEOVER:-"cargo run --quiet --release --"}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
$program run scenarios/winter-storm.toml --quiet --html "$work/run.html" >/dev/null
$program lineup scenarios/lineup/catalogue.toml --cases scenarios/lineup/cases --results "$work/results.tsv" --quiet \
  --html "$work/lineup.html" >/dev/null

# NAME PAGE SECTION HEIGHT WIDTH: the page from the section of that number on.
picture() {
  sed "s|</style>|header, section:nth-of-type(-n+$(($3 - 1))) { display: none; } h2 { border: 0; margin-top: 0; }</style>|" \
    "$work/$2.html" >"$work/part.html"
  chromium --headless --no-sandbox --disable-gpu --hide-scrollbars --screenshot="docs/pictures/$1.png" \
    --window-size="$5,$4" "file://$work/part.html" >/dev/null 2>&1
}
picture outage run 3 995 720
picture line-up lineup 1 655 1000
