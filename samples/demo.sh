#!/usr/bin/env bash
# Reads the sample photographs, picture by picture, into a store of their own, lists what needs a
# person, and writes a provenance note for each picture. Photographs already read are passed over.
# Usage: samples/demo.sh PROGRAM OUT
set -uo pipefail
program=$1
out=$2
cd "$(dirname "$0")/.." || exit 1
mkdir -p "$out/notes"
export DORSO_STORE="$out/demo.sqlite" DORSO_GAZETTEER=samples/gazetteer
shopt -s nullglob
pictures=$(for f in samples/photographs/*.jpg; do f=${f##*/}; echo "${f%%-*}"; done | sort -u)
[ -n "$pictures" ] || { echo "demo: no sample photographs; run make samples"; exit 1; }
for picture in $pictures; do
  echo "Reading $picture"
  "$program" read --only-new --picture "$picture" --by demo samples/photographs/"$picture"-*.jpg \
    >>"$out/readings.txt" || exit 1
  "$program" note "$picture" --replace --out "$out/notes" >/dev/null || exit 1
done
"$program" queue >"$out/queue.txt" || exit 1
echo
echo "The provenance notes lie in      $out/notes (open the .html files in a browser)"
echo "What was read, as text:          $out/readings.txt"
echo "What needs a person, first first: $out/queue.txt"
sed -n 1,6p "$out/queue.txt"
echo "Settle one with:                 DORSO_STORE=$out/demo.sqlite $program settle --help"
