#!/usr/bin/env bash
# Makes page/tideover.html: the sheet with the engine inside, one file that needs nothing else.
#
#   bash page/build.sh [OUT.html]
#
# Needs node, xz and a compiler for wasm32-unknown-unknown: `rustup target add wasm32-unknown-unknown`, or on Debian
# `apt-get install rustc-web cargo-web rust-web-src lld`.
set -euo pipefail
cd "$(dirname "$0")/.."
out=${1:-page/tideover.html}
target=wasm32-unknown-unknown
folder=${PAGE_TARGET_DIR:-${CARGO_TARGET_DIR:-target}/page}
# Vectors of 128 bits; a megabyte of stack is what a thread has elsewhere too.
export RUSTFLAGS="-C target-feature=+simd128 -C link-arg=-zstack-size=1048576"
export TIDEOVER_TABLES="$(realpath -m "$folder")/tables"
node page/tables.mjs "$TIDEOVER_TABLES"
arguments=(rustc --locked --lib --crate-type cdylib --profile page --no-default-features --features page,stored-tables --target "$target" --target-dir "$folder")
if [ -d "$(rustc --print sysroot)/lib/rustlib/$target" ]; then
    cargo "${arguments[@]}"
else
    RUSTC=/usr/bin/rustc RUSTC_BOOTSTRAP=1 CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER=wasm-ld \
        /usr/bin/cargo "${arguments[@]}" -Z build-std=std,panic_abort
fi
node page/pack.mjs "$folder/$target/page/tideover.wasm" "$out"
