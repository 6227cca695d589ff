"""The network that says where marks lie: from a small picture to, for each fourth px, whether it lies in
a mark, whether near its middle, where the mark's corners are, its kind and what it sits on."""

import torch
import torch.nn.functional as F
from torch import nn

KINDS = ["printed_label", "written_label", "inscription", "stamp", "stencil", "monogram"]
# What shows, or is covered by a mark, at a place; the first is what the back lies on.
PARTS = ["", "panel", "board", "canvas", "stretcher", "slip", "frame", "backing"]
# in a mark; near its middle; 4 corners (x, y less the px's own, in units of UNIT px); kinds; parts
PLANES = 2 + 8 + len(KINDS) + len(PARTS)
UNIT = 64.0


def unit(a, b, stride=1, dilation=1, side=3):
    pad = dilation * (side // 2)
    return nn.Sequential(nn.Conv2d(a, b, side, stride, pad, dilation, bias=False), nn.BatchNorm2d(b), nn.ReLU(inplace=True))


class Twice(nn.Module):
    """Two convolutions around a short cut."""

    def __init__(self, n, dilation=(1, 1), inner=None):
        super().__init__()
        m = inner or n
        parts = [unit(n, m, dilation=dilation[0])] if inner is None else [unit(n, m, side=1), unit(m, m, dilation=dilation[0])]
        last = nn.Conv2d(m, n, 3, 1, dilation[1], dilation[1], bias=False) if inner is None else nn.Conv2d(m, n, 1, bias=False)
        self.way = nn.Sequential(*parts, last, nn.BatchNorm2d(n))

    def forward(self, x):
        return F.relu(x + self.way(x))


class Finder(nn.Module):
    def __init__(self):
        super().__init__()
        self.at4 = nn.Sequential(unit(3, 16, 2), unit(16, 32, 2), Twice(32))
        self.at8 = nn.Sequential(unit(32, 64, 2), Twice(64))
        self.at16 = nn.Sequential(unit(64, 96, 2), Twice(96))
        self.at32 = nn.Sequential(unit(96, 128, 2), Twice(128, (1, 2)), Twice(128, (4, 4), 64), Twice(128, (8, 8), 64))
        self.side = nn.ModuleList([nn.Conv2d(128, 64, 1), nn.Conv2d(96, 64, 1), nn.Conv2d(64, 64, 1), nn.Conv2d(32, 32, 1)])
        self.mix16, self.mix8 = unit(64, 64), unit(64, 64)
        self.down = nn.Conv2d(64, 32, 1)
        self.mix4 = nn.Sequential(unit(32, 32), unit(32, 32))
        self.out = nn.Conv2d(32, PLANES, 1)

    def forward(self, x):
        """x: batch × 3 × height × width, 0 to 1; sides are multiples of 32."""
        a = self.at4(x - 0.5)
        b = self.at8(a)
        c = self.at16(b)
        d = self.at32(c)
        up = lambda v: F.interpolate(v, scale_factor=2, mode="nearest")
        m = self.mix16(up(self.side[0](d)) + self.side[1](c))
        m = self.mix8(up(m) + self.side[2](b))
        m = self.mix4(up(self.down(m)) + self.side[3](a))
        return self.out(m)
