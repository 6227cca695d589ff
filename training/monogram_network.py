"""The network that says which letters a monogram holds, in which order, how it lies, and what its design looks like.

From a grey picture of PX × PX px (mean 0, deviation 1) to OUT numbers:
* PARTS, which make the chance of every set of one to three letters and of "none of these" (four letters or more, or no
  letters): see `parts_of`. They hold where the picture is upright within some 20 degrees,
* LETTERS that say how early a letter comes in the name (Plackett-Luce),
* TURNS, the chance of each turn, steps of 15 degrees, clockwise as seen,
* DESIGN, of length 1, near for pictures of one design.
"""

import itertools

import numpy as np
import torch
import torch.nn.functional as F
from torch import nn

PX = 128
GRID = PX // 8
LETTERS = 26
TURNS = 24
DESIGN = 128
WIDE, HEADS = 256, 8
PAIRS = list(itertools.combinations(range(LETTERS), 2))
PAIR_AT = [i * LETTERS + j for i, j in PAIRS]
# one of a letter, two of it, two letters together, how many, none of these
PARTS = 2 * LETTERS + len(PAIRS) + 3 + 1
SETS = [s for n in (1, 2, 3) for s in itertools.combinations_with_replacement(range(LETTERS), n)]
PLACE = {s: i for i, s in enumerate(SETS)}
NONE = len(SETS)
OUT = PARTS + LETTERS + TURNS + DESIGN


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

    def forward(self, x):
        return F.relu(x + self.way(x))


class Attention(nn.Module):
    """What asks (batch × asking × WIDE) takes from what is there."""

    def __init__(self):
        super().__init__()
        self.ask, self.there, self.out = nn.Linear(WIDE, WIDE), nn.Linear(WIDE, 2 * WIDE), nn.Linear(WIDE, WIDE)

    def forward(self, asking, there):
        split = lambda x: x.view(x.shape[0], x.shape[1], HEADS, -1).transpose(1, 2)
        q = split(self.ask(asking))
        k, v = (split(x) for x in self.there(there).chunk(2, 2))
        if self.training:
            y = F.scaled_dot_product_attention(q, k, v)
        else:
            y = ((q @ k.transpose(2, 3)) * (q.shape[-1] ** -0.5)).softmax(3) @ v
        return self.out(y.transpose(1, 2).reshape(asking.shape))


class Layer(nn.Module):
    """Attention to one another, to something else where `over`, and a net of each alone."""

    def __init__(self, hidden, over=False):
        super().__init__()
        self.norms = nn.ModuleList(nn.LayerNorm(WIDE) for _ in range(2 + over))
        self.own = Attention()
        self.over = Attention() if over else None
        self.alone = nn.Sequential(nn.Linear(WIDE, hidden), nn.ReLU(), nn.Linear(hidden, WIDE))

    def forward(self, x, there=None):
        y = self.norms[0](x)
        x = x + self.own(y, y)
        if self.over is not None:
            x = x + self.over(self.norms[2](x), there)
        return x + self.alone(self.norms[1](x))


class Monograms(nn.Module):
    """A query a letter, one for how many, one for the turn and one for the design look at what convolutions saw."""

    def __init__(self):
        super().__init__()
        self.body = nn.Sequential(
            nn.Conv2d(1, 32, 5, 2, 2, bias=False), nn.BatchNorm2d(32), nn.ReLU(), unit(32, 64),
            unit(64, 96, 2), Twice(96), Twice(96), unit(96, 192, 2), Twice(192), Twice(192), nn.Conv2d(192, WIDE, 1))
        self.place = nn.Parameter(torch.randn(1, GRID * GRID, WIDE) * 0.02)
        self.seen = nn.ModuleList(Layer(768) for _ in range(3))
        self.full = nn.LayerNorm(WIDE)
        self.queries = nn.Parameter(torch.randn(1, LETTERS + 3, WIDE) * 0.1)
        self.asked = nn.ModuleList(Layer(512, over=True) for _ in range(2))
        self.last = nn.LayerNorm(WIDE)
        self.letter = nn.Linear(WIDE, 3)  # one of it, two of it, how early
        self.with_ = nn.Linear(WIDE, 128)
        self.count = nn.Linear(WIDE, 4)
        self.turn = nn.Linear(WIDE, TURNS)
        self.design = nn.Linear(WIDE, DESIGN)
        # where each letter stands: learned, not asked of the finished network
        self.where = nn.Linear(WIDE, LETTERS)
        nn.init.constant_(self.where.bias, -3.5)

    def forward(self, x):
        y = self.body(x).flatten(2).transpose(1, 2) + self.place
        for layer in self.seen:
            y = layer(y)
        y = self.full(y)
        q = self.queries.expand(x.shape[0], -1, -1)
        for layer in self.asked:
            q = layer(q, y)
        q = self.last(q)
        letters = q[:, :LETTERS]
        said = self.letter(letters)
        u, v = self.with_(letters).chunk(2, 2)
        both = u @ v.transpose(1, 2) * 0.125
        both = (both + both.transpose(1, 2)).flatten(1).index_select(1, torch.tensor(PAIR_AT, device=x.device))
        d = self.design(q[:, LETTERS + 2])
        d = d / d.square().sum(1, keepdim=True).add(1e-6).sqrt()
        out = torch.cat([said[:, :, 0], said[:, :, 1], both, self.count(q[:, LETTERS]), said[:, :, 2], self.turn(q[:, LETTERS + 1]), d], 1)
        return (out, self.where(y)) if self.training else out


def levelled(grey):
    """Mean 0, deviation 1 for each picture of a batch × 1 × PX × PX."""
    mean = grey.mean((2, 3), keepdim=True)
    return (grey - mean) / (grey.std((2, 3), keepdim=True) + 1e-3)


def scores(out, m):
    """Scores of all sets and NONE; the softmax of these is their chance."""
    return out[:, :PARTS].float() @ m.T


def turns(out):
    return out[:, PARTS + LETTERS:PARTS + LETTERS + TURNS].float()


def order_loss(out, order):
    """−ln P(order of the name); `order`: batch × 3 letters, −1 behind the last and where there is none to learn."""
    early = out[:, PARTS:PARTS + LETTERS].float()
    known = order >= 0
    e = early.gather(1, order.clamp(min=0)).masked_fill(~known, -1e4)
    rest = torch.stack([torch.logsumexp(e[:, i:], 1) for i in range(order.shape[1])], 1)
    return ((rest - e) * known).sum(1)


def where_loss(where, source, places, order):
    """How well each place of the picture knows which letters' middles are near.

    * `source`: batch × GRID × GRID × 2, the place of the design seen there; `places`: batch × 4 letters × (x, y, half width,
      half height) in the same measure; `order`: batch × 4 letters, −1 behind the last.
    """
    d = (source.flatten(1, 2)[:, :, None] - places[:, None, :, :2]) / places[:, None, :, 2:].clamp(min=0.06)
    near = torch.exp(-2 * d.square().sum(3)) * (order >= 0)[:, None]
    target = torch.zeros(*near.shape[:2], LETTERS, device=near.device)
    target.scatter_reduce_(2, order.clamp(min=0)[:, None].expand(-1, near.shape[1], -1), near, "amax")
    return F.binary_cross_entropy_with_logits(where.float(), target, reduction="none").sum(2).mean()
