"""Measures a model (ONNX) beside `tesseract --psm 7` on held-out lines, and fits the temperature.

    python evaluate.py MODEL.onnx FONTS_DIR LINES_DIR OUT.json [LINES_EACH]

Made lines: unseen fonts and writers, three severities. Real lines: the check part, and the sources
left out of training whole. Lines are read on all cores; without `tesseract` on the machine its column stays empty. Prints a table of character error rates. The temperature and the expected
calibration error are by character of the best path, right where it stands in the alignment with the truth.
"""

import difflib
import json
import multiprocessing as mp
import os
import shutil
import subprocess
import sys
import tempfile

import numpy as np
import torch
from PIL import Image

import ageing
import lines
import texts
from aligned import session
from export import levelled
from train import SEVERITIES, distance

# sources measured by themselves
GROUPS = {"loc-letters": "English hands", "loc-more": "English hands", **dict.fromkeys("copiste cremma-mss-18 peraire transcriboquest vtm-registre tables-lyon".split(), "French hands")}


def sets(fonts_dir, lines_dir, each):
    r, fonts = np.random.default_rng(31), lines.Fonts(fonts_dir, "unseen")
    for kind in lines.SHARES:
        made = []
        while len(made) < each:
            one = lines.make(r, fonts, kind, unseen=True)
            if one is not None and len(one[2]) > 2:
                made.append(one)
        for name, strength in SEVERITIES.items():
            torch.manual_seed(11)
            out = []
            for mask, width, said, _ in made:
                x = ageing.age(torch.from_numpy(mask)[None], torch.tensor([width]), torch.tensor([strength]))[0, 0].numpy()
                low, high = x.min(), x.max()
                out.append(((255 * (x - low) / (high - low)).astype(np.uint8), said))
            yield kind, name, out
    for part in ("check", "left out"):
        by = {}
        for grey, said, cls, source, _ in lines.real(lines_dir, part):
            by.setdefault(GROUPS.get(source, lines.CLASSES[cls]), []).append((grey, said))
        for kind, some in by.items():
            yield kind, part, [some[i] for i in np.random.default_rng(6).permutation(len(some))[: 2 * each]]


def fit(found):
    """Temperature of least negative log-likelihood of the runs' labels; calibration error before and after."""
    rows = [(np.array(top), right) for top, right in found]
    def chances(t):
        return np.array([np.exp(top[0] / t) / np.exp(top / t).sum() for top, _ in rows])
    right = np.array([r for _, r in rows], float)
    def loss(t):
        p = np.clip(chances(t), 1e-6, 1 - 1e-6)
        return -(right * np.log(p) + (1 - right) * np.log(1 - p)).mean()
    def ece(t):
        p = chances(t)
        b = np.minimum((p * 10).astype(int), 9)
        return sum(abs(p[b == i].mean() - right[b == i].mean()) * (b == i).mean() for i in range(10) if (b == i).any())
    grid = np.arange(0.6, 3.0, 0.05)
    best = float(grid[np.argmin([loss(t) for t in grid])])
    return best, float(ece(1.0)), float(ece(best)), len(rows)


def best_path(y):
    """-> text of the best path, [(peak's log-chances, chosen sign first)]"""
    way, guess, peaks = y.argmax(1), "", []
    for s, c in enumerate(way):
        if c and (s == 0 or way[s - 1] != c):
            e = s
            while e + 1 < len(way) and way[e + 1] == c:
                e += 1
            top = y[s + int(np.argmax(y[s : e + 1, c]))]
            peaks.append(top[[c] + [k for k in np.argsort(-top)[:12] if k != c]])
            guess += texts.SIGNS[c - 1]
    return guess, peaks


def read(job):
    """-> (text read, what Tesseract reads or None, [(peak's log-chances, chosen sign first)])"""
    model, grey, peers = job
    torch.set_num_threads(1)
    grey = np.pad(grey, ((0, 0), (0, -grey.shape[1] % 4)), mode="edge")
    guess, peaks = best_path(session(model).run(None, {"line": levelled(grey)})[0])
    theirs = None
    if peers:
        with tempfile.TemporaryDirectory() as tmp:
            Image.fromarray(np.pad(grey, 8, mode="edge")).resize((2 * grey.shape[1] + 32, 128)).save(f"{tmp}/l.png")
            theirs = subprocess.run(["tesseract", f"{tmp}/l.png", "-", "--psm", "7"], capture_output=True, text=True, env={**os.environ, "OMP_THREAD_LIMIT": "1"}).stdout
            theirs = " ".join(theirs.split())
    return guess, theirs, peaks


def main():
    model, fonts_dir, lines_dir, out = sys.argv[1:5]
    each = int(sys.argv[5]) if len(sys.argv) > 5 else 40
    peers = shutil.which("tesseract") is not None
    table, found = [], []
    with mp.get_context("fork").Pool(os.cpu_count()) as pool:
        for kind, level, some in sets(fonts_dir, lines_dir, each):
            ours = theirs = fold = total = 0
            for n, ((_, said), (guess, peer, peaks)) in enumerate(zip(some, pool.imap(read, [(model, grey, peers) for grey, _ in some], chunksize=4))):
                if n % 2:  # half to fit on; the other half is only measured
                    good = set()
                    for b in difflib.SequenceMatcher(None, guess, said, autojunk=False).get_matching_blocks():
                        good.update(range(b.a, b.a + b.size))
                    found += [(p, i in good) for i, p in enumerate(peaks)]
                ours += distance(said, guess.strip())
                fold += distance(said.lower(), guess.strip().lower())
                theirs += distance(said, peer) if peers else 0
                total += len(said)
            table.append({"class": kind, "level": level, "lines": len(some), "signs": total, "ours": round(ours / total, 4), "ours_without_case": round(fold / total, 4), "tesseract": round(theirs / total, 4) if peers else None})
            print(table[-1], flush=True)
    temperature, before, after, n = fit(found)
    json.dump({"table": table, "temperature": temperature, "ece_before": before, "ece_after": after, "characters": n}, open(out, "w"), indent=1)
    print(temperature, before, after, n)


if __name__ == "__main__":
    main()
