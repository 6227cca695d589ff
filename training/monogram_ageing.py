"""Makes photographs of clean monograms, on any device: stroke width, turn, loss, ground, paint, light, blur.

`age(masks, severity, turn)`: masks batch × 1 × SIDE × SIDE (0 to 1), severity 0 mild, 1 medium, 2 severe, 3 print clean as a scan; `turn` clockwise, radians (`upright` or
`any_turn`). Gives grey pictures of PX × PX px, and for each of GRID × GRID places in them the place of the mask (-1 to 1) that is seen there.
"""

import math

import torch
import torch.nn.functional as F

from monogram_network import GRID, PX


def upright(n, dev):
    """Turns within 20 degrees of upright."""
    return (torch.rand(n, device=dev) - 0.5) * math.radians(40)


def any_turn(n, dev):
    return torch.rand(n, device=dev) * 2 * math.pi


def turned_back(grey, turn):
    """Pictures turned anticlockwise by so much, about their middles; what comes in at the corners is what lay at the edge."""
    c, s, o = torch.cos(turn), torch.sin(turn), torch.zeros_like(turn)
    grid = F.affine_grid(torch.stack([torch.stack([c, -s, o], 1), torch.stack([s, c, o], 1)], 1), grey.shape, align_corners=False)
    return F.grid_sample(grey, grid, mode="bilinear", padding_mode="border", align_corners=False)


def between(n, a, b, dev):
    return torch.rand(n, 1, 1, 1, device=dev) * (b - a) + a


def chance(n, p, dev):
    return (torch.rand(n, 1, 1, 1, device=dev) < p).float()


def field(n, rows, columns, dev, side=PX):
    """Smooth noise, deviation about 1."""
    return F.interpolate(torch.randn(n, 1, max(2, rows), max(2, columns), device=dev), (side, side), mode="bicubic", align_corners=False)


def blur(x, sigma):
    """Each picture by its own sigma, px, up to about 3."""
    r = 5
    t = torch.arange(-r, r + 1, device=x.device, dtype=x.dtype)
    k = torch.exp(-t.square()[None] / (2 * sigma.view(-1, 1).clamp(min=0.15).square()))
    k = k / k.sum(1, keepdim=True)
    n, _, h, w = x.shape
    y = F.conv2d(F.pad(x, (r, r, 0, 0), mode="replicate").view(1, n, h, w + 2 * r), k.view(n, 1, 1, -1), groups=n)
    return F.conv2d(F.pad(y.view(n, 1, h, w), (0, 0, r, r), mode="replicate").view(1, n, h + 2 * r, w), k.view(n, 1, -1, 1), groups=n).view(n, 1, h, w)


def swollen(m, far):
    """Strokes thicker (far > 0) or thinner by so many px."""
    thick = F.max_pool2d(m, 3, 1, 1)
    thicker = F.max_pool2d(m, 5, 1, 2)
    thin = -F.max_pool2d(-m, 3, 1, 1)
    up = (far.clamp(0, 1) * (thick - m)) + ((far - 1).clamp(0, 1) * (thicker - thick))
    return m + up - (-far).clamp(0, 1) * (m - thin)


def moved(m, turn, hard, dev):
    """Turned, scaled, shifted, seen aslant and bent a little, at the size that the network sees."""
    n = len(m)
    scale = between(n, 0.95, 1.28, dev).view(-1)  # what the picture shows of the mask
    lean = torch.randn(n, device=dev) * 0.04 * (1 + hard.view(-1))
    wide = torch.exp(torch.randn(n, device=dev) * 0.06)
    c, s = torch.cos(turn) * scale, torch.sin(turn) * scale
    shift = (torch.rand(n, 2, device=dev) - 0.5) * 0.14
    theta = torch.stack([torch.stack([c * wide, -s + lean, shift[:, 0]], 1), torch.stack([s * wide, c / wide, shift[:, 1]], 1)], 1)
    grid = F.affine_grid(theta, (n, 1, PX, PX), align_corners=False)
    bend = torch.cat([field(n, 4, 4, dev), field(n, 4, 4, dev)], 1) * (0.008 + 0.012 * hard)
    aslant = 1 + (grid[..., :1] * (torch.randn(n, 1, 1, 1, device=dev) * 0.05) + grid[..., 1:] * (torch.randn(n, 1, 1, 1, device=dev) * 0.05)) * (0.5 + hard)
    grid = grid * aslant + bend.permute(0, 2, 3, 1)
    return F.grid_sample(m, grid, mode="bilinear", padding_mode="zeros", align_corners=False), grid


def ground(n, hard, dev):
    """Paint, paper, wood or canvas round the sign, 0 to 1 around 0.5."""
    base = field(n, 3, 3, dev) * 0.07 * (0.4 + hard) + field(n, 9, 9, dev) * 0.05 * hard
    strokes = field(n, 40, 4, dev) * 0.06 * chance(n, 0.3, dev) + field(n, 5, 48, dev) * 0.06 * chance(n, 0.3, dev)
    y = torch.arange(PX, device=dev, dtype=torch.float32)
    cloth = (torch.cos(y.view(1, 1, -1, 1) * between(n, 0.8, 2.2, dev)) * torch.cos(y.view(1, 1, 1, -1) * between(n, 0.8, 2.2, dev))) * 0.07 * chance(n, 0.25, dev)
    grain = field(n, 64, 64, dev) * 0.05 + torch.randn(n, 1, PX, PX, device=dev) * 0.03
    edge = torch.sigmoid(field(n, 3, 3, dev) * 9 - between(n, 0, 14, dev)) * between(n, -0.35, 0.35, dev) * hard * chance(n, 0.5, dev)
    return base + (strokes + cloth + grain) * (0.25 + hard) + edge


def losses(n, hard, dev):
    """Share of the paint left at each px: flaking and rubbing."""
    coarse = field(n, 10, 10, dev) + 0.6 * field(n, 28, 28, dev)
    # of a normal field of deviation 1.17 that share lies above the threshold
    share = (0.01 + 0.12 * hard + 0.09 * hard * hard * between(n, 0, 1, dev)).clamp(max=0.5) * between(n, 0.2, 1, dev)
    level = 1.17 * math.sqrt(2) * torch.erfinv(1 - 2 * share.clamp(0.002, 0.499))
    flaked = torch.sigmoid((coarse - level) * 12) * chance(n, 0.85, dev)
    rubbed = (field(n, 4, 4, dev) * 0.25 * hard + 0.1 * hard).clamp(0, 0.7)
    return (1 - flaked) * (1 - rubbed)


def lines(n, hard, dev):
    """Cracks: thin lines where smooth noise passes through zero."""
    a = field(n, 7, 7, dev)
    width = 0.05 + 0.05 * torch.rand(n, 1, 1, 1, device=dev)
    return torch.exp(-(a / width).square()) * chance(n, 0.25, dev) * hard.clamp(max=1.2)


def age(masks, severity, turn):
    n, dev = len(masks), masks.device
    level = severity.view(-1, 1, 1, 1).float()
    clean = (level > 2.5).float()
    level = torch.where(level > 2.5, torch.zeros_like(level), level)
    hard = (0.1 + 0.5 * level) * between(n, 0.6, 1, dev)
    far = torch.randn(n, 1, 1, 1, device=dev) * (0.35 + 0.35 * level)
    m = swollen(masks, far)
    # the grid turns the other way than what is seen through it
    m, grid = moved(m, -turn, hard, dev)
    m = m.clamp(0, 1)
    source = F.avg_pool2d(grid.permute(0, 3, 1, 2), PX // GRID).permute(0, 2, 3, 1)
    m = blur(m, between(n, 0, 0.7, dev) * (1 + hard))
    left = losses(n, hard, dev)
    contrast = between(n, 0.45, 0.75, dev) * (1 - 0.55 * hard * between(n, 0.4, 1, dev)).clamp(min=0.12)
    sign = torch.where(torch.rand(n, 1, 1, 1, device=dev) < 0.62, -1.0, 1.0)
    uneven = 1 + field(n, 6, 6, dev) * 0.18 * hard
    aged = m * left * uneven * contrast * sign * 0.9
    back = ground(n, hard, dev)
    crack = lines(n, hard, dev) * -0.25
    relief = m - m.roll((1, 1), (2, 3))
    grey = 0.5 + (back + crack) * (1 - clean) + aged + relief * between(n, -0.25, 0.25, dev) * chance(n, 0.25, dev) * (1 - clean)
    # other strokes that cross, and what stands beside
    other, _ = moved(masks.roll(1, 0), any_turn(n, dev), hard, dev)
    place = F.pad(other, (PX // 2, 0, 0, 0))[..., :PX] if torch.rand(1) < 0.5 else F.pad(other, (0, 0, PX // 2, 0))[..., :PX, :]
    grey = grey + place.roll(PX // 4, 3) * between(n, -0.2, 0.2, dev) * (level > 0.5).float() * chance(n, 0.12, dev)
    grey = blur(grey, between(n, 0, 0.6, dev) + 0.9 * hard * between(n, 0, 1, dev))
    small = PX - int(torch.rand(1) * 70)
    coarse = F.interpolate(F.interpolate(grey, (small, small), mode="area"), (PX, PX), mode="bilinear", align_corners=False)
    rough = chance(n, 0.3, dev)
    grey = grey * (1 - rough) + coarse * rough
    return (grey + torch.randn_like(grey) * 0.03 * hard * (1 - clean)).clamp(0, 1), source
