"""Fits the chance that one photograph lies on another as told (src/back/plan/sure.json), and measures it.

    pip install numpy==2.4.*
    cargo run --release --example make_samples -- --seed N --pictures M --out FOLDER
    cargo run --release --example dump_pairs -- 10 FOLDER... > pairs.csv
    python training/fit_plan.py pairs.csv src/back/plan/sure.json [OTHER_PAIRS.csv...]

A logistic function of the measures in src/back/plan/sure.rs. A fit is right where its error is at most 2% of
the longer side of the photograph that shows things smaller. Pairs of two pictures are always wrong. Other
pairs (of other seeds) are only measured on.
"""

import csv
import json
import sys

import numpy as np

RIGHT = 0.02
# Weight of the weights' squares: few pairs are doubtful, and a straight cut between right and wrong
# would have the weights grow without end.
HOLD = 0.3


def load(file):
    x, y, one = [], [], []
    with open(file, newline="") as f:
        for row in csv.reader(f):
            x.append([float(v) for v in row[4:]])
            y.append(bool(row[3]) and float(row[3]) <= RIGHT)
            one.append(row[2] == "1")
    return np.array(x), np.array(y, float), np.array(one)


def chances(x, w):
    return 1 / (1 + np.exp(-np.clip(x @ w[1:] + w[0], -40, 40)))


def fit(x, y):
    """Newton's steps; measures are brought to spread 1 so that HOLD means the same for all."""
    mean, spread = x.mean(0), x.std(0) + 1e-9
    a = np.c_[np.ones(len(x)), (x - mean) / spread]
    w = np.zeros(a.shape[1])
    hold = HOLD * np.r_[0, np.ones(x.shape[1])]
    for _ in range(60):
        p = 1 / (1 + np.exp(-np.clip(a @ w, -40, 40)))
        g = a.T @ (p - y) + hold * w
        h = (a * (p * (1 - p) + 1e-9)[:, None]).T @ a + np.diag(hold)
        w -= np.linalg.solve(h, g)
    out = np.r_[w[0] - (w[1:] * mean / spread).sum(), w[1:] / spread]
    return out


def told(name, x, y, one, w):
    p = chances(x, w)
    said = p >= 0.5
    print(f"{name}: {len(y)} pairs, {int(y.sum())} right")
    print(f"  told right {int(said.sum())}, of these wrong {int((said & (y == 0)).sum())}"
          f" ({int((said & (y == 0) & ~one).sum())} of two pictures); right ones missed {int((~said & (y == 1)).sum())}")
    for low, high in [(0, 0.02), (0.02, 0.1), (0.1, 0.5), (0.5, 0.9), (0.9, 0.98), (0.98, 1.01)]:
        m = (p >= low) & (p < high)
        if m.any():
            print(f"  chance {low:.2f} to {min(high, 1):.2f}: {int(m.sum()):5d}, said {p[m].mean():.3f}, right {y[m].mean():.3f}")
    bins = np.minimum((p * 10).astype(int), 9)
    error = sum(abs(p[bins == b].mean() - y[bins == b].mean()) * (bins == b).mean() for b in set(bins))
    print(f"  calibration error {error:.3f}, Brier {((p - y) ** 2).mean():.4f}")


def main():
    x, y, one = load(sys.argv[1])
    w = fit(x, y)
    # No more is promised than as many right pairs can bear out (Laplace's rule of succession).
    most = 1 - 1 / (y.sum() + 2)
    text = {"bias": round(w[0], 4), "weights": [round(v, 4) for v in w[1:]], "most": round(most, 4)}
    with open(sys.argv[2], "w") as f:
        f.write(json.dumps(text) + "\n")
    print(json.dumps(text))
    told("fitted on", x, y, one, w)
    for other in sys.argv[3:]:
        told(other, *load(other), w)


main()
