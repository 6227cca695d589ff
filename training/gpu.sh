#!/usr/bin/env bash
# Trains on all GPUs of the machine that this runs on.
#   gpu.sh DATA SECONDS [further arguments of train.py]
# DATA holds fonts.zip (made by fonts.py), lines/ (made by pack_lines.py), reader.onnx (a network that lays the texts
# over the lines, for recomposed ones) and, to go on, checkpoint.pt. KINDS: kinds of made lines (see draw.py), else all.
set -eu
data=$(realpath "$1") seconds=$2
shift 2
here=$(cd "$(dirname "$0")" && pwd)
work=${WORK:-/tmp/lines-run}
mkdir -p "$work/drawn"
[ -d "$work/fonts" ] || python3 -m zipfile -e "$data/fonts.zip" "$work/fonts"
resume=()
[ -f "$data/checkpoint.pt" ] && resume=(--resume "$data/checkpoint.pt")
[ -f "$work/out/checkpoint.pt" ] && resume=(--resume "$work/out/checkpoint.pt")
export OMP_NUM_THREADS=1 PYTHONUNBUFFERED=1
gpus=$(nvidia-smi -L | wc -l)
cores=$(($(nproc) - 2 * gpus))
cd "$here"
composers=$((cores / 2))
case " $* " in *" --composed 0 "*) composers=0 ;; esac
[ $composers = 0 ] || [ -f "$work/writers.pkl" ] || python3 aligned.py "$data/reader.onnx" "$data/lines" "$work/writers.pkl"
rm -f "$work/drawn/stop"
python3 draw.py "$work/fonts" "$work/writers.pkl" "$work/drawn" $((cores - composers)) $composers 20000 "$(date +%s)" ${KINDS:+"$KINDS"} &
trap 'touch "$work/drawn/stop"' EXIT
python3 -m torch.distributed.run --standalone --nproc_per_node="$gpus" train.py \
  --drawn "$work/drawn" --lines "$data/lines" --out "$work/out" --seconds "$seconds" "${resume[@]}" "$@"
