#!/usr/bin/env bash
# Makes samples and trains the network that finds rows, on a machine with one GPU.
#   training/gpu_rows.sh MAKE_SAMPLES DATA RENDER_SECONDS MAKE_SECONDS TRAIN_SECONDS OUT [further arguments of train_rows.py]
# DATA holds fonts.zip and lines/ as for the recogniser. MAKE_SAMPLES is the built example; run from the root of the repository.
# What was made stays in $WORK: a second call with RENDER_SECONDS and MAKE_SECONDS 0 trains on with it.
set -u
make=$1 data=$2 render=$3 seconds=$4 train=$5 out=$6
shift 6
here=$(cd "$(dirname "$0")" && pwd)
work=${WORK:-/tmp/rows-run}
mkdir -p "$work/backs" "$work/samples" "$out"
cores=$(nproc)  # before OMP_NUM_THREADS, which nproc heeds
export OMP_NUM_THREADS=1 PYTHONUNBUFFERED=1
[ -d "$work/fonts" ] || python3 -m zipfile -e "$data/fonts.zip" "$work/fonts"
if [ "$render" -gt 0 ]; then
  begun=$SECONDS
  for i in $(seq "$cores"); do
    (
      fonts=seen only=
      [ $((i % 3)) = 0 ] && fonts=unseen
      [ $((i % 2)) = 1 ] || only="--only whole"
      k=0
      while left=$((render - SECONDS + begun)) && [ "$left" -gt 4 ]; do
        timeout "$left" "$make" --seed $((40000 + i * 100 + k)) --count 6 --smaller 2 --bands $only --fonts $fonts \
          --out "$work/backs/$i-$k" > /dev/null
        k=$((k + 1))
      done
    ) &
  done
  wait
  echo "backs: $(ls "$work"/backs/*/*.bands.json | wc -l)"
fi
if [ "$seconds" -gt 0 ]; then
  for i in $(seq $((cores - 1))); do
    python3 "$here/rows.py" "$work/fonts" "$data/lines" "$work/backs" "$work/samples" $((i + ${SEED:-0})) "$seconds" 2> "$work/made-$i.log" &
  done
fi
resume=()
[ -f "$out/rows.pt" ] && resume=(--resume "$out/rows.pt")
[ -f "$work/rows.pt" ] && resume=(--resume "$work/rows.pt")
python3 "$here/train_rows.py" --data "$work/samples" --out "$out" --seconds "$train" "${resume[@]}" "$@"
cp "$out/rows.pt" "$work/rows.pt"
tail -qn 2 "$work"/made-*.log | sort | uniq -c | head -5
