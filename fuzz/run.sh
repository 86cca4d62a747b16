#!/usr/bin/env bash
# fuzz/run.sh TARGET SECONDS: searches on from the seeds and the project's own files; prints coverage and executions at the end.
set -euo pipefail
cd "$(dirname "$0")"
target=$1 seconds=$2
corpus=corpus/$target
mkdir -p "$corpus"
cp ../tests/hostile/seeds/"$target"/* "$corpus"/
case $target in
    scenario) cp ../scenarios/*.toml ../scenarios/templates/*.toml ../tests/wrong/*.toml "$corpus"/ ;;
    catalogue) cp ../scenarios/lineup/cases/*.toml "$corpus"/ ;;
    record) cp ../scenarios/records/*.toml "$corpus"/ ;;
esac
# Ten seconds for one input are a finding: nothing that a person writes takes so long.
cargo fuzz run -s none -O -a "$target" -- -max_total_time="$seconds" -timeout=10 -rss_limit_mb=1500 -max_len=30000 -len_control=0 -print_final_stats=1
