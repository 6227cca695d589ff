"""Ages ink masks on the GPU (or CPU): from clean ink to a line of an old label, anew at each call.

Everything is drawn per line from one `strength` (0 clean, 1 medium, above 1 heavy): cut (too tight, too
tall, neighbours' tails), warp and curvature, ink spread, patchy and worn ink, fading, uneven paper,
wood grain, stains, rules, show-through, blur, loss of resolution, noise, inversion, thresholding.
"""

import torch
import torch.nn.functional as F

HEIGHT = 48


def field(n, rows, columns, height, width, device, kind="normal"):
    """Smooth random field [n, 1, height, width] from a grid of rows x columns."""
    make = torch.randn if kind == "normal" else torch.rand
    low = make(n, 1, max(2, int(rows)), max(2, int(columns)), device=device)
    return F.interpolate(low, (height, width), mode="bilinear", align_corners=True)


def chance(n, p, device):
    return (torch.rand(n, 1, 1, 1, device=device) < p).float()


def between(n, low, high, device):
    return torch.rand(n, 1, 1, 1, device=device) * (high - low) + low


def blur(x, weight):
    """Mixes in a small Gaussian blur, `weight` 0 to 2 a line."""

    def once(t):  # binomial 1 4 6 4 1 both ways, as sums of shifted pictures
        t = F.pad(t, (2, 2, 2, 2), mode="replicate")
        t = (t[..., :-4] + t[..., 4:] + 4 * (t[..., 1:-3] + t[..., 3:-1]) + 6 * t[..., 2:-2]) / 16
        return (t[..., :-4, :] + t[..., 4:, :] + 4 * (t[..., 1:-3, :] + t[..., 3:-1, :]) + 6 * t[..., 2:-2, :]) / 16

    soft = once(x)
    w = weight.clamp(0, 1)
    v = (weight - 1).clamp(0, 1)
    return (x * (1 - w) + soft * w) * (1 - v) + once(soft) * v


def level(x):
    """Mean 0 and deviation 1 a line."""
    mean = x.mean((1, 2, 3), keepdim=True)
    return (x - mean) / (x.std((1, 2, 3), keepdim=True) + 1e-3)


def veiled(x, share):
    """Lays paper over strips of levelled lines [n, 1, 48, W], about `share` of each: up to 24 px wide, or up to 8 px high."""
    n, _, height, width = x.shape
    for _ in range(max(1, round(width * share / 14))):
        middle, half = between(n, 0, width, x.device), between(n, 1, 12, x.device)
        across = torch.abs(torch.arange(width, device=x.device).view(1, 1, 1, width) - middle) < half
        x = x.masked_fill(across & (torch.rand(n, 1, 1, 1, device=x.device) < 0.8), 0.0)
    middle, half = between(n, 0, height, x.device), between(n, 0, 4, x.device)
    along = torch.abs(torch.arange(height, device=x.device).view(1, 1, height, 1) - middle) < half
    return x.masked_fill(along & (torch.rand(n, 1, 1, 1, device=x.device) < 0.3), 0.0)


def age(masks, ink_width, strength, scanned=None, wild=1.0):
    """masks [n, 64, W] uint8, ink_width [n] px, strength [n] -> [n, 1, 48, W] levelled.

    scanned [n] bool: the mask is a real scan's darkness; its ink and paper are aged less, but it is slanted,
    stretched and warped more: few hands wrote the real lines, and that makes others of them. `wild`: how much more.
    """
    n, tall, width = masks.shape
    dev = masks.device
    m = masks.float().div_(255).unsqueeze(1)
    real = torch.zeros(n, 1, 1, 1, device=dev) if scanned is None else scanned.float().view(n, 1, 1, 1)
    s = strength.float().view(n, 1, 1, 1) * (1 - 0.55 * real)
    ink_width = ink_width.float().view(n, 1, 1, 1)

    # neighbours' tails
    k = int(torch.randint(42, 56, (1,)))
    other = m.roll(1, 0)
    above = F.pad(other[:, :, k:], (0, 0, 0, k))
    below = F.pad(other[:, :, :-k], (0, 0, k, 0))
    m = torch.maximum(m, above * chance(n, 0.17, dev) * (1 - real))
    m = torch.maximum(m, below * chance(n, 0.17, dev) * (1 - real))

    # ink spread or thinning
    spread = between(n, -0.7, 1.0, dev) * (s + 0.5 * wild * real * strength.float().view(n, 1, 1, 1)).clamp(max=1.2)
    # a pen that is pressed more here and less there
    spread = spread + real * chance(n, 0.5, dev) * field(n, 2, width / 50, tall, width, dev) * between(n, 0, 0.6, dev)
    thick = F.max_pool2d(m, 3, 1, 1)
    thin = -F.max_pool2d(-m, 3, 1, 1)
    m = m + spread.clamp(min=0) * (thick - m) + (-spread).clamp(min=0) * (thin - m)

    # cut, slope, curve, warp
    ys = torch.arange(HEIGHT, device=dev, dtype=torch.float32).view(1, HEIGHT, 1) - 23.5
    xs = torch.arange(width, device=dev, dtype=torch.float32).view(1, 1, width)
    flat = lambda t: t.view(n, 1, 1)
    zoom = flat(between(n, 45, 66, dev)) * (1 - flat(real)) + flat(between(n, 42, 60, dev)) * flat(real)
    # now and then a cut far too tall, as around an arched line or a lone figure
    tall_cut = flat(chance(n, 0.08, dev) * (1 - real))
    zoom = zoom + tall_cut * flat(between(n, 4, 26, dev))
    middle = 31.5 + flat(torch.randn(n, 1, 1, 1, device=dev)) * 1.6
    free = (width - 2) / flat(ink_width).clamp(min=8)
    bent = flat(real)
    stretch = torch.minimum(flat(between(n, 0.86, 1.2, dev)) ** (1 + wild * bent), free.clamp(min=0.8 - 0.15 * bent))
    room = (width - flat(ink_width) * stretch).clamp(min=0)
    offset = flat(torch.rand(n, 1, 1, 1, device=dev)) * room * 0.7
    across = (xs - width / 2) / (width / 2)
    soft = flat((s + strength.float().view(n, 1, 1, 1) * 0.55 * real).clamp(max=1.3))
    slope = flat(torch.randn(n, 1, 1, 1, device=dev)) * min(4.0, 0.02 * width) * (0.25 + 0.5 * soft)
    bend = flat(torch.randn(n, 1, 1, 1, device=dev)) * min(3.0, 0.01 * width) * soft
    bend = bend + tall_cut * flat(torch.randn(n, 1, 1, 1, device=dev)) * min(7.0, 0.025 * width)
    wave = torch.randn(n, 2, 3, max(2, width // 56), device=dev)
    wave = F.interpolate(wave, (HEIGHT, width), mode="bilinear", align_corners=True) * soft.view(n, 1, 1, 1)
    slant = flat(torch.randn(n, 1, 1, 1, device=dev)) * (0.12 + 0.12 * wild * bent)
    # letters of real hands wider here and narrower there, and a line that wanders
    near = F.interpolate(torch.randn(n, 2, 3, max(2, width // 26), device=dev), (HEIGHT, width), mode="bilinear", align_corners=True)
    near = near * (bent * flat(chance(n, 0.6, dev)) * flat(between(n, 0.2, wild, dev))).view(n, 1, 1, 1)
    y = middle + ys * zoom / HEIGHT + slope * across + bend * (across**2 - 0.4) + wave[:, 0] * 1.0 + near[:, 0] * 1.1
    x = (xs - offset) / stretch + slant * ys + wave[:, 1] * 1.3 + near[:, 1] * 2.2
    grid = torch.stack([(x + 0.5) / width * 2 - 1, (y + 0.5) / tall * 2 - 1], 3)
    ink = F.grid_sample(m, grid, mode="bilinear", padding_mode="zeros", align_corners=False)

    # worn, patchy, dry ink
    fine = field(n, 26, width / 2, HEIGHT, width, dev, "uniform")
    coarse = field(n, 3, width / 36, HEIGHT, width, dev, "uniform")
    dry = chance(n, 0.35, dev) * between(n, 0.0, 1.0, dev) * s
    ink = ink * (1 - dry.clamp(max=1.1) * torch.sigmoid((fine - 0.62 + 0.25 * (coarse - 0.5)) * 14))
    patchy = chance(n, 0.4, dev) * between(n, 0.1, 0.85, dev) * s.clamp(max=1.15)
    ink = (ink * (1 - patchy * ((coarse - 0.35) * 2.2).clamp(0, 1))).clamp(0, 1)
    # chalk and stencil paint on grain and weave: the ink lies on the ridges only
    grain = field(n, 40, width / 60, HEIGHT, width, dev, "uniform")
    cloth = 0.5 + 0.25 * (torch.sin(xs.unsqueeze(1) * between(n, 0.9, 2.4, dev)) + torch.sin(ys.unsqueeze(1) * between(n, 0.9, 2.4, dev)))
    ridges = torch.where(torch.rand(n, 1, 1, 1, device=dev) < 0.55, grain, cloth.expand_as(grain))
    broken = chance(n, 0.14, dev) * between(n, 0.2, 0.95, dev) * s.clamp(max=1.1) * (1 - real)
    ink = ink * (1 - broken * torch.sigmoid((ridges - between(n, 0.45, 0.65, dev)) * 12))
    edge = chance(n, 0.06, dev) * (1 - real)
    ink = ink * (1 - edge * 0.6 * blur(ink, torch.full_like(edge, 2.0)) ** 2)
    fade = chance(n, 0.25, dev) * s * between(n, 0, 0.7, dev)
    side = torch.where(torch.rand(n, 1, 1, 1, device=dev) < 0.5, across.unsqueeze(1), -across.unsqueeze(1))
    ink = ink * (1 - fade * (side * 0.5 + 0.5)).clamp(0.08, 1)

    # rules, frames, struck lines
    row = torch.arange(HEIGHT, device=dev, dtype=torch.float32).view(1, 1, HEIGHT, 1)
    column = xs.unsqueeze(1)
    at = torch.where(torch.rand(n, 1, 1, 1, device=dev) < 0.75, between(n, 30, 47, dev), between(n, 0, 12, dev)) + slope.view(n, 1, 1, 1) * across.unsqueeze(1) * between(n, 0, 1, dev)
    rule = torch.exp(-((row - at) / between(n, 0.5, 1.2, dev)) ** 2)
    dots = (torch.sin(column * between(n, 0.5, 1.6, dev)) > 0.2).float()
    rule = rule * torch.where(chance(n, 0.35, dev) > 0, dots, torch.ones_like(dots))
    ink = torch.maximum(ink, rule * chance(n, 0.18, dev) * between(n, 0.2, 0.9, dev) * (1 - real))
    post = between(n, 0, 1, dev) * width
    post = torch.where(torch.rand(n, 1, 1, 1, device=dev) < 0.7, torch.where(post < width / 2, post * 0.02, width - 1 - (width - post) * 0.02), post)
    frame = torch.exp(-((column - post) / between(n, 0.6, 1.6, dev)) ** 2)
    outside = (((column - offset.view(n, 1, 1, 1)) < 3) | ((column - offset.view(n, 1, 1, 1)) > ink_width * stretch.view(n, 1, 1, 1))).float()
    ink = torch.maximum(ink, frame * outside * chance(n, 0.07, dev) * between(n, 0.3, 1, dev))

    # paper
    paper = between(n, 0.5, 1, dev)
    paper = paper + field(n, 2, width / 90, HEIGHT, width, dev) * 0.1 * s * between(n, 0, 1, dev)
    paper = paper + field(n, 24, width / 3, HEIGHT, width, dev) * 0.05 * s * between(n, 0, 1, dev)
    wood = field(n, 30, width / 70, HEIGHT, width, dev) * 0.11 * chance(n, 0.16, dev) * s
    weave = (cloth - 0.5) * 0.22 * chance(n, 0.1, dev) * between(n, 0.3, 1, dev) * s
    stain = torch.sigmoid((field(n, 4, width / 30, HEIGHT, width, dev) - 1.0) * between(n, 2, 14, dev)) * between(n, 0, 0.35, dev) * chance(n, 0.25, dev) * s.clamp(max=1.3)
    through = F.interpolate(m.roll(3, 0).flip(3), (HEIGHT, width), mode="bilinear") * chance(n, 0.08, dev) * 0.14
    paper = (paper + wood + weave - stain - through).clamp(0.12, 1.1)
    dark = (between(n, 0.55, 1.0, dev) * (1 - 0.42 * s * torch.rand(n, 1, 1, 1, device=dev).sqrt())).clamp(0.1, 1)
    # nearly gone: as pale as its own paper's unevenness
    pale = chance(n, 0.14, dev) * (1 - real)
    dark = dark * (1 - pale * between(n, 0.3, 0.8, dev) * s.clamp(max=1))
    grey = paper * (1 - dark * ink)
    # light from one side: pressed lettering and creases throw light and shade
    raked = chance(n, 0.1, dev) * (1 - real) * s.clamp(max=1.2)
    height = field(n, 5, width / 24, HEIGHT, width, dev) * between(n, 0.2, 1, dev) + field(n, 24, width / 3, HEIGHT, width, dev) * between(n, 0, 0.12, dev)
    height = height - blur(ink, torch.full_like(raked, 1.0)) * between(n, 0, 0.5, dev)
    away = torch.where(torch.rand(n, 1, 1, 1, device=dev) < 0.5, height - height.roll(1, 3), height - height.roll(1, 2))
    grey = grey + raked * away * between(n, 0.15, 0.6, dev) * torch.where(torch.rand(n, 1, 1, 1, device=dev) < 0.5, 1.0, -1.0)
    light = chance(n, 0.06, dev)
    grey = grey * (1 - light) + (paper * 0.45 + dark * 0.5 * ink) * light

    # the picture taken
    grey = blur(grey, between(n, 0, 1, dev) ** 2 * (0.35 + 1.5 * s))
    if float(torch.rand(1)) < 0.25:
        scale = float(torch.rand(1)) ** 0.7 * 0.55 + 0.4
        small = F.interpolate(grey, (int(HEIGHT * scale), int(width * scale)), mode="area")
        coarse = F.interpolate(small, (HEIGHT, width), mode="bilinear")
        rough = chance(n, 0.6, dev)
        grey = grey * (1 - rough) + coarse * rough
    noise = torch.randn_like(grey) * between(n, 0, 1, dev) ** 2 * 0.09
    noise = noise + field(n, 24, width / 2, HEIGHT, width, dev) * between(n, 0, 1, dev) ** 2 * 0.05
    grey = grey + noise * s
    local = F.avg_pool2d(F.pad(grey, (12, 12, 12, 12), mode="replicate"), 25, 1)
    sharp = torch.sigmoid((grey - local + between(n, 0.03, 0.12, dev)) * between(n, 25, 90, dev))
    bitonal = chance(n, 0.09, dev)
    grey = grey * (1 - bitonal) + sharp * bitonal
    lost = chance(n, 0.08, dev) * (torch.abs(column - between(n, 0, 1, dev) * width) < between(n, 2, 7, dev)).float()
    grey = grey * (1 - lost) + paper.mean((2, 3), keepdim=True) * lost
    return level(grey)
