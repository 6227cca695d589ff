"""Trains the network that says where marks lie, on made backs, on one GPU.

    python train_marks.py --data FOLDER --out FOLDER --seconds 240 [--hold 24]

FOLDER holds photographs NAME.jpg with truth NAME.json and NAME.parts.png as `make_samples --parts` writes them. Pictures are turned,
scaled, shifted and re-lit on the GPU; nothing is mirrored. Writes finder.pt and finder.onnx.
"""

import argparse
import json
import math
import os
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from PIL import Image

from mark_network import KINDS, PARTS, PLANES, UNIT, Finder

STORE, SIDE, MOST = 1280, 896, 32
UNKNOWN = 255


def load(path):
    """None for a file that was cut off."""
    try:
        return read(path)
    except (OSError, ValueError):
        return None


def read(path):
    truth = json.loads(path.with_suffix(".json").read_text())
    picture = Image.open(path).convert("RGB")
    by = STORE / max(picture.size)
    size = [max(1, round(v * by)) for v in picture.size]
    picture = picture.resize(size, Image.BOX if by < 1 else Image.BILINEAR)
    marks = [m for m in truth["marks"] if m["kind"] in KINDS][:MOST]
    quads = np.array([m["outline"] for m in marks], np.float32).reshape(-1, 4, 2) * by
    canvas = np.zeros((STORE, STORE, 3), np.uint8)
    canvas[: size[1], : size[0]] = np.asarray(picture)
    parts = np.full((STORE // 4, STORE // 4), UNKNOWN, np.uint8)
    seen = Image.open(path.with_suffix(".parts.png")).resize([max(1, v // 4) for v in size], Image.NEAREST)
    parts[: seen.size[1], : seen.size[0]] = np.asarray(seen)
    return canvas, size, quads, [KINDS.index(m["kind"]) for m in marks], truth["whole_back"], parts


class Store:
    def __init__(self, files, device):
        with ProcessPoolExecutor(min(16, os.cpu_count())) as pool:
            got = [g for g in pool.map(load, files, chunksize=4) if g]
        n = len(got)
        self.pictures = torch.empty((n, 3, STORE, STORE), dtype=torch.uint8, device=device)
        self.quads = torch.zeros((n, MOST, 4, 2), device=device)
        self.kinds = torch.zeros((n, MOST), dtype=torch.long, device=device)
        self.there = torch.zeros((n, MOST), dtype=torch.bool, device=device)
        self.size = torch.tensor([g[1] for g in got], dtype=torch.float32, device=device)
        self.parts = torch.from_numpy(np.stack([g[5] for g in got])).to(device)[:, None]
        for i, (picture, _, quads, kinds, _, _) in enumerate(got):
            self.pictures[i] = torch.from_numpy(picture).to(device).permute(2, 0, 1)
            k = len(kinds)
            if k:
                self.quads[i, :k] = torch.from_numpy(quads).to(device)
                self.kinds[i, :k] = torch.tensor(kinds, device=device)
                self.there[i, :k] = True
        self.whole = torch.tensor([g[4] for g in got], device=device)
        self.n, self.device = n, device

    def batch(self, pick, r, still=False):
        """Pictures (n × 3 × SIDE × SIDE, 0 to 1), quads on them."""
        n = len(pick)
        u = lambda lo, hi: lo + (hi - lo) * torch.rand(n, device=self.device)
        size = self.size[pick]
        if still:
            turn, scale = torch.zeros(n, device=self.device), torch.full((n,), SIDE / STORE, device=self.device)
            mid, jump = size / 2, torch.zeros((n, 2), device=self.device)
        else:
            quarter = torch.randint(0, 4, (n,), device=self.device) * (torch.rand(n, device=self.device) < 0.5)
            turn = quarter * (math.pi / 2) + u(-1, 1) ** 3 * math.radians(25)
            # Longer side of the picture, px, as the network sees it: about 1024 in use.
            scale = torch.exp(u(math.log(640), math.log(1400))) / STORE
            room = torch.clamp(size - (SIDE / scale)[:, None] * 0.9, min=0)
            mid = size / 2 + (torch.rand((n, 2), device=self.device) - 0.5) * room
            jump = (torch.rand((n, 2), device=self.device) - 0.5) * 0.1 * SIDE
        stretch = torch.stack([u(0.93, 1.07), u(0.93, 1.07)], 1) if not still else torch.ones((n, 2), device=self.device)
        c, s = torch.cos(turn), torch.sin(turn)
        rot = torch.stack([torch.stack([c, -s], 1), torch.stack([s, c], 1)], 1)
        way = rot * (scale[:, None] * stretch)[:, None, :]  # picture -> canvas
        shift = SIDE / 2 + jump - torch.einsum("nij,nj->ni", way, mid)
        back = torch.linalg.inv(way)
        ys, xs = torch.meshgrid(torch.arange(SIDE, device=self.device), torch.arange(SIDE, device=self.device), indexing="ij")
        at = torch.stack([xs, ys], -1).float() + 0.5
        src = torch.einsum("nij,nhwj->nhwi", back, at[None] - shift[:, None, None])
        grid = src / STORE * 2 - 1
        full = self.pictures[pick].float() / 255
        x = F.grid_sample(full, grid, mode="bilinear", padding_mode="zeros", align_corners=False)
        # Parts at the middle of each fourth px; 0 past the edge of what is stored, so numbered from 1.
        parts = self.parts[pick].float() + 1
        parts = F.grid_sample(parts, grid[:, 2::4, 2::4], mode="nearest", padding_mode="zeros", align_corners=False)[:, 0].long() - 1
        parts = torch.where(parts < 0, torch.full_like(parts, UNKNOWN), parts)
        inside = ((src >= 0) & (src < size[:, None, None])).all(-1)
        quads = torch.einsum("nij,nkcj->nkci", way, self.quads[pick]) + shift[:, None, None]
        if not still:
            x = relight(x, self.device)
        ground = torch.rand((n, 3, 1, 1), device=self.device) if not still else torch.zeros((n, 3, 1, 1), device=self.device)
        x = torch.where(inside[:, None], x, ground)
        mid_in = quads.mean(2)
        there = self.there[pick] & ((mid_in > 0) & (mid_in < SIDE)).all(-1)
        return x, quads, self.kinds[pick], there, self.there[pick], parts


def relight(x, device):
    n = len(x)
    r = lambda lo, hi, k=1: lo + (hi - lo) * torch.rand((n, k, 1, 1), device=device)
    x = x.clamp(0, 1) ** torch.exp(r(-0.5, 0.5))
    x = x * torch.exp(r(-0.35, 0.35) + r(-0.12, 0.12, 3))
    grey = x.mean(1, keepdim=True)
    keep = torch.where(r(0, 1) < 0.12, torch.zeros((n, 1, 1, 1), device=device), r(0.6, 1.3))
    x = grey + (x - grey) * keep
    field = F.interpolate(torch.randn((n, 1, 4, 4), device=device) * r(0, 0.18), size=x.shape[2:], mode="bicubic", align_corners=False)
    x = x * (1 + field)
    soft = F.avg_pool2d(x, 3, 1, 1)
    x = torch.where(r(0, 1) < 0.25, soft, x)
    sharp = x + (x - soft) * r(0, 1.2)
    x = torch.where(r(0, 1) < 0.25, sharp, x)
    return (x + torch.randn_like(x) * r(0, 0.035)).clamp(0, 1)


def targets(quads, kinds, there, known, side):
    """Which mark each fourth px lies in (−1: none; −2: not counted) and how deep."""
    g = (torch.arange(side // 4, device=quads.device) * 4 + 2.0)
    px = torch.stack(torch.meshgrid(g, g, indexing="xy"), -1)  # h × w × 2
    a, b = quads, quads.roll(-1, 2)
    edge = b - a
    long = edge.norm(dim=-1).clamp(min=1e-3)
    # Distance within each side (clockwise on a picture), n × k × 4 × h × w.
    rel = px[None, None, None] - a[:, :, :, None, None]
    d = (edge[..., 0, None, None] * rel[..., 1] - edge[..., 1, None, None] * rel[..., 0]) / long[..., None, None]
    u = d[:, :, 0] / (d[:, :, 0] + d[:, :, 2]).clamp(min=1e-3)
    v = d[:, :, 1] / (d[:, :, 1] + d[:, :, 3]).clamp(min=1e-3)
    depth = 2 * torch.minimum(torch.minimum(u, 1 - u), torch.minimum(v, 1 - v))
    depth = torch.where((d > 0).all(2) & known[:, :, None, None], depth, torch.zeros_like(depth))
    deep, which = depth.max(1)
    lost = known & ~there
    ignore = (depth * lost[:, :, None, None]).amax(1) > 0
    which = torch.where(deep > 0, which, torch.full_like(which, -1))
    return which, deep, ignore, px


def loss_of(out, quads, kinds, there, known, parts, side):
    which, deep, ignore, px = targets(quads, kinds, there, known, side)
    n, _, h, w = out.shape
    inside = (which >= 0) & ~ignore
    # Each mark has the same weight, whatever its size.
    flat = (torch.arange(n, device=out.device)[:, None, None] * MOST + which.clamp(min=0))
    count = torch.zeros(n * MOST, device=out.device).scatter_add_(0, flat[inside], torch.ones_like(flat[inside], dtype=torch.float32))
    weight = torch.zeros_like(deep)
    weight[inside] = 1.0 / count[flat[inside]].clamp(min=4)
    total = weight.sum().clamp(min=1)
    seen = (~ignore).float()
    even = 0.5 * weight * (h * w / 60.0) + 0.3
    bce = lambda o, t: F.binary_cross_entropy_with_logits(o, t, reduction="none")
    is_in = inside.float()
    mask = (bce(out[:, 0], is_in) * seen * even.clamp(max=12)).mean()
    p = torch.sigmoid(out[:, 0]) * seen
    dice = 1 - (2 * (p * is_in).sum((1, 2)) + 50) / ((p + is_in * seen).sum((1, 2)) + 50)
    core = ((deep * 1.3).clamp(max=1)) * is_in
    middle = (bce(out[:, 1], core) * seen * even.clamp(max=12)).mean()
    i = inside.nonzero()
    corners = out[:, 2:10].permute(0, 2, 3, 1)[inside].reshape(-1, 4, 2) * UNIT
    goal = quads[i[:, 0], which[inside]] - px[i[:, 1], i[:, 2]][:, None]
    q = quads[i[:, 0], which[inside]]
    short = torch.minimum((q[:, 0] - q[:, 1]).norm(dim=-1), (q[:, 1] - q[:, 2]).norm(dim=-1)).clamp(min=12)
    miss = lambda g: (F.smooth_l1_loss(corners, g, reduction="none", beta=2.0).sum((1, 2)) / short)
    far = torch.minimum(miss(goal), miss(goal.roll(2, 1)) + 0.02)
    place = (far.clamp(max=30) * weight[inside]).sum() / total
    kind = F.cross_entropy(out[:, 10 : 10 + len(KINDS)].permute(0, 2, 3, 1)[inside], kinds[i[:, 0], which[inside]], reduction="none")
    kind = (kind * weight[inside]).sum() / total
    part = F.cross_entropy(out[:, 10 + len(KINDS) :], parts, ignore_index=UNKNOWN)
    total = mask + 0.5 * dice.mean() + middle + 0.35 * place + 0.15 * kind + 0.2 * part
    return total, (mask, dice.mean(), middle, place, kind, part)


def folded(net, path):
    import copy

    net = copy.deepcopy(net).float().cpu().eval()
    torch.onnx.export(
        net, torch.rand(1, 3, 768, 1024), path, input_names=["picture"], output_names=["planes"],
        dynamic_axes={"picture": {0: "n", 2: "h", 3: "w"}, "planes": {0: "n", 2: "h4", 3: "w4"}}, opset_version=17, dynamo=False,
    )


def main():
    args = argparse.ArgumentParser()
    args.add_argument("--data", type=Path, required=True)
    args.add_argument("--out", type=Path, required=True)
    args.add_argument("--seconds", type=float, default=240)
    args.add_argument("--hold", type=int, default=24)
    args.add_argument("--size", type=int, default=16)
    args = args.parse_args()
    start = time.time()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(5)
    torch.backends.cudnn.benchmark = True
    files = sorted(p for p in args.data.glob("**/*.jpg") if p.with_suffix(".json").exists())
    store = Store(files, device)
    print(f"{store.n} photographs, {int(store.there.sum())} marks, {time.time() - start:.0f} s to load", flush=True)
    net = Finder().to(device).to(memory_format=torch.channels_last)
    print(sum(p.numel() for p in net.parameters()), "weights")
    mean = torch.optim.swa_utils.AveragedModel(net, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.998), use_buffers=True)
    top = 2.5e-3
    walk = torch.optim.AdamW(net.parameters(), lr=top, weight_decay=0.01)
    hold = torch.arange(store.n - args.hold, store.n, device=device)
    # Whole backs have the many marks: they come more often.
    odds = torch.where(store.whole[: store.n - args.hold], 2.0, 1.0)
    step, begun, sums = 0, time.time(), []
    while True:
        t = (time.time() - begun) / args.seconds
        if t >= 1:
            break
        for g in walk.param_groups:
            g["lr"] = top * min(1, step / 200) * 0.5 * (1 + math.cos(math.pi * t)) + 1e-6
        pick = torch.multinomial(odds, args.size, replacement=True)
        x, quads, kinds, there, known, parts_of = store.batch(pick, None)
        with torch.autocast(device, dtype=torch.bfloat16):
            out = net(x.to(memory_format=torch.channels_last))
        loss, parts = loss_of(out.float(), quads, kinds, there, known, parts_of, SIDE)
        walk.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        walk.step()
        mean.update_parameters(net)
        sums.append(torch.stack([p.detach() for p in parts]))
        step += 1
        if step % 250 == 0:
            mean.eval()
            with torch.no_grad():
                held = []
                for k in range(0, len(hold), 8):
                    x, quads, kinds, there, known, parts_of = store.batch(hold[k : k + 8], None, still=True)
                    held.append([float(p) for p in loss_of(mean(x).float(), quads, kinds, there, known, parts_of, SIDE)[1]])
            say = lambda v: " ".join(f"{a:.3f}" for a in np.mean(v, 0))
            print(f"{step} {time.time() - start:.0f} s: {say([s.tolist() for s in sums])} | held {say(held)}", flush=True)
            sums = []
    args.out.mkdir(parents=True, exist_ok=True)
    torch.save(mean.module.state_dict(), args.out / "finder.pt")
    folded(mean.module, str(args.out / "finder.onnx"))
    print("done", step, f"{time.time() - start:.0f} s")


if __name__ == "__main__":
    main()
