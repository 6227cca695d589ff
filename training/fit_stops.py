"""Log-odds of a comma rather than a full stop (`COMMA` in `src/readings/stops.rs`).

`python fit_stops.py STOPS.csv[*TIMES]... [-- OTHERS.csv...]`: rows of `tight_crops stops FOLDER` on pictures of single
lines: logarithm of height by width, the network's own log-odds, 1 for a comma. Log-odds = a + b shape + c own, by least
log loss with a small penalty on b and c. Prints how many stops are wrong by the network alone and so; `*2` behind a file
counts its rows twice; files after `--` have no part in the fit.
"""

import csv
import math
import sys

PENALTY = 0.3


def load(name):
    name, _, times = name.partition("*")
    rows = [(float(r["shape"]), float(r["own"]), int(r["comma"])) for r in csv.DictReader(open(name))]
    return name, rows, int(times or 1)


def solve(m, v):
    """Gauss-Jordan elimination, three unknowns."""
    rows = [list(r) + [x] for r, x in zip(m, v)]
    for i in range(3):
        pivot = max(range(i, 3), key=lambda k: abs(rows[k][i]))
        rows[i], rows[pivot] = rows[pivot], rows[i]
        rows[i] = [x / rows[i][i] for x in rows[i]]
        for k in range(3):
            if k != i:
                rows[k] = [x - rows[k][i] * y for x, y in zip(rows[k], rows[i])]
    return [r[3] for r in rows]


def odds(w, row):
    return w[0] + w[1] * row[0] + w[2] * row[1]


def fit(rows):
    """Newton's method."""
    w = [0.0, 0.0, 0.0]
    for _ in range(60):
        g = [0.0, -PENALTY * w[1], -PENALTY * w[2]]
        h = [[0.0] * 3, [0.0, PENALTY, 0.0], [0.0, 0.0, PENALTY]]
        for row in rows:
            x = (1.0, row[0], row[1])
            p = 1 / (1 + math.exp(-odds(w, row)))
            for i in range(3):
                g[i] += (row[2] - p) * x[i]
                for k in range(3):
                    h[i][k] += p * (1 - p) * x[i] * x[k]
        w = [a + b for a, b in zip(w, solve(h, g))]
    return w


def main():
    names = sys.argv[1:]
    parts = names.index("--") if "--" in names else len(names)
    fitted, others = [load(n) for n in names[:parts]], [load(n) for n in names[parts + 1:]]
    w = fit([r for _, rows, times in fitted for r in rows * times])
    print("COMMA", *(round(x, 2) for x in w))
    for name, rows, _ in fitted + others:
        alone = sum((r[1] > 0) != bool(r[2]) for r in rows)
        wrong = sum((odds(w, r) > 0) != bool(r[2]) for r in rows)
        print(f"{name}: {len(rows)} stops, wrong by the network alone {alone}, so {wrong}")


main()
