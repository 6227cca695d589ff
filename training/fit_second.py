"""Fits when the second reader of hands is asked, how much it counts beside the first, and the temperature of both together.

    python fit_second.py FIRST.onnx SECOND.onnx WRITING.json WORDING.bin FONTS_DIR LINES_DIR OUT.json [LINES_EACH]

Both networks put out log-chances of signs for the same steps of a line. Where the first one's features tell script with a
chance of `from` or more (each writing being as likely as another before), the line is read by exp((1 - s) ln p + s ln q),
brought to sum 1 (of the one that counts less, p or q is the greatest of three steps). s = 1 / (1 + exp(-(bias + first h(p) +
second h(q) + apart d(q, p)))), h the mean entropy of the steps, d the mean divergence (Kullback and Leibler 1951), nats. The numbers are those of the fewest errors, each set of real lines counting twice as much as one of made lines, the temperature that of the least log loss, on the
tuning writers and on made lines of trained faces. How much the wording counts in the ways through a line (`ways.py`), and the temperature of
what comes of them, are fitted on the tuning writers alone: made lines say nothing of what people write. (The program leaves words that the first reads clearly as they are, which
costs nothing on these lines and isn't measured here.) The table is of check pages, sources left out, and unseen faces and
writers too. LINES_DIR: the lines as they are, not packed smaller. Needs scipy and scikit-learn.
"""

import difflib
import functools
import json
import multiprocessing as mp
import os
import sys

import numpy as np
import onnxruntime
import torch
from scipy.optimize import minimize

import lines
import ways
import writing
from evaluate import GROUPS, best_path
from export import levelled
from train import distance

SHARES = np.arange(11) / 10
GATES = [0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98]
WORDED = [(share, usual) for share in (0.3, 0.35, 0.4, 0.45) for usual in (2.5, 3.0, 3.5, 4.0)]


@functools.lru_cache(4)
def session(path):
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    return onnxruntime.InferenceSession(path, options)


@functools.lru_cache(2)
def regression(path):
    r = json.load(open(path))
    return np.array(r["weights"]), np.array(r["bias"]) - np.log(r["shares"])


def both_read(first, second, told, grey):
    """-> chance that a line is written by hand, as the program tells it; log-chances of signs of either network."""
    run = writing.session(first)
    weights, bias = regression(told)
    odds = weights @ writing.features(run, grey) + bias
    chance = np.exp(odds - odds.max())
    a, b = (s.run(["signs"], {"line": levelled(grey)})[0] for s in (run, session(second)))
    return float(chance[1] / chance.sum()), a, b


def spread(y):
    """A sign's chance at a step is the greatest of that step and the two beside it, "no sign" as it was."""
    p = np.exp(y)
    q = p.copy()
    q[1:] = np.maximum(q[1:], p[:-1])
    q[:-1] = np.maximum(q[:-1], p[1:])
    q[:, 0] = p[:, 0]
    return np.log(np.maximum(q / q.sum(1, keepdims=True), 1e-9))


def about(a, b):
    """What the share of the second goes by."""
    return 1.0, entropy(a), entropy(b), float((np.exp(b) * (b - a)).sum(1).mean())


def joined(a, b, share):
    # the one that counts more says where a sign stands: the other often has it a step beside
    a, b = (a, spread(b)) if share < 0.5 else (spread(a), b)
    y = (1 - share) * a + share * b
    return y - np.log(np.exp(y).sum(1, keepdims=True))


def entropy(y):
    return float(-(np.exp(y) * y).sum(1).mean())


def best(y, said):
    """-> errors, [(log-chances at a sign's peak, chosen first; whether it is right)]"""
    guess, peaks = best_path(y)
    good = set()
    for b in difflib.SequenceMatcher(None, guess, said, autojunk=False).get_matching_blocks():
        good.update(range(b.a, b.a + b.size))
    return distance(said, guess.strip()), [(p[:12].astype(np.float32), i in good) for i, p in enumerate(peaks)]


def measured(job):
    """-> group, signs, chance of script, what the share goes by, errors by share, (log-chances of both, text)"""
    first, second, told, group, grey, said = job
    torch.set_num_threads(1)
    grey = np.pad(grey, ((0, 0), (0, -grey.shape[1] % 4)), mode="edge")
    chance, a, b = both_read(first, second, told, grey)
    return group, len(said), chance, about(a, b), [best(joined(a, b, s), said)[0] for s in SHARES], (a.astype(np.float16), b.astype(np.float16), said)


def real(folder, each):
    for part in ("tune", "check", "left out"):
        by = {}
        for grey, said, cls, source, _ in lines.real(folder, part):
            kind = lines.CLASSES[cls]
            own = "hands of the first lot" if part != "left out" and kind == "real hand" else kind
            by.setdefault(GROUPS.get(source, own) if kind == "real hand" else kind, []).append((grey, said))
        for kind, some in by.items():
            for i in np.random.default_rng(6).permutation(len(some))[:each]:
                yield (f"{kind}, {part}", *some[i])


def drawn(job):
    fonts_dir, kind, unseen, count, seed = job
    torch.set_num_threads(1)
    torch.manual_seed(seed)
    r, fonts = np.random.default_rng(seed), lines.Fonts(fonts_dir, "unseen" if unseen else "train")
    out = []
    while len(out) < count:
        one = lines.make(r, fonts, kind, unseen=unseen)
        if one is None or len(one[2]) < 3:
            continue
        x = writing.ageing.age(torch.from_numpy(one[0])[None], torch.tensor([one[1]]), torch.tensor([float(r.uniform(0.2, 1.3))]))[0, 0].numpy()
        out.append((f"{kind}, {'unseen' if unseen else 'trained'} faces", (255 * (x - x.min()) / (x.max() - x.min() + 1e-6)).astype(np.uint8), one[2]))
    return out


def ece(p, right):
    cells = np.minimum((p * 10).astype(int), 9)
    return sum(abs(p[cells == c].mean() - right[cells == c].mean()) * np.mean(cells == c) for c in range(10) if (cells == c).any())


def chances(peaks, temperature):
    z = np.full((len(peaks), 12), -np.inf)
    for row, (top, _) in zip(z, peaks):
        row[: len(top)] = top / temperature
    z = np.exp(z - z.max(1, keepdims=True))
    return z[:, 0] / z.sum(1)


class Lines:
    """What was measured of some lines, side by side."""

    def __init__(self, found):
        self.group = np.array([f[0] for f in found])
        self.signs, self.chance = (np.array([f[k] for f in found], float) for k in (1, 2))
        self.about, self.errors = (np.array([f[k] for f in found], float) for k in (3, 4))
        self.logs = [f[5] for f in found]

    def shares(self, rule, gate):
        return (self.chance >= gate) / (1 + np.exp(-np.clip(self.about @ np.array(rule), -30, 30)))

    def rates(self, shares):
        """Group -> character error, between two measured shares in proportion."""
        at = np.minimum((shares * 10).astype(int), 9)
        row, part = np.arange(len(at)), shares * 10 - at
        wrong = self.errors[row, at] * (1 - part) + self.errors[row, at + 1] * part
        return {g: wrong[self.group == g].sum() / self.signs[self.group == g].sum() for g in dict.fromkeys(self.group)}

    def peaks(self, shares, group=None):
        some = [i for i, s in enumerate(shares) if s > 0 and (group is None or self.group[i] == group)]
        read = [best(joined(*(y.astype(np.float32) for y in self.logs[i][:2]), shares[i]), self.logs[i][2]) for i in some]
        return [p for r in read for p in r[1]]


def ruled(lines_, gate):
    """The numbers of the fewest errors: where the sum over the sets is least, of a few beginnings."""
    lost = lambda w: sum(rate * (1 if "faces" in g else 2) for g, rate in lines_.rates(lines_.shares(w, gate)).items()) + 1e-4 * float(np.square(w).sum())
    tries = [minimize(lost, np.random.default_rng(t).normal(0, 2, 4), method="Nelder-Mead", options={"maxiter": 500}) for t in range(8)]
    return min(tries, key=lambda m: m.fun)


@functools.lru_cache(1)
def wording(path):
    return ways.reader(path)


def through(job):
    """-> group, signs, errors of the likeliest way, [(log-chances there, chosen first; whether it is right)]"""
    path, group, y, temperature, (share, usual), said = job
    y = y / temperature
    way = ways.ways(y - np.log(np.exp(y).sum(1, keepdims=True)), wording(path), share, usual)
    good = set()
    for b in difflib.SequenceMatcher(None, ways.text(way), said, autojunk=False).get_matching_blocks():
        good.update(range(b.a, b.a + b.size))
    top = lambda c, p: np.log(np.maximum([p[c], *sorted((q for k, q in p.items() if k != c), reverse=True)][:12], 1e-9)).astype(np.float32)
    return group, len(said), distance(said, ways.text(way)), [(top(c, p), i in good) for i, (c, _, p) in enumerate(way)]


def worded(pool, some, shares, path, temperature):
    """-> how much the wording counts (share, usual), the temperature of what comes of it."""
    asked = [i for i, s in enumerate(shares) if s > 0 and some.group[i].endswith(", tune")]
    rows = {i: joined(*(y.astype(np.float32) for y in some.logs[i][:2]), shares[i]) for i in asked}
    lost = {}
    for set_ in WORDED:
        read = pool.map(through, [(path, some.group[i], rows[i], temperature, set_, some.logs[i][2]) for i in asked], chunksize=4)
        lost[set_] = sum(sum(e for g, _, e, _ in read if g == group) / sum(n for g, n, *_ in read if g == group) for group in {r[0] for r in read})
    best_ = min(lost, key=lost.get)
    read = pool.map(through, [(path, some.group[i], rows[i], temperature, best_, some.logs[i][2]) for i in asked], chunksize=4)
    return best_, believed([p for r in read for p in r[3]])


def believed(peaks):
    """The temperature of the least log loss."""
    right = np.array([r for _, r in peaks], float)
    loss = lambda t: -(lambda p: (right * np.log(p) + (1 - right) * np.log(1 - p)).mean())(np.clip(chances(peaks, t), 1e-6, 1 - 1e-6))
    return float(min(np.arange(0.7, 2.6, 0.05), key=loss))


def main():
    first, second, told, path, fonts_dir, lines_dir, out = sys.argv[1:8]
    each = int(sys.argv[8]) if len(sys.argv) > 8 else 300
    with mp.get_context("fork").Pool(os.cpu_count()) as pool:
        kinds = [(fonts_dir, kind, unseen, max(1, each // 6), 900 + 50 * k + 10 * unseen + i) for k, kind in enumerate([*lines.SHARES, "filled in"]) for unseen in (False, True) for i in range(3)]
        some = [one for part in pool.imap_unordered(drawn, kinds, chunksize=1) for one in part] + list(real(lines_dir, each))
        found = pool.map(measured, [(first, second, told, *one) for one in some], chunksize=4)
    with mp.get_context("fork").Pool(os.cpu_count()) as pool:
        report(pool, found, path, out)


def report(pool, found, path, out):
    whole = Lines(found)
    fitting = Lines([f for f in found if f[0].endswith((", tune", ", trained faces"))])
    gate, rule = min(((g, ruled(fitting, g)) for g in GATES), key=lambda r: r[1].fun)
    rule = rule.x.round(2).tolist()
    peaks = fitting.peaks(fitting.shares(rule, gate))
    temperature = believed(peaks)
    set_, last = worded(pool, fitting, fitting.shares(rule, gate), path, temperature)
    print("wording's share, what a sign is given back:", *set_, f"temperature of the ways {last:.2f}")
    print("from", gate, "rule", rule, f"temperature {temperature:.2f}")
    shares, n = whole.shares(rule, gate), len(whole.group)
    first, both, second = (whole.rates(s) for s in (np.zeros(n), shares, np.ones(n)))
    for g in sorted(first, key=lambda g: (g in set(fitting.group), g)):
        here = whole.group == g
        asked = [i for i in np.flatnonzero(here) if shares[i] > 0]
        jobs = [(path, g, joined(*(y.astype(np.float32) for y in whole.logs[i][:2]), shares[i]), temperature, set_, whole.logs[i][2]) for i in asked]
        read = pool.map(through, jobs, chunksize=4)
        own = [p for r in read for p in r[3]]
        held = f"{ece(chances(own, last), np.array([r for _, r in own], float)):.3f}" if own else "-"
        ways_ = f"{sum(r[2] for r in read) / max(1, sum(r[1] for r in read)):.4f}"
        print(f"{g:34} {here.sum():4} lines, asked {np.mean(shares[here] > 0):.2f}, share {shares[here].mean():.2f}: first {first[g]:.4f}, second {second[g]:.4f}, both {both[g]:.4f}; of lines asked about, all ways {ways_}, calibration error {held}")
    json.dump({"from": gate, "bias": rule[0], "first": rule[1], "second": rule[2], "apart": rule[3], "temperature": round(temperature, 2), "wording": {"share": set_[0], "usual": set_[1]}, "believed": round(last, 2)}, open(out, "w"))


if __name__ == "__main__":
    main()
