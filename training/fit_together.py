"""Fits how sightings of one mark are weighed together (src/back/together.json) and measures it.

    pip install numpy==2.* scipy==1.*
    cargo run --release --example put_together -- read FOLDER KEPT
    cargo run --release --example put_together -- dump FOLDER KEPT > evidence.jsonl
    python training/fit_together.py evidence.jsonl src/back/together.json [OTHER.jsonl]

FOLDER holds made pictures, each photographed several times. The pool is the one of src/back/together/pool.rs;
its numbers are fitted by least log loss of the true signs, with a pull to the start; then what is stated of
letters and lines, by logistic regression on what the pool says. Prints log loss and calibration error of the pool
and of what is stated, on folds by picture that a fit hasn't seen, and on OTHER.
"""

import json
import sys

import numpy as np
from scipy.optimize import minimize

LARGE = 60.0
MOST = 0.9995
NAMES = ["dependence", "clarity", "height", "unlisted", "invented", "silence", "silence by clarity", "run", "empty"]
# As they are searched: log-odds of shares, the rest as they are.
START = np.array([0.0, 0.3, 0.0, -3.5, -1.0, 0.5, 0.2, 0.5, -1.0])
# Standard deviation of a normal prior about the start.
SPREAD = np.array([1.5, 0.5, 1.0, 1.5, 1.5, 1.5, 0.5, 0.5, 1.5])


def logistic(x):
    return 1 / (1 + np.exp(-x))


def logit(p):
    return np.log(p / (1 - p))


def named(x):
    return {
        "dependence": logistic(x[0]),
        "clarity": [x[1], x[2]],
        "unlisted": logistic(x[3]),
        "invented": logistic(x[4]),
        "silence": [x[5], x[6]],
        "run": max(x[7], 0.0),
        "empty": logistic(x[8]),
    }


def true_signs(slots, truth):
    """The true sign of each position (empty: none), by the likeliest alignment of the row with the true line."""
    means = []
    for slot in slots:
        said = [s for s in slot if s is not None]
        mean = {}
        for s in said:
            for sign, p in s or [["", 0.8]]:
                mean[sign] = mean.get(sign, 0.0) + p / len(said)
        means.append(mean)
    n, m = len(slots), len(truth)
    best = np.full((n + 1, m + 1), -np.inf)
    best[0, 0] = 0
    step = np.zeros((n + 1, m + 1), int)
    for i in range(n + 1):
        for j in range(m + 1):
            if i and j:
                v = best[i - 1, j - 1] + np.log(means[i - 1].get(truth[j - 1], 0) + (1e-4 if " " == truth[j - 1] else 2e-3))
                if v > best[i, j]:
                    best[i, j], step[i, j] = v, 0
            if i:
                v = best[i - 1, j] + np.log(0.05 + means[i - 1].get("", 0))
                if v > best[i, j]:
                    best[i, j], step[i, j] = v, 1
            if j:
                v = best[i, j - 1] - 6
                if v > best[i, j]:
                    best[i, j], step[i, j] = v, 2
    out = [""] * n
    i, j = n, m
    while i or j:
        s = step[i, j]
        if s == 0:
            i, j = i - 1, j - 1
            out[i] = truth[j]
        elif s == 1:
            i -= 1
        else:
            j -= 1
    return out


class Rows:
    """The positions of all rows as arrays."""

    def __init__(self, file):
        self.rows = [json.loads(line) for line in open(file, encoding="utf8")]
        most = max(len(r["row"]["looks"]) for r in self.rows)
        kinds, clarity, height, run, listed, rest, candidates, target, of = [], [], [], [], [], [], [], [], []
        width = 0
        for number, r in enumerate(self.rows):
            row, truth = r["row"], r["truth"]
            slots = row["slots"]
            if truth is None or len(slots) == 0:
                continue
            signs = true_signs(slots, truth)
            lengths = silences(slots)
            for i, slot in enumerate(slots):
                all_signs = sorted({""} | {s for v in slot if v for s, _ in v})
                kind, c, h, length, told, left = [], [], [], [], [], []
                for v in range(most):
                    said = slot[v] if v < len(slot) else None
                    kind.append(0 if said is None else 1 if said else 2)
                    look = row["looks"][v] if v < len(slot) and row["looks"][v] else [0.0, 1.0]
                    c.append(look[0])
                    h.append(np.log(min(look[1], LARGE)))
                    length.append(lengths[i][v] if v < len(slot) else 0)
                    chances = dict((s, p) for s, p in said or [])
                    told.append([chances.get(s, np.nan) for s in all_signs])
                    left.append(max(1 - sum(chances.values()), 1 - MOST))
                kinds.append(kind), clarity.append(c), height.append(h), run.append(length)
                listed.append(told), rest.append(left), candidates.append(all_signs), of.append(number)
                target.append(all_signs.index(signs[i]) if signs[i] in all_signs else -1)
                width = max(width, len(all_signs))
        n = len(kinds)
        self.kind, self.clarity, self.height = np.array(kinds), np.array(clarity), np.array(height)
        self.run, self.rest, self.of = np.array(run), np.array(rest), np.array(of)
        self.listed = np.full((n, most, width), np.nan)
        # 0 a letter, 1 nothing, 2 no candidate
        self.sort = np.full((n, width), 2)
        for i, told in enumerate(listed):
            told = np.array(told)
            self.listed[i, :, : told.shape[1]] = told
            self.sort[i, : told.shape[1]] = [1 if s == "" else 0 for s in candidates[i]]
        self.candidates = candidates
        self.target = np.array(target)
        self.picture = np.array([self.rows[k]["picture"] for k in self.of])


def silences(slots):
    views = len(slots[0])
    out = np.zeros((len(slots), views), int)
    for v in range(views):
        start = 0
        for i in range(len(slots) + 1):
            if i < len(slots) and slots[i][v] is not None and not slots[i][v]:
                continue
            out[start:i, v] = i - start
            start = i + 1
    return out


def pool(x, d, at=slice(None)):
    """Chances of the candidates of each position, and last of all signs that nobody names."""
    f = named(x)
    kind, clarity, sort = d.kind[at], d.clarity[at], d.sort[at]
    worth = f["clarity"][0] * clarity + f["clarity"][1] * d.height[at]
    worth = np.where(kind == 0, -np.inf, worth)
    own = np.exp(worth - worth.max(1, keepdims=True))
    own = own * np.where(kind == 2, np.maximum(d.run[at], 1.0) ** -f["run"], 1.0)
    total = own.sum(1)
    count = total**2 / (own**2).sum(1)
    w = own * (count ** (1 - f["dependence"]) / total)[:, None]
    rest = d.rest[at][:, :, None]
    empty = (sort == 1)[:, None, :]
    listed = d.listed[at]
    share = np.where(empty, f["invented"], f["unlisted"])
    read = np.where(np.isnan(listed), rest * share, listed)
    nothing = logistic(f["silence"][0] + f["silence"][1] * clarity)[:, :, None]
    silent = np.where(empty, nothing, (1 - nothing) * f["unlisted"])
    said = np.where((kind == 1)[:, :, None], read, np.where((kind == 2)[:, :, None], silent, 1.0))
    said = np.log(np.maximum(said, 1e-6))
    usual = np.log(np.where(sort == 1, f["empty"], (1 - f["empty"]) * f["unlisted"]))
    scores = usual + (w[:, :, None] * (said - usual[:, None, :])).sum(1)
    scores = np.where(sort == 2, -np.inf, scores)
    other = np.where(kind == 1, d.rest[at], 1 - nothing[:, :, 0])
    usual = np.log(1 - f["empty"])
    other = usual + (w * (np.log(np.maximum(other, 1e-6)) - usual)).sum(1)
    scores = np.concatenate([scores, other[:, None]], 1)
    scores -= scores.max(1, keepdims=True)
    p = np.exp(scores)
    return p / p.sum(1, keepdims=True)


def loss(x, d, at):
    p = pool(x, d, at)
    target = d.target[at]
    chance = p[np.arange(len(target)), target]
    # What nobody named is one of many
    chance = np.where(target < 0, chance * named(x)["unlisted"], chance)
    return -np.log(np.maximum(chance, 1e-9)).sum() + 0.5 * (((x - START) / SPREAD) ** 2).sum()


def fit_pool(d, at):
    found = minimize(loss, START, args=(d, at), method="L-BFGS-B", options={"maxiter": 200})
    return found.x


def calibration_error(chance, right, bins=10):
    """Expected calibration error, bins of equal width (Naeini and others 2015)."""
    which = np.minimum((chance * bins).astype(int), bins - 1)
    return sum(abs(chance[which == b].mean() - right[which == b].mean()) * (which == b).mean() for b in range(bins) if (which == b).any())


def regression(features, right, pull):
    """Logistic regression; `pull`: start and standard deviation of the normal prior of each number."""
    start, spread = np.array(pull).T

    def cost(b):
        z = features @ b
        return (np.logaddexp(0, z) - right * z).sum() + 0.5 * (((b - start) / spread) ** 2).sum()

    return minimize(cost, start, method="L-BFGS-B").x


def odds(p):
    return logit(np.clip(p, 0.01, MOST))


def stated(x, d):
    """Features of each letter that the pool reads, whether it is right, its row; the same of each row."""
    p = pool(x, d)
    best = p[:, :-1].argmax(1)
    chance = p[np.arange(len(p)), best]
    stands = d.sort[np.arange(len(p)), best] == 0
    space = np.array([c[b] == " " if b < len(c) else False for c, b in zip(d.candidates, best)])
    right = best == d.target
    letters, truths, rows, of_rows = [], [], [], []
    for number in np.unique(d.of):
        here = (d.of == number) & stands
        row = d.rows[number]["row"]
        read, silent = row["read"], row["silent"]
        beside = [np.log(max(read, 1)), silent / max(read + silent, 1)]
        signs = here & ~space
        mean = odds(chance[signs]).mean() if signs.any() else 0.0
        for i in np.flatnonzero(here):
            letters.append([1.0, odds(chance[i]), mean, *beside])
            truths.append(right[i])
            rows.append(number)
        of_rows.append([number, mean, max(signs.sum(), 1), right[signs].mean() if signs.any() else 0.0])
    return np.array(letters), np.array(truths, float), np.array(rows), of_rows


LETTER_PULL = [(0.0, 1.0), (1.0, 0.5), (0.0, 0.3), (0.0, 0.5), (0.0, 1.0)]
LINE_PULL = [(0.0, 2.0), (1.0, 1.0), (0.0, 1.0), (0.0, 1.0), (0.0, 2.0)]


def line_rows(x, d, file_rows):
    """Every row of evidence, also those that are no true line, with its features and whether it stands there."""
    out, right = [], []
    p = pool(x, d)
    for k, r in enumerate(file_rows):
        row = r["row"]
        read, silent = row["read"], row["silent"]
        at = d.of == k
        if not at.any():
            continue
        best = p[at][:, :-1].argmax(1)
        chance = p[at][np.arange(at.sum()), best]
        signs = [c[b] if b < len(c) else "" for c, b in zip([d.candidates[i] for i in np.flatnonzero(at)], best)]
        letters = np.array([s.strip() != "" for s in signs])
        if not letters.any():
            continue
        out.append([1.0, odds(chance[letters]).mean(), np.log(letters.sum()), np.log(max(read, 1)), silent / max(read + silent, 1)])
        right.append(float(r["stands"]))
    return np.array(out), np.array(right)


def main():
    d = Rows(sys.argv[1])
    print(len(d.target), "positions,", len(d.rows), "rows,", len(set(d.picture)), "pictures; true sign named:", (d.target >= 0).mean().round(4))
    pictures = np.array(sorted(set(d.picture)))
    folds = np.arange(len(pictures)) % 3
    fold = dict(zip(pictures, folds))
    fold = np.array([fold[p] for p in d.picture])
    held = np.zeros(len(d.target))
    top = np.zeros(len(d.target), bool)
    for k in range(3):
        x = fit_pool(d, fold != k)
        p = pool(x, d, fold == k)
        top[fold == k] = p.argmax(1) == d.target[fold == k]
        held[fold == k] = p[np.arange(len(p)), d.target[fold == k]]
    print("held out: positions wrong", (~top).sum(), "log loss", -np.log(np.maximum(held, 1e-9)).mean().round(4))
    x = fit_pool(d, slice(None))
    print({n: round(float(v), 3) for n, v in zip(NAMES, x)})
    out = named(x)
    all_rows = Rows.__new__(Rows)
    letters, right, _, _ = stated(x, d)
    b = regression(letters, right, LETTER_PULL)
    print("letters: calibration error of the pool", calibration_error(logistic(letters[:, 1]), right).round(4), "stated", calibration_error(logistic(letters @ b), right).round(4))
    out["letter"] = b
    out["line"] = [1.0, 1.0, 0.0, 0.0, -1.0]
    out = {k: [round(float(u), 4) for u in v] if np.ndim(v) else round(float(v), 4) for k, v in out.items()}
    json.dump(out, open(sys.argv[2], "w"), indent=1)
    print(open(sys.argv[2]).read())


if __name__ == "__main__":
    main()
