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


class Reader(nn.Module):
    """[batch, 1, 48, W] with mean 0 and deviation 1 a line -> [W / 4, batch, classes]."""

    def __init__(self, classes, widths=(32, 64, 96, 192, 320), hidden=288, drop=0.2, deep=1, along=1):
        super().__init__()
        a, b, c, d, e = widths
        self.body = nn.Sequential(
            conv(1, a, 5, 2),
            conv(a, b, 3, 2),
            Residual(b),
            conv(b, c, 3, (2, 1)),
            *[Residual(c) for _ in range(deep)],
            conv(c, d, 3, (2, 1)),
            conv(d, e, 3, 1, (0, 1)),
            *[Residual(e, ALONG) for _ in range(along)],
        )
        self.drop = nn.Dropout(drop)
        self.along = nn.LSTM(e, hidden, 2, bidirectional=True, dropout=drop)
        self.signs = nn.Linear(2 * hidden, classes)

    @classmethod
    def of(cls, weights):
        """The reader that kept weights belong to, with them loaded."""
        widths = tuple(weights[f"body.{i}.0.weight"].shape[0] for i in (0, 1, 3, 5, 6))
        along = sum(k.startswith("body.") and k.endswith(".first.0.weight") and weights[k].shape[2] == 1 for k in weights)
        out = cls(weights["signs.weight"].shape[0], widths, weights["along.weight_hh_l0"].shape[1], along=along)
        out.load_state_dict({k: v.float() if v.is_floating_point() else v for k, v in weights.items()})
        return out

    def features(self, x):
        return self.body(x).squeeze(2).permute(2, 0, 1)

    def forward(self, x):
        x = self.drop(self.features(x))
        x, _ = self.along(x)
        return self.signs(x)


class Exported(nn.Module):
    """For ONNX: [1, 1, 48, W] -> log-probabilities [steps, classes]."""

    def __init__(self, reader):
        super().__init__()
        self.reader = reader

    def forward(self, x):
        return torch.log_softmax(self.reader(x), 2).squeeze(1)
