"""Draws lines for training on all cores and lays them down as files, until it is stopped.

    python draw.py FONTS_DIR WRITERS_FILE|- OUT_DIR MADE COMPOSED MOST [SEED [KINDS [FILLED_IN [RUNNING]]]]

MADE processes draw made lines, COMPOSED ones recompose real lines (of `aligned.py`'s file); a file
`KIND-*.npz` holds a block of lines of one bucket. KINDS: kinds of made lines to draw, a comma between them; else all in
their shares (`lines.SHARES`). FILLED_IN: share of made lines, and of recomposed ones, that are printed headings filled in. RUNNING: share of what is
written by hand that is running text (`prose.txt`). They stop at MOST files, or when OUT_DIR/stop exists. Several
runs of `train.py` on one machine can read the same folder while it is filled.
"""

import multiprocessing as mp
import os
import pickle
import sys
import time

import cv2
import numpy as np

import lines
import recompose
import texts

LONGEST = 112
BLOCK = 24


def packed(some):
    labels = np.zeros((len(some), LONGEST), np.uint8)
    for row, one in zip(labels, some):
        n = lines.numbered(one[2])
        row[: len(n)] = n
    return (np.stack([o[0] for o in some]), np.array([o[1] for o in some], np.int16), labels,
            np.array([len(o[2]) for o in some], np.int16))


def lay(folder, name, block):
    masks, widths, labels, lengths = packed(block)
    part = f"{folder}/.{name}.npz"
    np.savez(part, masks=masks, widths=widths, labels=labels, lengths=lengths)
    os.replace(part, f"{folder}/{name}.npz")


def drawer(kind, seed, source, folder, most):
    r = np.random.default_rng(seed)
    cv2.setNumThreads(0)
    if kind == "made":
        fonts = lines.Fonts(source, "train")
        make = lambda: lines.make(r, fonts)
    else:
        writers, fonts = source[0], lines.Fonts(source[1], "train")
        make = lambda: recompose.make(r, writers, fonts, lines.FILLED_IN)
    held, n = {b: [] for b in lines.BUCKETS}, 0
    parent = os.getppid()
    while n < most and os.getppid() == parent and not os.path.exists(f"{folder}/stop"):
        try:
            one = make()
        except Exception:  # a face or a hand that can't draw a text loses that text only
            continue
        if one is None or len(one[2]) > LONGEST:
            continue
        b = one[0].shape[1]
        held[b].append(one)
        if len(held[b]) >= BLOCK:
            n += 1
            lay(folder, f"{kind}-{'-'.join(map(str, seed))}-{n}", held[b])
            held[b] = []


def main():
    fonts, hands, folder = sys.argv[1:4]
    made, composed, most = (int(v) for v in sys.argv[4:7])
    seed = int(sys.argv[7]) if len(sys.argv) > 7 else int(time.time())
    if len(sys.argv) > 8:
        lines.SHARES = {kind: lines.SHARES[kind] for kind in sys.argv[8].split(",")}
    if len(sys.argv) > 9:
        lines.FILLED_IN = float(sys.argv[9])
    if len(sys.argv) > 10:
        texts.RUNNING = float(sys.argv[10])
    os.makedirs(folder, exist_ok=True)
    jobs = [("made", [seed, i], fonts) for i in range(made)]
    if composed:
        writers = [recompose.Writer(w) for w in pickle.load(open(hands, "rb"))]
        writers += [w for w in writers if w.source.startswith("loc-")] * 2  # English ones thrice
        jobs += [("composed", [seed, 1000 + i], (writers, fonts)) for i in range(composed)]
    each = max(1, most // max(1, made + composed))
    running = [mp.get_context("fork").Process(target=drawer, args=(*job, folder, each), daemon=True) for job in jobs]
    for p in running:
        p.start()
    for p in running:
        p.join()


if __name__ == "__main__":
    main()
