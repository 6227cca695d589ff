"""Fits how far the network of monograms is to be believed, and prints the tables of its card.

    python monogram_table.py FOLDER [CASES.tsv]

FOLDER holds tune.npz and check.npz as `train_monograms.py` wrote them. Temperature and the chance of "the same design" are fitted on tune (half of
the unseen families), reported on check (the other half). CASES.tsv gets what it says of the check designs, for `examples/monogram_cases`.
"""

import itertools
import sys

import numpy as np
from scipy.optimize import minimize, minimize_scalar

import monogram_network as net
import monograms

M = net.matrix().numpy()
NAMES = [(s, t) for s in (0, 1, 2) for t in (0, 1)]


def logs(numbers, temperature):
    x = numbers[:, :net.PARTS].astype(np.float32) @ M.T / temperature
    x -= x.max(1, keepdims=True)
    return x - np.log(np.exp(x).sum(1, keepdims=True))


def places(texts):
    return np.array([net.place_of(t) if t else net.NONE for t in texts])


def calibration(p, right, bins=10):
    at = np.minimum((p * bins).astype(int), bins - 1)
    return sum(abs(p[at == b].sum() - right[at == b].sum()) for b in range(bins)) / len(p)


def fitted(store):
    texts = store["texts"]
    true = places(texts)

    def loss(t):
        return -np.mean([logs(store[f"{s}-{k}"], t)[np.arange(len(true)), true].mean() for s, k in NAMES])

    return minimize_scalar(loss, bounds=(0.5, 3), method="bounded", options={"xatol": 0.01}).x


def designs(store, name):
    return store[name][:, -net.DESIGN:].astype(np.float32)


def matches(store, r, count=2000):
    """Likeness of the likest kept design, how far the next is behind, and whether it is the same; half of the designs looked for aren't kept."""
    kept = designs(store, "kept")
    texts = store["texts"]
    sign = np.array([t != "" for t in texts])
    out = {}
    for s, k in NAMES:
        looked = designs(store, f"{s}-{k}")
        like = looked @ kept.T
        like[:, ~sign] = -1
        every = np.flatnonzero(sign)
        first = np.mean(like[every].argmax(1) == every)
        own = r.random(len(like)) < 0.5
        top, right, gap = [], [], []
        for i in every:
            row = like[i].copy()
            if not own[i]:
                row[i] = -1
            best = row.argmax()
            top.append(row[best])
            row[best] = -1
            gap.append(top[-1] - row.max())
            right.append(best == i)
        out[s, k] = (first, np.array(top), np.array(gap), np.array(right))
    return out


def same(store):
    """The chance that the likest is the same design: logistic in likeness and in how far the next is behind."""
    found = matches(store, np.random.default_rng(3))
    x = np.concatenate([np.stack([np.ones_like(v[1]), v[1], v[2]], 1) for v in found.values()])
    y = np.concatenate([v[3] for v in found.values()])
    loss = lambda w: np.mean(np.logaddexp(0, -(2 * y - 1) * (x @ w))) + 1e-5 * (w @ w)
    return minimize(loss, np.array([-8.0, 10.0, 5.0])).x


def ordered(numbers, temperature, most=60):
    """Letters in the order of the name with likelihoods, as `src/monogram/network.rs` has them."""
    p = np.exp(logs(numbers, temperature))
    lengths = {1: 0.06, 2: 0.45, 3: 0.42}
    out = []
    for row, early in zip(p, numbers[:, net.PARTS:net.PARTS + 26].astype(np.float64)):
        said = {}
        for i in np.argsort(-row[:net.NONE])[:most]:
            if row[i] < 1e-5:
                break
            s = net.SETS[i]
            drawn = np.prod([monograms.DRAWN_BY[l] for l in s]) * lengths[len(s)]
            orders = sorted(set(itertools.permutations(s)))
            w = np.array([np.prod([np.exp(early[o[j]]) / np.exp([early[l] for l in o[j:]]).sum() for j in range(len(o))]) for o in orders])
            for o, share in zip(orders, w / w.sum()):
                said["".join(monograms.CAPITALS[l] for l in o)] = row[i] * share / drawn
        out.append((row[net.NONE], said))
    return out


def main():
    folder, *cases = sys.argv[1:]
    tune, check = np.load(f"{folder}/tune.npz"), np.load(f"{folder}/check.npz")
    temperature = fitted(tune)
    w = same(tune)
    print(f"temperature {temperature:.3f}; same design: {w.round(3).tolist()}")
    texts = check["texts"]
    true = places(texts)
    n = np.array([len(t) for t in texts])
    print("| damage | turn | two: first | first three | three: first | first three | calibration error | order of two | design first of", int((n > 0).sum()), "| calibration error |")
    found = matches(check, np.random.default_rng(4))
    for s, k in NAMES:
        numbers = check[f"{s}-{k}"]
        l = logs(numbers, temperature)
        rank = (l > l[np.arange(len(true)), true][:, None]).sum(1)
        top = np.exp(l.max(1))
        e = calibration(top, rank == 0)
        early = numbers[:, net.PARTS:net.PARTS + 26]
        two = [early[i, ord(t[0]) - 65] > early[i, ord(t[1]) - 65] for i, t in enumerate(texts) if len(t) == 2 and t[0] != t[1]]
        first, likest, gap, right = found[s, k]
        chance = 1 / (1 + np.exp(-(w[0] + w[1] * likest + w[2] * gap)))
        told = [f"{np.mean(rank[n == m] < j):.3f}" for m in (2, 3) for j in (1, 3)]
        print("|", ("mild", "medium", "severe")[s], "|", ("upright", "any")[k], "|", " | ".join(told), f"| {e:.3f} | {np.mean(two):.3f} | {first:.3f} | {calibration(chance, right):.3f} |")
    if cases:
        with open(cases[0], "w") as f:
            for s in (0, 1, 2):
                for t, (none, said) in zip(texts, ordered(check[f"{s}-0"], temperature)):
                    if 2 <= len(t) <= 3:
                        f.write(f"{s}\t{t}\t{none:.5f}\t{' '.join(f'{k}:{v:.5g}' for k, v in said.items())}\n")


if __name__ == "__main__":
    main()
