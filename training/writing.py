"""Fits what tells the writing of a line: print, script, stencil or typewriting.

    python writing.py MODEL.onnx FONTS_DIR LINES_DIR OUT.json [LINES_EACH]

The line recogniser's own features (what its two LSTM layers put out), their mean and their mean square along
the line, go into a softmax regression; nothing of the network is changed. Fitted on made lines of trained
fonts and writers and on real training lines, aged as for the recogniser; measured on unseen fonts and writers,
on the pages marked "check" and on the sources left out. Needs scikit-learn beside what the recogniser's recipe
needs. Works on all cores.
"""

import functools
import json
import multiprocessing as mp
import os
import sys

import numpy as np
import onnx
import onnxruntime
import torch
from sklearn.linear_model import LogisticRegression

import ageing
import lines
from export import levelled

WRITINGS = ["print", "script", "stencil", "typewriting"]
OF = {"print": 0, "blackletter": 0, "script": 1, "hand": 1, "made hand": 1, "real hand": 1, "real print": 0, "stencil": 2, "typewriter": 3, "real typed": 3}
# lines of each class that are fitted on, as shares of LINES_EACH
EACH = {"print": 1.0, "blackletter": 0.1, "script": 0.4, "hand": 0.3, "made hand": 0.4, "stencil": 0.7, "typewriter": 0.5, "real hand": 0.5, "real typed": 0.4, "real print": 0.15}
MIXED = ("loc-letters", "loc-more")  # "print" is a machine's word there, for clear copperplate too
FEATURES = ["/reader/along/LSTM_output_0", "/reader/along/LSTM_1_output_0"]


@functools.lru_cache(1)
def session(path):
    model = onnx.load(path)
    for name in FEATURES:
        model.graph.output.append(onnx.ValueInfoProto(name=name))
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    return onnxruntime.InferenceSession(model.SerializeToString(), options)


def features(run, grey):
    out = []
    for x in run.run(FEATURES, {"line": levelled(grey)}):  # [steps, ways, 1, cells]
        x = x.reshape(x.shape[0], -1)
        out += [x.mean(0), (x * x).mean(0)]
    return np.concatenate(out).astype(np.float32)


def made(r, fonts, kind, unseen):
    one = None
    while one is None or len(one[2]) < 3:
        one = lines.make(r, fonts, kind, unseen=unseen)
    mask, width = one[:2]
    strength = torch.tensor([float(r.uniform(0.2, 1.3))])
    x = ageing.age(torch.from_numpy(mask)[None], torch.tensor([width]), strength)[0, 0].numpy()
    return (255 * (x - x.min()) / (x.max() - x.min() + 1e-6)).astype(np.uint8)


def drawn(job):
    """(model, fonts folder, kind, lines, unseen, seed) -> their features"""
    model, fonts_dir, kind, n, unseen, seed = job
    torch.set_num_threads(1)
    torch.manual_seed(seed)
    r, fonts = np.random.default_rng(seed), lines.Fonts(fonts_dir, "unseen" if unseen else "train")
    return [features(session(model), made(r, fonts, kind, unseen)) for _ in range(n)]


def scanned(job):
    model, greys = job
    return [features(session(model), grey) for grey in greys]


def gathered(pool, model, fonts_dir, lines_dir, part, each):
    """-> features, writing, class of lines"""
    unseen, rows, kinds = part != "train", [], []
    jobs = [(model, fonts_dir, kind, 25, unseen, 100_000 * (5 + unseen) + 1000 * k + i) for k, (kind, share) in enumerate(EACH.items()) if not kind.startswith("real") for i in range(max(1, int(share * each) // 25))]
    for job, some in zip(jobs, pool.imap(drawn, jobs)):
        rows += some
        kinds += [job[2]] * len(some)
    r = np.random.default_rng(5 + unseen)
    for name in ("check", "left out") if unseen else ("train",):
        found = {}
        for grey, said, cls, source, _ in lines.real(lines_dir, name):
            if len(said) > 2 and (lines.CLASSES[cls] != "real print" or source not in MIXED):
                found.setdefault(lines.CLASSES[cls], []).append(grey)
        for kind, some in found.items():
            picked = [some[i] for i in r.permutation(len(some))[: int(EACH[kind] * each)]]
            for one in pool.imap(scanned, [(model, picked[i : i + 20]) for i in range(0, len(picked), 20)]):
                rows += one
            kinds += [kind if name != "left out" else "left out"] * len(picked)
    said = np.array([OF.get(k, 1) for k in kinds])
    return np.array(rows), said, np.array(kinds)


def main():
    model, fonts_dir, lines_dir, out = sys.argv[1:5]
    each = int(sys.argv[5]) if len(sys.argv) > 5 else 1000
    with mp.get_context("fork").Pool(os.cpu_count()) as pool:
        x, y, _ = gathered(pool, model, fonts_dir, lines_dir, "train", each)
        t, u, kinds = gathered(pool, model, fonts_dir, lines_dir, "unseen", each // 4)
    fit(x, y, t, u, kinds, out)


def fit(x, y, t, u, kinds, out):
    mean, deviation = x.mean(0), x.std(0) + 1e-3
    best = LogisticRegression(C=0.003, max_iter=2000).fit((x - mean) / deviation, y)
    weights = best.coef_ / deviation
    bias = best.intercept_ - weights @ mean
    p = np.exp(t @ weights.T + bias)
    p /= p.sum(1, keepdims=True)
    said, sure = p.argmax(1), p.max(1)
    for kind in dict.fromkeys(kinds):
        here = kinds == kind
        print(f"{kind:12} {here.sum():5} right {np.mean(said[here] == u[here]):.3f}  said", dict(zip(WRITINGS, np.bincount(said[here], minlength=4).tolist())))
    right = said == u
    cells = np.minimum((sure * 10).astype(int), 9)
    ece = sum(abs(sure[cells == c].mean() - right[cells == c].mean()) * np.mean(cells == c) for c in range(10) if (cells == c).any())
    print(f"all {right.mean():.3f}, calibration error {ece:.3f}, log loss {-np.log(p[np.arange(len(u)), u]).mean():.3f}")
    with open(out, "w") as f:
        shares = np.bincount(y, minlength=4) / len(y)
        json.dump({"writings": WRITINGS, "shares": [round(float(s), 4) for s in shares], "bias": [round(float(b), 4) for b in bias], "weights": [[float(f"{w:.3g}") for w in row] for row in weights]}, f)
        f.write("\n")


if __name__ == "__main__":
    main()
