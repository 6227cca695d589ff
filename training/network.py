"""The line recogniser's network: line picture in, log-probabilities of signs per step out.

A picture of a line is 48 px high and any width W (px, a multiple of 4 is best); a step of the
output stands for 4 px. Convolutions halve both sides twice at once, so that most of the work is
done on a twelfth of the pixels or less, then halve the height only; two bidirectional LSTM layers
read along the line; connectionist temporal classification (Graves et al. 2006) parts signs from
steps. Class 0 is the blank, class i the i-th sign of `alphabet.txt` (from 1).
"""

import torch
from torch import nn

HEIGHT = 48
STRIDE = 4


def conv(inputs, outputs, kernel=3, stride=1, padding=None):
    """Convolution, batch normalisation and ReLU."""
    padding = kernel // 2 if padding is None else padding
    return nn.Sequential(
        nn.Conv2d(inputs, outputs, kernel, stride, padding, bias=False),
        nn.BatchNorm2d(outputs),
        nn.ReLU(inplace=True),
    )


# kernel of a block of convolutions along the line, at height 1: its weights are used once a step, so that
# it is the cheapest place to make the network deeper
ALONG = (1, 3)


class Residual(nn.Module):
    """Two convolutions around which the input passes."""

    def __init__(self, channels, kernel=(3, 3)):
        super().__init__()
        around = tuple(k // 2 for k in kernel)
        self.first = conv(channels, channels, kernel, 1, around)
        self.second = nn.Sequential(
            nn.Conv2d(channels, channels, kernel, 1, around, bias=False), nn.BatchNorm2d(channels)
        )
        nn.init.zeros_(self.second[1].weight)

    def forward(self, x):
        return torch.relu(x + self.second(self.first(x)))


class Across(nn.Module):
    """A block in which each step hears all others of its line, then its neighbours, then itself; the input passes around each.

    Attention (Vaswani et al. 2017, arXiv:1706.03762) with a bias by distance as in Raffel et al. 2020 (arXiv:1910.10683), and
    convolution step by step between gates as in Gulati et al. 2020 (arXiv:2005.08100). Adds nothing before it is trained.
    """

    FAR = 24  # steps from which distances count alike
    NEAR = 9  # steps that the convolution covers

    def __init__(self, width, heads=5, skip=0.0):
        super().__init__()
        self.heads, self.skip = heads, skip
        self.norms = nn.ModuleList(nn.LayerNorm(width) for _ in range(3))
        self.asked, self.told = nn.Linear(width, 3 * width), nn.Linear(width, width)
        self.distance = nn.Parameter(torch.zeros(2 * self.FAR + 1, heads))
        self.gated, self.mixed = nn.Linear(width, 2 * width), nn.Linear(width, width)
        self.beside = nn.Conv1d(width, width, self.NEAR, padding=self.NEAR // 2, groups=width)
        self.wide, self.narrow = nn.Linear(width, 2 * width), nn.Linear(2 * width, width)
        for last in (self.told, self.mixed, self.narrow):
            nn.init.zeros_(last.weight)
            nn.init.zeros_(last.bias)

    def hears(self, x):
        t, n, width = x.shape
        q, k, v = (y.reshape(t, n, self.heads, -1).permute(1, 2, 0, 3) for y in self.asked(x).chunk(3, 2))
        at = torch.arange(t, device=x.device)
        apart = (at[None] - at[:, None]).clamp(-self.FAR, self.FAR) + self.FAR
        odds = q @ k.transpose(2, 3) * (width // self.heads) ** -0.5 + self.distance[apart].permute(2, 0, 1)
        return self.told((odds.softmax(3).to(v.dtype) @ v).permute(2, 0, 1, 3).reshape(t, n, width))

    def neighbours(self, x):
        y, gate = self.gated(x).chunk(2, 2)
        y = self.beside((y * torch.sigmoid(gate)).permute(1, 2, 0)).permute(2, 0, 1)
        return self.mixed(y * torch.sigmoid(y))

    def itself(self, x):
        y = self.wide(x)
        return self.narrow(y * torch.sigmoid(y))

    def forward(self, x):
        """[steps, batch, width] -> the same; in training a part is now and then left out of a line (`skip`)."""
        for norm, part in zip(self.norms, (self.hears, self.neighbours, self.itself)):
            y = part(norm(x))
            if self.training and self.skip:
                y = y * (torch.rand(1, x.shape[1], 1, device=x.device) >= self.skip) / (1 - self.skip)
            x = x + y
        return x


class Reader(nn.Module):
    """[batch, 1, 48, W] with mean 0 and deviation 1 a line -> [W / 4, batch, classes].

    `deep`: residual blocks 12, 6 and 3 px high; `along`: those 1 px high; `across`: blocks in which steps hear each other.
    """

    def __init__(self, classes, widths=(32, 64, 96, 192, 320), hidden=288, drop=0.2, deep=(1, 1, 0), along=1, across=0):
        super().__init__()
        self.widths = a, b, c, d, e = widths
        self.body = nn.Sequential(
            conv(1, a, 5, 2),
            conv(a, b, 3, 2),
            *[Residual(b) for _ in range(deep[0])],
            conv(b, c, 3, (2, 1)),
            *[Residual(c) for _ in range(deep[1])],
            conv(c, d, 3, (2, 1)),
            *[Residual(d) for _ in range(deep[2])],
            conv(d, e, 3, 1, (0, 1)),
            *[Residual(e, ALONG) for _ in range(along)],
        )
        self.across = nn.ModuleList(Across(e) for _ in range(across))
        self.drop = nn.Dropout(drop)
        self.along = nn.LSTM(e, hidden, 2, bidirectional=True, dropout=drop)
        self.signs = nn.Linear(2 * hidden, classes)

    @classmethod
    def of(cls, weights):
        """The reader that kept weights belong to, with them loaded."""
        widths, blocks, i = [], [], 0  # of each convolution its outputs and the blocks behind it
        while any(k.startswith(f"body.{i}.") for k in weights):
            if f"body.{i}.0.weight" in weights:
                widths.append(weights[f"body.{i}.0.weight"].shape[0])
                blocks.append(0)
            else:
                blocks[-1] += 1
            i += 1
        across = sum(k.endswith(".told.bias") for k in weights)
        out = cls(weights["signs.weight"].shape[0], tuple(widths), weights["along.weight_hh_l0"].shape[1], deep=tuple(blocks[1:4]), along=blocks[4], across=across)
        out.load_state_dict({k: v.float() if v.is_floating_point() else v for k, v in weights.items()})
        return out

    def features(self, x):
        return self.body(x).squeeze(2).permute(2, 0, 1)

    def forward(self, x):
        x = self.features(x)
        for block in self.across:
            x = block(x.float())
        x, _ = self.along(self.drop(x))
        return self.signs(x)


class Exported(nn.Module):
    """For ONNX: [1, 1, 48, W] -> log-probabilities [steps, classes]."""

    def __init__(self, reader):
        super().__init__()
        self.reader = reader

    def forward(self, x):
        return torch.log_softmax(self.reader(x), 2).squeeze(1)
