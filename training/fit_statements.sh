#!/bin/sh
# Fits the model of src/statements and prints its figures. Needs Python 3.11 and no packages; about a minute of one
# core for a thousand marks, four passes.
#
#   training/fit_statements.sh WORK [FOLD] [SETS] [MARKS] [PASSES]
#
# WORK/fold-N: marks whose wordings are of the other folds (train), of fold N (temper: for how far chances are to be
# believed; plain and eighth: measured only). FOLD "all" fits what ships: on every wording, believed as far as fold 0's is.
set -eu
work=$1 fold=${2:-0} sets=${3:-22} marks=${4:-350} passes=${5:-4}
here=$(cd "$(dirname "$0")" && pwd)
cd "$here/.."
cargo build --release --example fit_statements
fit=target/release/examples/fit_statements
make() { python3 "$here/make_statements.py" "$@"; }
at=$work/fold-$fold
if [ "$fold" = all ]; then
    # No wording has the fold 9: none is left out
    make "$at/train" --sets "$sets" --marks "$marks" --seed 1 --fold 9 --part train
    $fit fit "$at/train" "$at/raw.bin" "$passes" 1e-5
    $fit believe "$at/raw.bin" "$work/fold-0/model.bin" src/statements/model.bin
    exit
fi
make "$at/train" --sets "$sets" --marks "$marks" --seed 1 --fold "$fold" --part train
make "$at/temper" --sets 6 --marks 150 --seed 50 --fold "$fold" --part test
make "$at/plain" --sets 6 --marks 150 --seed 78 --fold "$fold" --part test --damage 0
make "$at/eighth" --sets 6 --marks 150 --seed 79 --fold "$fold" --part test --damage 0.125
$fit fit "$at/train" "$at/raw.bin" "$passes" 1e-5
$fit temper "$at/raw.bin" "$at/temper" "$at/model.bin"
$fit score "$at/model.bin" "$at/plain" "fold $fold, plain"
$fit score "$at/model.bin" "$at/eighth" "fold $fold, an eighth of the long words damaged"
