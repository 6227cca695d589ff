#!/usr/bin/env bash
# Renders made backs and trains the network that finds marks, on a machine with one GPU.
#   training/gpu_marks.sh MAKE_SAMPLES RENDER_SECONDS TRAIN_SECONDS OUT
# MAKE_SAMPLES is the built example (`cargo build --release --example make_samples`); its fonts lie in
# samples/maker/fonts. Run it from the root of the repository.
set -u
make=$1 render=$2 train=$3 out=$4
backs=${BACKS:-/tmp/backs}
mkdir -p "$backs" "$out"
begun=$SECONDS
for i in $(seq "$(nproc)"); do
  (
    # Seeds from 20000 on are the network's: the choice among candidates is fitted on others.
    fonts=seen only=
    [ $((i % 3)) = 0 ] && fonts=unseen
    [ $((i % 3)) = 1 ] || only="--only whole"
    k=0
    while left=$((render - SECONDS + begun)) && [ "$left" -gt 4 ]; do
      timeout "$left" "$make" --seed $((20000 + i * 100 + k)) --count 10 --smaller 2 --parts $only --fonts $fonts \
        --out "$backs/$i-$k" > /dev/null
      k=$((k + 1))
    done
  ) &
done
wait
python3 "$(dirname "$0")/train_marks.py" --data "$backs" --out "$out" --seconds "$train"
