"""The network that says which letters a monogram holds, in which order, and what its design looks like.

From a grey picture of PX × PX px (mean 0, deviation 1) to
* LETTERS + LETTERS + pairs + lengths + 1 numbers, which make the chance of every set of one to three letters and of
  "none of these" (four letters or more, or no letters): see `chances`,
* 26 numbers that say how early a letter comes in the name (Plackett-Luce),
* DESIGN numbers of length 1, near for pictures of one design.
"""

import itertools

import numpy as np
import torch
import torch.nn.functional as F
from torch import nn

PX = 128
LETTERS = 26
DESIGN = 128
PAIRS = list(itertools.combinations(range(LETTERS), 2))
# one of a letter, two of it, two letters together, how many, none of these
PARTS = 2 * LETTERS + len(PAIRS) + 3 + 1
SETS = [s for n in (1, 2, 3) for s in itertools.combinations_with_replacement(range(LETTERS), n)]
PLACE = {s: i for i, s in enumerate(SETS)}
NONE = len(SETS)
OUT = PARTS + LETTERS + DESIGN


def parts_of(s):
    """Which of the network's numbers make the score of a set."""
    pair = {p: i for i, p in enumerate(PAIRS)}
    once = sorted(set(s))
    out = [l for l in once] + [LETTERS + l for l in once if s.count(l) > 1]
    out += [2 * LETTERS + pair[p] for p in itertools.combinations(once, 2)]
    return out + [2 * LETTERS + len(PAIRS) + len(s) - 1]


def matrix():
    m = np.zeros((len(SETS) + 1, PARTS), np.float32)
    for i, s in enumerate(SETS):
        m[i, parts_of(s)] = 1
    m[NONE, PARTS - 1] = 1
    return torch.from_numpy(m)


def place_of(letters):
    """Place of a text's letters among the sets; NONE where it is no set of one to three."""
    s = tuple(sorted(ord(c) - 65 for c in letters))
    return PLACE.get(s, NONE)


def unit(a, b, stride=1):
    return nn.Sequential(nn.Conv2d(a, b, 3, stride, 1, bias=False), nn.BatchNorm2d(b), nn.ReLU(inplace=True))


class Twice(nn.Module):
    def __init__(self, n):
        super().__init__()
        self.way = nn.Sequential(unit(n, n), nn.Conv2d(n, n, 3, 1, 1, bias=False), nn.BatchNorm2d(n))
        self.squeeze = nn.Sequential(nn.Conv2d(n, n // 8, 1), nn.ReLU(), nn.Conv2d(n // 8, n, 1), nn.Sigmoid())

    def forward(self, x):
        y = self.way(x)
        return F.relu(x + y * self.squeeze(y.mean((2, 3), keepdim=True)))


class Monograms(nn.Module):
    def __init__(self):
        super().__init__()
        self.body = nn.Sequential(
            nn.Conv2d(1, 32, 5, 2, 2, bias=False), nn.BatchNorm2d(32), nn.ReLU(), unit(32, 48), Twice(48),
            unit(48, 96, 2), Twice(96), Twice(96), Twice(96), unit(96, 160, 2), Twice(160), Twice(160), Twice(160), Twice(160), unit(160, 192, 2), Twice(192), Twice(192))
        self.narrow = unit(192, 32)
        self.mix = nn.Sequential(nn.Linear(32 * 64 + 384, 384), nn.ReLU(), nn.Dropout(0.15))
        self.out = nn.Linear(384, PARTS + LETTERS)
        self.design = nn.Linear(384, DESIGN)

    def forward(self, x):
        y = self.body(x)
        flat = torch.cat([self.narrow(y).flatten(1), y.mean((2, 3)), y.amax((2, 3))], 1)
        z = self.mix(flat)
        d = self.design(z)
        return torch.cat([self.out(z), d / d.square().sum(1, keepdim=True).add(1e-6).sqrt()], 1)


def levelled(grey):
    """Mean 0, deviation 1 for each picture of a batch × 1 × PX × PX."""
    mean = grey.mean((2, 3), keepdim=True)
    return (grey - mean) / (grey.std((2, 3), keepdim=True) + 1e-3)


def scores(out, m):
    """Scores of all sets and NONE; the softmax of these is their chance."""
    return out[:, :PARTS].float() @ m.T


def order_loss(out, order):
    """−ln P(order of the name); `order`: batch × 3 letters, −1 behind the last and where there is none to learn."""
    early = out[:, PARTS:PARTS + LETTERS].float()
    known = order >= 0
    e = early.gather(1, order.clamp(min=0)).masked_fill(~known, -1e4)
    rest = torch.stack([torch.logsumexp(e[:, i:], 1) for i in range(order.shape[1])], 1)
    return ((rest - e) * known).sum(1)
