#!/usr/bin/env bash
# Trains on all GPUs of the machine that this runs on and brings the results to $OUT.
#   gpu.sh DATA SECONDS [further arguments of train.py]
# DATA holds fonts.zip (made by fonts.py), lines/ (made by pack_lines.py) and, to go on, checkpoint.pt.
set -eu
data=$1 seconds=$2
shift 2
here=$(cd "$(dirname "$0")" && pwd)
work=${WORK:-/tmp/lines-run}
mkdir -p "$work"
[ -d "$work/fonts" ] || python3 -m zipfile -e "$data/fonts.zip" "$work/fonts"
resume=()
[ -f "$data/checkpoint.pt" ] && resume=(--resume "$data/checkpoint.pt")
[ -f "$work/out/checkpoint.pt" ] && resume=(--resume "$work/out/checkpoint.pt")
export OMP_NUM_THREADS=1 PYTHONUNBUFFERED=1
gpus=$(nvidia-smi -L | wc -l)
exec python3 -m torch.distributed.run --standalone --nproc_per_node="$gpus" "$here/train.py" \
  --fonts "$work/fonts" --lines "$data/lines" --out "$work/out" --seconds "$seconds" "${resume[@]}" "$@"
