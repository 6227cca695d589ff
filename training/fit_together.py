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
        self.rows = [r for r in self.rows if r["row"]["slots"]]
        most = max(len(r["row"]["looks"]) for r in self.rows)
        kinds, looks, run, listed, rest, self.candidates, target, of = [], [], [], [], [], [], [], []
        for number, r in enumerate(self.rows):
            row, truth = r["row"], r["truth"]
            slots = row["slots"]
            signs = true_signs(slots, truth or "")
            lengths = silences(slots)
            for i, slot in enumerate(slots):
                slot = slot + [None] * (most - len(slot))
                all_signs = sorted({""} | {s for v in slot if v for s, _ in v})
                chances = [dict((s, p) for s, p in said or []) for said in slot]
                kinds.append([0 if said is None else 1 if said else 2 for said in slot])
                seen = [(row["looks"][v] if v < len(row["looks"]) else None) or [0.0, 1.0] for v in range(most)]
                looks.append([[c, np.log(min(h, LARGE))] for c, h in seen])
                run.append([lengths[i][v] if v < len(lengths[i]) else 0 for v in range(most)])
                listed.append([[c.get(s, np.nan) for s in all_signs] for c in chances])
                rest.append([max(1 - sum(c.values()), 1 - MOST) for c in chances])
                self.candidates.append(all_signs)
                of.append(number)
                target.append(all_signs.index(signs[i]) if signs[i] in all_signs else -1)
        n, width = len(kinds), max(map(len, self.candidates))
        self.kind, self.run, self.rest, self.of = np.array(kinds), np.array(run), np.array(rest), np.array(of)
        self.clarity, self.height = np.moveaxis(np.array(looks), 2, 0)
        self.listed = np.full((n, most, width), np.nan)
        # 0 a letter, 1 nothing, 2 no candidate
        self.sort = np.full((n, width), 2)
        for i, told in enumerate(listed):
            self.listed[i, :, : len(self.candidates[i])] = told
            self.sort[i, : len(self.candidates[i])] = [s == "" for s in self.candidates[i]]
        self.target = np.array(target)
        self.picture = np.array([self.rows[k]["picture"] for k in self.of])
        self.is_line = np.array([self.rows[k]["truth"] is not None for k in self.of])


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


LETTER_PULL = [(0.0, 1.0), (1.0, 0.5), (0.0, 0.3), (0.0, 0.5), (0.0, 1.0)]
LINE_PULL = [(0.0, 2.0), (1.0, 0.5), (0.0, 0.5), (0.0, 0.5), (0.0, 2.0)]


class Told:
    """What the pool reads: features of each letter with whether it is right, and of each row with whether it
    stands on the object."""

    def __init__(self, x, d):
        p = pool(x, d)
        best = p[:, :-1].argmax(1)
        chance = odds(p[np.arange(len(p)), best])
        signs = np.array([c[b] if b < len(c) else "" for c, b in zip(d.candidates, best)])
        stands, space = signs != "", signs == " "
        right = (best == d.target) & d.is_line
        letters, self.right, self.number, rows, self.stands, self.row_number = [], [], [], [], [], []
        for number, r in enumerate(d.rows):
            row = r["row"]
            here = (d.of == number) & stands
            signs = here & ~space
            if not signs.any():
                continue
            beside = [np.log(max(row["read"], 1)), row["silent"] / max(row["read"] + row["silent"], 1)]
            mean = chance[signs].mean()
            is_line = right[signs].mean() >= 0.4
            if is_line or not r["elsewhere"]:
                if row["read"] > 1 or row["silent"] > 0:
                    rows.append([1.0, mean, np.log(signs.sum()), *beside])
                    self.stands.append(is_line)
                    self.row_number.append(number)
            if r["truth"] is not None or not r["elsewhere"]:
                for i in np.flatnonzero(here):
                    letters.append([1.0, chance[i], mean, *beside])
                    self.right.append(right[i])
                    self.number.append(number)
        self.letters, self.rows = np.array(letters), np.array(rows)
        self.right, self.stands = np.array(self.right, float), np.array(self.stands, float)
        self.number, self.row_number = np.array(self.number), np.array(self.row_number)

    def kept(self, line):
        """Letters of rows that are told."""
        low = self.row_number[logistic(self.rows @ line) < 0.5] if len(self.rows) else []
        return ~np.isin(self.number, low)

    def fit(self):
        line = regression(self.rows, self.stands, LINE_PULL)
        kept = self.kept(line)
        return regression(self.letters[kept], self.right[kept], LETTER_PULL), line


def report(name, told, letter, line):
    kept = told.kept(line)
    chance, right = logistic(told.letters[kept] @ letter), told.right[kept]
    stands = logistic(told.rows @ line)
    wrong = [int(((stands >= 0.5) & (told.stands == 0)).sum()), int(((stands < 0.5) & (told.stands == 1)).sum())]
    print(
        f"{name}: {len(right)} letters, {int((1 - right).sum())} wrong, calibration error",
        round(calibration_error(logistic(told.letters[kept, 1]), right), 4), "pooled,", round(calibration_error(chance, right), 4), "stated;",
        f"{len(stands)} rows, {int((1 - told.stands).sum())} not on the object: {wrong[0]} told, {wrong[1]} others left out",
    )


class Part(Rows):
    """The rows of some pictures."""

    def __init__(self, d, pictures):
        rows = [k for k, r in enumerate(d.rows) if r["picture"] in pictures]
        again = {k: i for i, k in enumerate(rows)}
        at = np.isin(d.of, rows)
        for name in ["kind", "run", "rest", "clarity", "height", "listed", "sort", "target", "picture", "is_line"]:
            setattr(self, name, getattr(d, name)[at])
        self.rows = [d.rows[k] for k in rows]
        self.of = np.array([again[k] for k in d.of[at]])
        self.candidates = [c for c, a in zip(d.candidates, at) if a]


def main():
    d = Rows(sys.argv[1])
    print(len(d.target), "positions,", len(d.rows), "rows,", len(set(d.picture)), "pictures; true sign named:", (d.target >= 0).mean().round(4))
    pictures = np.array(sorted(set(d.picture)))
    folds = []
    for k in range(3):
        inside, outside = (Part(d, set(pictures[(np.arange(len(pictures)) % 3 != k) == w])) for w in (True, False))
        x = fit_pool(inside, inside.is_line)
        told, other = Told(x, inside), Told(x, outside)
        folds.append((other, *told.fit()))
    for k, f in enumerate(folds):
        report(f"fold {k}, unseen", *f)
    x = fit_pool(d, d.is_line)
    print({n: round(float(v), 3) for n, v in zip(NAMES, x)})
    told = Told(x, d)
    letter, line = told.fit()
    report("all, seen", told, letter, line)
    for other in sys.argv[3:]:
        report(other, Told(x, Rows(other)), letter, line)
    out = named(x) | {"letter": letter, "line": line}
    out = {k: [round(float(u), 4) for u in v] if np.ndim(v) else round(float(v), 4) for k, v in out.items()}
    with open(sys.argv[2], "w", encoding="utf8") as file:
        json.dump(out, file, indent=2)
        file.write("\n")


if __name__ == "__main__":
    main()
