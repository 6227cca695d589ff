#!/usr/bin/env bash
# Fits how far the chances of `dorso monogram` are to be believed, on made cases of one half of the artists,
# and prints the table of the card, of the other half; some minutes of one core.
#   training/fit_monograms.sh [ARTISTS.csv]
set -eu
cd "$(dirname "$0")/.."
cargo run --release --example monogram_cases -- "${1:-gazetteer/artists.csv}" fit src/monogram/who.json
