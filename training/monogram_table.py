"""Fits how far the network of monograms is to be believed, and prints the tables of its card.

    python monogram_table.py MONOGRAMS.pt GLYPHS.npz FITTED.json

Temperatures and the chance of "the same design" are fitted on designs in one half of the unseen families and manners, reported on the other half.
FITTED.json gets what was fitted. --small: few designs, to see that it runs.
"""

import json
import math
import multiprocessing as mp
import sys

import numpy as np
import torch
from scipy.optimize import minimize, minimize_scalar

import monogram_network as net
import monograms
from monogram_ageing import age, any_turn, turned_back, upright
from train_monograms import drawn

NAMES = ("mild", "medium", "severe")
STORED = 2000
# turns that are tried of a picture that may lie at any
TRIED = 3


def held_out(job):
    glyphs, part, count, seed = job
    return drawn(np.random.default_rng(seed), monograms.Faces(glyphs, part), count, True)


class Reader:
    def __init__(self, checkpoint, dev):
        self.dev, self.m = dev, net.matrix().to(dev)
        self.model = net.Monograms().to(dev).eval()
        self.model.load_state_dict({k: v.float() if v.is_floating_point() else v for k, v in torch.load(checkpoint, map_location=dev)["weights"].items()})

    def numbers(self, grey):
        with torch.no_grad():
            return torch.cat([self.model(net.levelled(g)).float() for g in grey.split(250)])

    def logs(self, numbers, temperature):
        return (net.scores(numbers, self.m) / temperature).log_softmax(1)

    def aged(self, masks, severity, turned, seed):
        """Pictures, and how they lie."""
        torch.manual_seed(seed)
        out = []
        for part in torch.from_numpy(masks).split(250):
            x = part.to(self.dev).float()[:, None] / 255
            turn = any_turn(len(x), self.dev) if turned else upright(len(x), self.dev)
            out.append((age(x, torch.full((len(x),), severity, device=self.dev), turn)[0], turn))
        return [torch.cat(v) for v in zip(*out)]


def likeliest_turns(numbers, temperature):
    """The likeliest turns and their chances: the three greatest sums of a step and half of its neighbours, none of them neighbours."""
    p = (net.turns(numbers) / temperature).softmax(1)
    near = p + (p.roll(1, 1) + p.roll(-1, 1)) / 2
    found = []
    for _ in range(TRIED):
        best = near.argmax(1)
        found.append((best, near.gather(1, best[:, None])[:, 0]))
        for far in (-1, 0, 1):
            near.scatter_(1, ((best + far) % net.TURNS)[:, None], -1)
    weights = torch.stack([f[1] for f in found], 1)
    return torch.stack([f[0] for f in found], 1) * (2 * math.pi / net.TURNS), weights / weights.sum(1, keepdim=True)


def tried(reader, grey, fit):
    """Chances of the sets of pictures that may lie at any turn, and the numbers as the likeliest turn has them."""
    turns, weights = likeliest_turns(reader.numbers(grey), fit["turn"])
    chances = 0
    for i in range(TRIED):
        numbers = reader.numbers(turned_back(grey, turns[:, i]))
        chances = chances + weights[:, i, None] * reader.logs(numbers, fit["temperature"]).exp()
        first = numbers if i == 0 else first
    return chances, first


def calibration(p, right, bins=10):
    at = np.minimum((p * bins).astype(int), bins - 1)
    return sum(abs(p[at == b].sum() - right[at == b].sum()) for b in range(bins)) / len(p)


def matches(kept, looked, r):
    """Likeness of the likest kept design, how far the next is behind, whether it is the same: half of the designs looked for aren't kept. And the share found first."""
    like = (looked @ kept.T).cpu().numpy()
    first = np.mean(like.argmax(1) == np.arange(len(like)))
    out = []
    for i, row in enumerate(like):
        if r.random() < 0.5:
            row[i] = -1
        best = row.argmax()
        top, row[best] = row[best], -1
        out.append((top, top - row.max(), best == i))
    return first, *map(np.array, zip(*out))


def fitted(reader, masks, sets, signs):
    """Temperatures of sets and turns, and what makes the chance of the same design."""
    pairs = [reader.aged(masks, s, t, 300 + 2 * s + t) for s in range(3) for t in (False, True)]
    numbers = [reader.numbers(g) for g, _ in pairs]

    def set_loss(t):
        return -np.mean([reader.logs(n, t).gather(1, sets[:, None]).mean().item() for n in numbers[::2]])

    def turn_loss(t):
        steps = [(turn / (2 * math.pi) * net.TURNS).round().long()[:, None] % net.TURNS for _, turn in pairs]
        return -np.mean([(net.turns(n) / t).log_softmax(1).gather(1, s)[signs].mean().item() for n, s in list(zip(numbers, steps))[1::2]])

    fit = {"temperature": minimize_scalar(set_loss, bounds=(0.3, 4), method="bounded").x, "turn": minimize_scalar(turn_loss, bounds=(0.3, 4), method="bounded").x}
    kept = reader.numbers(reader.aged(masks, 0, False, 299)[0])[signs][:, -net.DESIGN:]
    r = np.random.default_rng(3)
    found = [matches(kept, n[signs][:, -net.DESIGN:], r) for n in numbers[::2]]
    x = np.concatenate([np.stack([np.ones_like(f[1]), f[1], f[2]], 1) for f in found])
    y = np.concatenate([f[3] for f in found])
    fit["same"] = list(minimize(lambda w: np.mean(np.logaddexp(0, -(2 * y - 1) * (x @ w))) + 1e-5 * (w @ w), np.array([-8.0, 10.0, 5.0])).x)
    return fit


def row(reader, data, sets, signs, kept, fit, severity, turned):
    masks, _, _, texts = data
    grey, _ = reader.aged(masks, severity, turned, 400 + 2 * severity + turned)
    numbers = reader.numbers(grey)
    if turned:
        chances, numbers = tried(reader, grey, fit)
    else:
        chances = reader.logs(numbers, fit["temperature"]).exp()
    rank = (chances > chances.gather(1, sets[:, None])).sum(1).cpu().numpy()
    n = np.array([len(t) for t in texts])
    top = chances.max(1).values.cpu().numpy()
    early = numbers[:, net.PARTS:net.PARTS + net.LETTERS]
    two = [bool(early[i, ord(t[0]) - 65] > early[i, ord(t[1]) - 65]) for i, t in enumerate(texts) if len(t) == 2 and t[0] != t[1]]
    first, likest, gap, right = matches(kept, numbers[signs][:, -net.DESIGN:], np.random.default_rng(4))
    w = fit["same"]
    same = 1 / (1 + np.exp(-(w[0] + w[1] * likest + w[2] * gap)))
    told = [f"{np.mean(rank[n == m] < j):.3f}" for m in (2, 3) for j in (1, 3)]
    print("|", NAMES[severity], "|", "any turn" if turned else "upright", "|", " | ".join(told), f"| {calibration(top, rank == 0):.3f} | {np.mean(two):.3f} | {first:.3f} | {calibration(same, right):.3f} |", flush=True)


def main():
    small = "--small" in sys.argv
    checkpoint, glyphs, target = [a for a in sys.argv[1:] if a != "--small"]
    dev = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    with mp.get_context("spawn").Pool(1 if small else 12) as pool:
        each = 6 if small else 180
        parts = pool.map(held_out, [(glyphs, part, each, seed + i) for part, seed in (("tune", 1500), ("check", 600)) for i in range(12)])
    join = lambda some: [np.concatenate([p[i] for p in some]) for i in range(3)] + [sum((p[3] for p in some), [])]
    reader = Reader(checkpoint, dev)
    ready = lambda data: (torch.from_numpy(data[1][:, 0]).long().to(dev), torch.tensor([t != "" for t in data[3]], device=dev))
    tune, check = join(parts[:12]), join(parts[12:])
    fit = fitted(reader, tune[0], *ready(tune))
    json.dump(fit, open(target, "w"))
    print(json.dumps(fit))
    sets, signs = ready(check)
    # so many stored designs and no more
    signs &= signs.cumsum(0) <= STORED
    kept = reader.numbers(reader.aged(check[0], 0, False, 399)[0])[signs][:, -net.DESIGN:]
    print(f"{len(check[3])} designs; {len(kept)} stored")
    print("| damage | lies | two: first | first three | three: first | first three | calibration error | order of two | design first | calibration error |\n|---|---|---|---|---|---|---|---|---|---|")
    for severity in range(3):
        for turned in (False, True):
            row(reader, check, sets, signs, kept, fit, severity, turned)


if __name__ == "__main__":
    main()
