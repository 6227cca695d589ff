"""Fits whether a mark that was found bears anything (src/back/bears.json) and measures it.

    pip install numpy==2.4.* scipy
    cargo run --release --example score_backs -- FOLDER KEPT --bears > marks.csv    (KEPT as in fit_joins.py)
    python training/fit_bears.py src/back/bears.json marks.csv... [-- OTHER_MARKS.csv...]

A logistic regression on the chance of lettering, on how much is read and on how many photographs show the place
bare, each weight pulled to 0 by half its square over `WIDTH` squared. Prints what it says of the other files.
"""

import json
import sys

import numpy as np
from scipy.optimize import minimize

WIDTH = 2.0
SURE = 0.003
LIKELY = 0.15
NAMES = ("bias", "lettering", "read", "bare_on")


def rows(files):
    out = [line.split(",")[1:] for file in files for line in open(file, encoding="utf-8")]
    marks = np.array(out, dtype=float)
    return marks[:, 0], marks[:, 1:]


def measures(x):
    p = np.clip(x[:, 0], SURE, 1 - SURE)
    return np.stack([np.ones(len(x)), np.log(p / (1 - p)), np.log1p(x[:, 1]), x[:, 2]], 1)


def chances(w, x):
    modelled = 1 / (1 + np.exp(-measures(x) @ w))
    return np.where(x[:, 2] > 0, modelled, x[:, 0])


def main():
    out, files = sys.argv[1], sys.argv[2:]
    cut = files.index("--") if "--" in files else len(files)
    true, x = rows(files[:cut])

    def cost(w):
        z = measures(x) @ w
        return np.logaddexp(0, np.where(true == 1, -z, z)).sum() + (w[1:] ** 2).sum() / 2 / WIDTH**2

    w = minimize(cost, np.zeros(4)).x
    with open(out, "w", encoding="utf-8") as file:
        json.dump({k: round(float(v), 3) for k, v in zip(NAMES, w)}, file, indent=1)
        file.write("\n")
    for name, some in (("fitted on", files[:cut]), ("others", files[cut + 1 :])):
        if not some:
            continue
        true_of, of = rows(some)
        p = chances(w, of)
        below = p < LIKELY
        print(
            f"{name}: {len(p)} marks, {int((true_of == 0).sum())} bear nothing; below {LIKELY}: "
            f"{int(below.sum())}, of which {int(true_of[below].sum())} bear something"
        )
        for low, high in ((0, 0.15), (0.15, 0.5), (0.5, 0.85), (0.85, 1.01)):
            here = (p >= low) & (p < high)
            if here.any():
                print(f"  {low:.2f} to {high:.2f}: {here.sum()}, said {p[here].mean():.2f}, true {true_of[here].mean():.2f}")


main()
