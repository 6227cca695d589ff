"""Fits which sightings are one mark (src/back/joins.json) and measures it.

    pip install numpy==2.4.* scipy
    cargo run --release --example make_samples -- --seed 3101 --pictures 20 --out FOLDER
    cargo run --release --example dump_joins -- read FOLDER KEPT
    cargo run --release --example dump_joins -- pairs FOLDER KEPT > pairs.csv
    cargo run --release --example dump_joins -- pairs FOLDER KEPT none > unplaced.csv
    python training/fit_joins.py src/back/joins.json pairs.csv unplaced.csv [-- OTHER_PAIRS.csv...]

One logistic regression for each way in which the plan can have a pair lie, with weights of looks and wording
in common; the odds of all pairs that
compete for a sighting are weighed against each other, and the weights of the three are those under which
what is true was likeliest so, each pulled to 0 by half its square over a width's square; that of the plan's
log-odds to 1 where they lie together and to -1 where apart, as those odds would count by themselves. The
width is the one of `WIDTHS` under which pictures that a fold hasn't seen (five folds) were likeliest. Prints
what the joins are worth on those, then fits on all pairs of the first files, and prints the same of the
other files.
"""

import json
import sys

import numpy as np
from scipy.optimize import minimize

# Measures of each way beside those of every way
WAYS = {"together": 9, "apart": 4, "unplaced": 0}
LOOKS = 5
LEAST = 0.02
WIDTHS = (1.0, 3.0)
# Where the plan's log-odds stand among the measures, and what their weights are pulled to
SURE = {"together": (7, 1.0), "apart": (2, -1.0)}
FOLDS = 5


class Pairs:
    """Pairs of one or more files: `same` is 1, 0, or -1 where neither is wrong."""

    def __init__(self, files):
        self.rows = []
        for file in files:
            with open(file, encoding="utf-8") as rows:
                next(rows)
                self.rows += [[*row.rstrip("\n").split(","), file] for row in rows]
        self.file = np.array([r[6] for r in self.rows])
        self.picture = np.array([r[0] for r in self.rows])
        self.same = np.array([-1.0 if r[3] == "?" else float(r[3]) for r in self.rows])
        self.measures = [np.array([float(v) for v in r[5].split()]) for r in self.rows]

    def part(self, held):
        out = Pairs([])
        out.rows = [r for r, h in zip(self.rows, held) if h]
        out.file = self.file[held]
        out.picture, out.same = self.picture[held], self.same[held]
        out.measures = [m for m, h in zip(self.measures, held) if h]
        return out

    def prepared(self):
        """For each way its rows and measures, and for each pair the numbers of its two competitions."""
        ways = {}
        for way, n in WAYS.items():
            at = np.array([i for i, r in enumerate(self.rows) if r[4] == way], dtype=int)
            ways[way] = (at, np.array([self.measures[i] for i in at]).reshape(-1, LOOKS + n))
        numbers = {}
        beside = [
            [numbers.setdefault((r[6], one, other.split(":")[0]), len(numbers)) for one, other in ((r[1], r[2]), (r[2], r[1]))]
            for r in self.rows
        ]
        return ways, np.array(beside, dtype=int).reshape(-1, 2), len(numbers)


def split(w):
    model, at = {"looks": w[:LOOKS]}, LOOKS
    for way, n in WAYS.items():
        model[way] = w[at : at + n + 1]
        at += n + 1
    return model


def chances(model, prepared):
    ways, beside, count = prepared
    odds = np.zeros(len(beside))
    for way, (at, x) in ways.items():
        odds[at] = np.exp(np.clip(model[way][0] + x @ np.append(model["looks"], model[way][1:]), -30, 30))
    sums = np.bincount(beside.ravel(), np.repeat(odds, 2), count)
    return odds / (1.0 + sums[beside].sum(axis=1) - odds)


def fit(pairs, width):
    prepared = pairs.prepared()
    known, same = pairs.same >= 0, pairs.same
    free = np.cumsum([LOOKS] + [n + 1 for n in WAYS.values()])[:-1]
    pull = np.full(LOOKS + sum(WAYS.values()) + len(WAYS), 1.0 / width**2)
    pull[free] = 0.01
    to = np.zeros(len(pull))
    for at, way in zip(free, WAYS):
        if way in SURE:
            to[at + 1 + SURE[way][0]] = SURE[way][1]

    def cost(w):
        p = np.clip(chances(split(w), prepared), 1e-9, 1 - 1e-9)[known]
        y = same[known]
        return -(y * np.log(p) + (1 - y) * np.log1p(-p)).sum() + (pull * (w - to) ** 2).sum() / 2

    start = to.copy()
    start[free] = [-2.0, -5.0, -3.0]
    return split(minimize(cost, start, method="L-BFGS-B", options={"maxfun": 40000}).x)


def told(name, p, same):
    on = p >= LEAST
    joined = p >= 0.5
    right = (joined & (same == 1)).sum()
    error = sum(
        abs(p[here].sum() - same[here].sum())
        for here in (on & (np.minimum((p * 10).astype(int), 9) == k) for k in range(10))
    ) / max(on.sum(), 1)
    print(
        f"{name}: {len(p)} pairs, {int(same.sum())} one mark; joined at 0.5: "
        f"recall {right / max(same.sum(), 1):.3f}, precision {right / max(joined.sum(), 1):.3f}; "
        f"calibration error of {on.sum()} joins {error:.3f}"
    )


def wrong(pairs, p):
    for r, c, same in sorted(zip(pairs.rows, p, pairs.same), key=lambda z: z[1]):
        if same >= 0 and (c >= 0.5) != (same == 1):
            print(f"  {c:.3f} {same:.0f} {r[4]} {r[1]} {r[2]} {r[5]}")


def main():
    out, rest = sys.argv[1], sys.argv[2:]
    cut = rest.index("--") if "--" in rest else len(rest)
    pairs = Pairs(rest[:cut])
    names = sorted(set(pairs.picture))
    known = pairs.same >= 0
    tried = {}
    for width in WIDTHS:
        unseen = np.zeros(len(pairs.rows))
        for fold in range(FOLDS):
            held = np.isin(pairs.picture, names[fold::FOLDS])
            if held.any() and not held.all():
                unseen[held] = chances(fit(pairs.part(~held), width), pairs.part(held).prepared())
        p = np.clip(unseen, 1e-4, 1 - 1e-4)[known]
        likely = np.where(pairs.same[known] == 1, np.log(p), np.log1p(-p)).sum()
        print(f"width {width}: log chance of what is true, unseen, {likely:.1f}")
        tried[width] = (likely, unseen)
    width = max(tried, key=lambda k: tried[k][0])
    unseen = tried[width][1]
    for way in WAYS:
        of = np.array([r[4] == way for r in pairs.rows])
        print(f"{way}: {of.sum()} pairs, {(pairs.same[of] == 1).sum()} one mark")
    for file in rest[:cut]:
        of = (pairs.file == file) & (pairs.same >= 0)
        told(f"{file}, {len(names)} pictures, in folds", unseen[of], pairs.same[of])
    wrong(pairs, unseen)
    model = fit(pairs, width)
    with open(out, "w", encoding="utf-8") as file:
        json.dump({k: [round(float(v), 4) for v in w] for k, w in model.items()}, file, indent=1)
        file.write("\n")
    for file in rest[cut + 1 :]:
        other = Pairs([file])
        p, known = chances(model, other.prepared()), other.same >= 0
        told(f"{file}, {len(set(other.picture))} pictures", p[known], other.same[known])
        wrong(other, p)


main()
