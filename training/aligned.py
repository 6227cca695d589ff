"""Lays known texts over real lines by one forced pass of the network, and cuts the lines into signs.

A *writer* here is a page of one source: lines by one hand, with one pen, at about one size. Of each of its
lines the darkness of the ink is kept, set upright (the hand's slant taken out), brought to the page's size and
baseline, with a cut before and behind every sign at a place with as little ink as possible.
"""

import functools
import multiprocessing as mp
import os
import pickle
import sys

import cv2
import numpy as np

import lines

TALL = 48
ROOM = 8  # px above and below, for lines that are shifted
SURE = 0.5  # chance of a sign at its place from which it serves as a piece


def forced(log_chances, labels):
    """[steps, classes], labels -> (step of each label's highest chance, that chance); Viterbi over labels and blanks."""
    states = np.zeros(2 * len(labels) + 1, int)
    states[1::2] = labels
    emitted = log_chances[:, states]
    skips = np.zeros(len(states), bool)
    skips[3::2] = states[3::2] != states[1:-2:2]
    score = np.full(len(states), -1e9)
    score[:2] = emitted[0, :2]
    back = np.zeros((len(emitted), len(states)), np.int8)
    for t in range(1, len(emitted)):
        ways = np.full((3, len(states)), -1e9)
        ways[0] = score
        ways[1, 1:] = score[:-1]
        ways[2, 2:] = np.where(skips[2:], score[:-2], -1e9)
        back[t] = ways.argmax(0)
        score = ways.max(0) + emitted[t]
    at = len(states) - 1 if score[-1] >= score[-2] else len(states) - 2
    steps = [[] for _ in labels]
    for t in range(len(emitted) - 1, -1, -1):
        if at % 2:
            steps[at // 2].append(t)
        at -= int(back[t, at])
    if at > 1 or any(not s for s in steps):
        return None
    peaks = np.array([s[int(np.argmax(log_chances[s, c]))] for s, c in zip(steps, labels)])
    return peaks, np.exp(log_chances[peaks, labels])


def sheared(dark, slant, wide=None):
    """Shifts each row by `slant` px a row about the middle row: positive sets a hand upright that leans to the right."""
    h, w = dark.shape
    change = np.float32([[1, slant, -slant * (h - 1) / 2], [0, 1, 0]])
    return cv2.warpAffine(dark, change, (wide or w, h), flags=cv2.INTER_LINEAR)


def cleaned(dark):
    """Without the shade of the paper, so that pieces of several lines can stand side by side."""
    shade = cv2.GaussianBlur(cv2.erode(cv2.GaussianBlur(dark, (0, 0), 1.2), np.ones((13, 13), np.uint8)), (0, 0), 6).astype(np.float32)
    rest = np.clip(dark - shade - 14, 0, None)
    return np.clip(rest * 255 / np.clip(241 - shade, 60, None), 0, 255).astype(np.uint8)


def slant_of(darks):
    """The slant at which the columns of a hand differ most."""
    found = {}
    for slant in np.arange(-0.3, 1.15, 0.1):
        columns = [sheared(d, slant).sum(0, dtype=np.float64) for d in darks]
        found[slant] = sum((c * c).sum() for c in columns) / max(sum(c.sum() for c in columns), 1)
    return float(max(found, key=found.get))


def cuts(dark, said, centres):
    """Column before each sign and behind the last one, where there is least ink between two neighbours."""
    ink = dark.sum(0, dtype=np.float32) / 255
    ink = np.convolve(ink, [0.25, 0.5, 0.25], "same")
    ink -= np.percentile(ink, 8)  # a rule under the writing
    out = np.zeros(len(said) + 1, int)
    for i in range(1, len(said)):
        a, b = centres[i - 1], centres[i]
        if said[i] == " " or said[i - 1] == " ":
            low, high = int(a), max(int(a) + 1, int(b))
            some = ink[low:high]
            bare = np.flatnonzero(some < 0.35)
            # next to a space: where the ink ends, or begins again
            pick = (bare[0] if said[i] == " " else bare[-1]) if len(bare) else int(some.argmin()) if len(some) else 0
        else:
            low, high = int(a + 0.2 * (b - a)), max(int(a + 0.2 * (b - a)) + 1, int(np.ceil(a + 0.85 * (b - a))))
            some = ink[low:high] + 0.03 * np.abs(np.arange(low, high)[: len(ink[low:high])] - (a + b) / 2)
            pick = int(some.argmin()) if len(some) else 0
        out[i] = min(max(low + pick, out[i - 1] + 1), dark.shape[1] - 1)
    some = np.flatnonzero(ink > 0.35)
    out[0] = min(out[1] - 1, max(int(some[0]) - 1, int(centres[0]) - 40, 0)) if len(some) and len(said) > 1 else 0
    out[-1] = max(out[-2] + 1, min(int(some[-1]) + 2, int(centres[-1]) + 40, dark.shape[1])) if len(some) else dark.shape[1]
    return out


@functools.lru_cache(1)
def session(path):
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    return onnxruntime.InferenceSession(path, options)


def read(model, grey, said):
    """-> centres of the signs, px, and their chances; None where text and line don't agree."""
    x = np.pad(grey, ((0, 0), (0, -grey.shape[1] % 16)), mode="edge").astype(np.float32)
    x = ((x - x.mean()) / (x.std(ddof=1) + 1e-3))[None, None]
    found = forced(session(model).run(None, {"line": x})[0], np.array(lines.numbered(said)))
    if found is None or np.median(found[1]) < 0.4:
        return None
    return found[0] * 4 + 2.0, found[1]


def brought_to(line, ratio, shift):
    """Scales a line by 1 / ratio about its middle and shifts it by `shift` px down."""
    dark, said, places, sure = line
    zoom = 1 / ratio
    change = np.float32([[zoom, 0, 0], [0, zoom, (1 - zoom) * TALL / 2 + ROOM + shift]])
    wide = int(np.ceil(dark.shape[1] * zoom))
    out = cv2.warpAffine(dark, change, (wide, TALL + 2 * ROOM), flags=cv2.INTER_AREA if zoom < 1 else cv2.INTER_LINEAR)
    return out, said, np.minimum(np.round(places * zoom).astype(int), wide), sure


def on_one_size(found):
    """Brings a page's lines to one size (widths of like signs) and one baseline (rows of ink)."""
    widths = {}
    for _, said, places, _ in found:
        for c, w in zip(said, np.diff(places)):
            widths.setdefault(c, []).append(w)
    mean = {c: float(np.mean(w)) for c, w in widths.items() if len(w) > 2 and c != " "}
    scaled = []
    for line in found:
        pairs = [(w, mean[c]) for c, w in zip(line[1], np.diff(line[2])) if c in mean]
        ratio = sum(p[0] for p in pairs) / sum(p[1] for p in pairs) if len(pairs) > 5 else 1.0
        scaled.append(brought_to(line, float(np.clip(ratio, 0.8, 1.25)), 0))
    rows = [s[0].sum(1, dtype=np.float64) for s in scaled]
    rows = [r / max(r.sum(), 1) for r in rows]
    whole = np.mean(rows, 0)
    for _ in range(2):
        shifts = [max(range(-5, 6), key=lambda k, r=r: float((np.roll(r, k) * whole).sum())) for r in rows]
        whole = np.mean([np.roll(r, k) for r, k in zip(rows, shifts)], 0)
    return [(np.roll(s[0], k, 0), *s[1:]) for s, k in zip(scaled, shifts)]


def writers(job):
    """(model, folder, share, of) -> [(source, slant, [(dark, text, places, sure)], [bare darkness])] of its pages."""
    model, folder, share, of = job
    cv2.setNumThreads(0)
    pages = {}
    for grey, said, cls, source, page in lines.real(folder, "train", share, of):
        if lines.CLASSES[cls] == "real hand":
            pages.setdefault((source, page), []).append((grey, said))
    out = []
    for (source, _), some in pages.items():
        placed = [(cleaned(lines.darkness_of(grey)), said, read(model, grey, said)) for grey, said in some]
        placed = [(d, said, *found) for d, said, found in placed if found is not None]
        if sum(len(p[1]) for p in placed) < 60:
            continue
        slant = slant_of([p[0] for p in placed[:6]])
        if slant > 0.95 or np.median(np.concatenate([p[3] for p in placed])) < 0.8:
            continue  # not to be cut well
        upright = [(sheared(d, slant), said, centres, sure) for d, said, centres, sure in placed]
        found = [(d, said, cuts(d, said, centres), sure) for d, said, centres, sure in upright]
        out.append((source, slant, on_one_size(found), [b for d, *rest in placed for b in bare(d, rest[1])]))
    return out


def bare(dark, centres):
    """Stretches of a line, 28 px or wider, on which nothing stands."""
    edges = [0, *[int(c) for c in centres], dark.shape[1]]
    for a, b in zip(edges[:-1], edges[1:]):
        some = dark[:, a + 9 : b - 9]
        if some.shape[1] >= 28 and (some > 110).mean() < 0.003:
            yield some


def main():
    """aligned.py MODEL.onnx LINES_DIR OUT: all pages with a text, cut, as a pickle of `writers`."""
    model, folder, out = sys.argv[1:4]
    n = os.cpu_count()
    with mp.get_context("fork").Pool(n) as pool:
        found = [w for part in pool.imap_unordered(writers, [(model, folder, i, 8 * n) for i in range(8 * n)]) for w in part]
    pickle.dump(found, open(out + ".part", "wb"))
    os.replace(out + ".part", out)
    print(len(found), "writers,", sum(len(w[2]) for w in found), "lines")


if __name__ == "__main__":
    main()
