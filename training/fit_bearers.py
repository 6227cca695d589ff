"""Fits what a mark lies on (src/marks/bearing.json) and measures it.

    pip install numpy==2.4.* torch
    cargo run --release --example dump_candidates -- FOLDER... > candidates.csv
    python training/fit_bearers.py candidates.csv src/marks/bearing.json [OTHER_CANDIDATES.csv...]

FOLDER holds made backs of other seeds than the samples' and the network's. Prints what is proposed for
marks of photographs that a fold hasn't seen (three folds, by photograph), then fits on all, writes the
networks, and prints the same for other photographs.
"""

import json
import sys

import numpy as np

from fit_marks import Net, load, sigmoid

# As `Part::ALL` in src/marks/mod.rs; panel and board are one.
PARTS = ["panel", "canvas", "stretcher", "slip", "frame", "backing"]
NAMED = {"board": "panel"}
PLANES = {"panel": (1, 2), "canvas": (3,), "stretcher": (4,), "slip": (5,), "frame": (6,), "backing": (7,)}


def number(part):
    return PARTS.index(NAMED.get(part, part))


def rows(photos, least):
    """Measures, bearer, second bearer (-1: none) of all outlines that are a mark's."""
    x, first, second, which = [], [], [], []
    for n, p in enumerate(photos):
        for i in np.flatnonzero(p.iou >= least):
            a, b = p.bears[p.mark[i]]
            if not a:
                continue
            x.append(p.parts[i])
            first.append(number(a))
            second.append(number(b) if b and number(b) != number(a) else -1)
            which.append((n, p.mark[i], p.iou[i]))
    return np.array(x), np.array(first), np.array(second), which


def fit(photos):
    x, first, second, which = rows(photos, 0.5)
    # The rarest part may be missing: every part keeps an output
    spare = np.zeros((len(PARTS), x.shape[1]))
    for k, part in enumerate(PARTS):
        for plane in PLANES[part]:
            spare[k, [plane, 8 + plane, 16 + plane]] = 1.0 / len(PLANES[part])
    bearer = Net().fit(np.vstack([x, spare]), np.append(first, np.arange(len(PARTS))), hidden=8, decay=0.05)
    bridges = Net().fit(x, (second >= 0)[:, None].astype(float), hidden=8, decay=0.05)
    return bearer, bridges


def best(photos):
    """One outline for each mark: the closest."""
    x, first, second, which = rows(photos, 0.5)
    top = {}
    for r, (n, m, iou) in enumerate(which):
        if (n, m) not in top or iou > which[top[n, m]][2]:
            top[n, m] = r
    keep = sorted(top.values())
    return x[keep], first[keep], second[keep]


def said(x, bearer, bridges):
    odds = bearer(x)
    chance = np.exp(odds - odds.max(1, keepdims=True))
    chance /= chance.sum(1, keepdims=True)
    shown = np.stack([sum(x[:, plane] + x[:, 16 + plane] for plane in PLANES[p]) for p in PARTS], 1)
    shown[np.arange(len(x)), chance.argmax(1)] = -1
    return chance, sigmoid(bridges(x)[:, 0]), shown.argmax(1)


def error(chance, right, bins=10):
    """Expected calibration error, bins of equal width (Naeini and others 2015)."""
    at = np.minimum((chance * bins).astype(int), bins - 1)
    return sum(abs(chance[at == b].mean() - right[at == b].mean()) * (at == b).mean() for b in range(bins) if (at == b).any())


def score(got):
    chance, bridge, other, first, second = (np.concatenate([g[k] for g in got]) for k in range(5))
    top, p = chance.argmax(1), chance.max(1)
    right = top == first
    print(f"  bearer right {right.sum()} of {len(right)} {right.mean():.3f}; calibration error {error(p, right):.3f}")
    for lo, hi in ((0, 0.5), (0.5, 0.8), (0.8, 0.95), (0.95, 1.01)):
        at = (p >= lo) & (p < hi)
        if at.any():
            print(f"    chance {p[at].mean():.2f}: right {right[at].mean():.2f} of {at.sum()}")
    for k, name in enumerate(PARTS):
        at = first == k
        if at.any():
            print(f"    {name:<10} {right[at].sum():>4} of {at.sum()}")
    does = second >= 0
    yes = bridge >= 0.5
    pair = does & (((top == first) & (other == second)) | ((top == second) & (other == first)))
    print(
        f"  bridges: {does.sum()} of {len(does)} do; said of {yes.sum()}, rightly of {(yes & does).sum()}, with both parts of"
        f" {(yes & pair).sum()}; calibration error {error(bridge, does):.3f}, Brier {((bridge - does) ** 2).mean():.3f}"
    )


def main():
    photos = load(sys.argv[1])
    order = np.random.default_rng(0).permutation(len(photos))
    got = []
    for fold in range(3):
        held = set(order[fold::3].tolist())
        nets = fit([p for i, p in enumerate(photos) if i not in held])
        x, first, second = best([photos[i] for i in sorted(held)])
        got.append((*said(x, *nets), first, second))
    print(f"{len(photos)} photographs, folds unseen:")
    score(got)
    bearer, bridges = fit(photos)
    with open(sys.argv[2], "w", encoding="utf-8") as out:
        json.dump({"bearer": bearer.as_json(), "bridges": bridges.as_json()}, out, separators=(",", ":"))
        out.write("\n")
    for path in sys.argv[3:]:
        print(f"{path}, never fitted on:")
        x, first, second = best(load(path))
        score([(*said(x, bearer, bridges), first, second)])


if __name__ == "__main__":
    main()
