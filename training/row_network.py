"""The network that says where rows of lettering run: from a grey picture to, for each second px, how surely it lies
in the core of a row, the height of an x there and the direction of the row."""

import torch.nn.functional as F
from torch import nn

from mark_network import Twice, unit

# Core; log2 of the height of an x less that of UNIT px; cosine and sine of twice the direction.
PLANES = 4
UNIT = 8.0
# Channels of each step down, from half size to a thirty-second, and of each step up to half size.
DOWN = (12, 32, 56, 80, 96)
UP = (56, 40, 28, 16)


class Rows(nn.Module):
    def __init__(self):
        super().__init__()
        self.at2 = unit(1, DOWN[0], 2)
        self.at4 = nn.Sequential(unit(DOWN[0], DOWN[1], 2), Twice(DOWN[1]))
        self.at8 = nn.Sequential(unit(DOWN[1], DOWN[2], 2), Twice(DOWN[2]))
        self.at16 = nn.Sequential(unit(DOWN[2], DOWN[3], 2), Twice(DOWN[3]), Twice(DOWN[3], (2, 1)))
        self.at32 = nn.Sequential(unit(DOWN[3], DOWN[4], 2), Twice(DOWN[4], (1, 2)), Twice(DOWN[4], (4, 2)))
        below = (DOWN[4],) + UP[:-1]
        self.from_below = nn.ModuleList([nn.Conv2d(n, m, 1) for n, m in zip(below, UP)])
        self.beside = nn.ModuleList([nn.Conv2d(n, m, 1) for n, m in zip(DOWN[3::-1], UP)])
        self.mix = nn.ModuleList([unit(m, m) for m in UP])
        self.out = nn.Conv2d(UP[-1], PLANES, 1)

    def forward(self, x):
        """x: batch × 1 × height × width, 0 to 1; sides are multiples of 32."""
        seen = [self.at2(x - 0.5)]
        for step in (self.at4, self.at8, self.at16, self.at32):
            seen.append(step(seen[-1]))
        m = seen.pop()
        for down, beside, mix in zip(self.from_below, self.beside, self.mix):
            m = mix(F.interpolate(down(m), scale_factor=2, mode="nearest") + beside(seen.pop()))
        return self.out(m)
