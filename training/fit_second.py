"""Fits when the second reader of hands is asked, how much it counts beside the first, and the temperature of both together.

    python fit_second.py FIRST.onnx SECOND.onnx WRITING.json FONTS_DIR LINES_DIR OUT.json [LINES_EACH]

Both networks put out log-chances of signs for the same steps of a line. Where the first one's features tell script with a
chance of `from` or more (each writing being as likely as another before), the line is read by the chances
exp((1 - share) a + share b), brought to sum 1. `from` and `share` are those of the fewest errors, the temperature that of the
least log loss, on the tuning writers and on made lines of trained faces; the tables are of check pages, sources left
out, and unseen faces and writers. Prints also what taking the surer of two readings of a line would bring.
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

import lines
import texts
import writing
from evaluate import GROUPS
from export import levelled
from train import distance

SHARES = [0.0, 0.25, 0.4, 0.5, 0.6, 0.75, 1.0]
GATES = [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95]


@functools.lru_cache(4)
def session(path):
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    return onnxruntime.InferenceSession(path, options)


@functools.lru_cache(2)
def regression(path):
    r = json.load(open(path))
    return np.array(r["weights"]), np.array(r["bias"]) - np.log(r["shares"])


def script(first, told, grey):
    """-> chance that a line is written by hand, as the program tells it."""
    weights, bias = regression(told)
    odds = weights @ writing.features(writing.session(first), grey) + bias
    return float(np.exp(odds[1] - odds.max()) / np.exp(odds - odds.max()).sum())


def best(y, said):
    """-> errors, mean log-chance of the way, [(log-chances at a sign's peak, chosen first; whether it is right)]"""
    way, guess, peaks = y.argmax(1), "", []
    for s, c in enumerate(way):
        if c and (s == 0 or way[s - 1] != c):
            e = s
            while e + 1 < len(way) and way[e + 1] == c:
                e += 1
            top = y[s + int(np.argmax(y[s : e + 1, c]))]
            peaks.append(top[[c] + [k for k in np.argsort(-top)[:12] if k != c][:11]].astype(np.float32))
            guess += texts.SIGNS[c - 1]
    good = set()
    for b in difflib.SequenceMatcher(None, guess, said, autojunk=False).get_matching_blocks():
        good.update(range(b.a, b.a + b.size))
    return distance(said, guess.strip()), float(y.max(1).mean()), [(p, i in good) for i, p in enumerate(peaks)]


def measured(job):
    first, second, told, group, grey, said = job
    torch.set_num_threads(1)
    grey = np.pad(grey, ((0, 0), (0, -grey.shape[1] % 4)), mode="edge")
    a, b = (session(p).run(["signs"], {"line": levelled(grey)})[0] for p in (first, second))
    ways = []
    for share in SHARES:
        y = (1 - share) * a + share * b
        ways.append(best(y - np.log(np.exp(y).sum(1, keepdims=True)), said))
    return group, len(said), script(first, told, grey), ways


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


def main():
    first, second, told, fonts_dir, lines_dir, out = sys.argv[1:7]
    each = int(sys.argv[7]) if len(sys.argv) > 7 else 300
    with mp.get_context("fork").Pool(os.cpu_count()) as pool:
        kinds = [(fonts_dir, kind, unseen, max(1, each // 6), 900 + 50 * k + 10 * unseen + i) for k, kind in enumerate(lines.SHARES) for unseen in (False, True) for i in range(3)]
        some = [one for part in pool.imap_unordered(drawn, kinds, chunksize=1) for one in part] + list(real(lines_dir, each))
        found = pool.map(measured, [(first, second, told, *one) for one in some], chunksize=4)
    by = {}
    for group, n, chance, ways in found:
        by.setdefault(group, []).append((n, chance, ways))
    fitting = [g for g in by if g.endswith((", tune", ", trained faces"))]

    def errors(groups, share, gate):
        k = SHARES.index(share)
        return {g: sum(w[k if c >= gate else 0][0] for _, c, w in by[g]) / sum(n for n, _, _ in by[g]) for g in groups}

    share, gate = min(((s, g) for s in SHARES[1:] for g in GATES), key=lambda sg: sum(errors(fitting, *sg).values()))
    at = SHARES.index(share)
    asked = lambda groups: [p for g in groups for _, c, w in by[g] if c >= gate for p in w[at][2]]
    hands = asked([g for g in fitting if "hand" in g or g.startswith("script")])
    right = np.array([r for _, r in hands], float)
    loss = lambda t: -(lambda p: (right * np.log(p) + (1 - right) * np.log(1 - p)).mean())(np.clip(chances(hands, t), 1e-6, 1 - 1e-6))
    temperature = float(min(np.arange(0.8, 2.5, 0.05), key=loss))
    print(f"share {share}, from {gate}, temperature {temperature:.2f}")
    for g in sorted(by, key=lambda g: (g in fitting, g)):
        own = asked([g])
        n = sum(r[0] for r in by[g])
        surer = sum(w[0 if w[0][1] > w[-1][1] or c < gate else -1][0] for _, c, w in by[g]) / n
        told_by = f"calibration error {ece(chances(own, temperature), np.array([r for _, r in own], float)):.3f}" if own else ""
        print(f"{g:40} {len(by[g]):4} lines, asked {np.mean([c >= gate for _, c, _ in by[g]]):.2f}; first {errors([g], 0.0, 2)[g]:.4f} both {errors([g], share, gate)[g]:.4f}; by share",
              " ".join(f"{s}: {errors([g], s, 0)[g]:.4f}" for s in SHARES), f"; surer {surer:.4f}; {told_by}")
    json.dump({"share": share, "from": gate, "temperature": round(temperature, 2)}, open(out, "w"))


if __name__ == "__main__":
    main()
