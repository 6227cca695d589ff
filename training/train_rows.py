"""Trains the network that says where rows of lettering run, on samples made by `rows.py`, on one GPU.

    python train_rows.py --data FOLDER --out FOLDER --seconds 300 [--resume rows.pt]

Takes up what files of samples there are in FOLDER while it goes on. Writes rows.pt and rows.onnx.
"""

import argparse
import copy
import glob
import math
import os
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import onnx
import torch
import torch.nn.functional as F

from narrow import narrowed
from row_network import UNIT, Rows

MOST = 60_000  # samples held on the card
SIDE = 640


class Store:
    def __init__(self, folder, device, most):
        self.folder, self.device, self.n, self.done = folder, device, 0, set()
        half = SIDE // 2
        self.picture = torch.empty((most, SIDE, SIDE), dtype=torch.uint8, device=device)
        self.maps = torch.empty((most, 3, half, half), dtype=torch.uint8, device=device)
        self.most = most
        self.held = None

    def read(self, path):
        with np.load(path) as d:
            return d["picture"], np.stack([d["core"], d["tall"], d["way"]], 1)

    def take(self, limit=10**9):
        """Reads new files. The first file is held out."""
        new = [p for p in sorted(glob.glob(f"{self.folder}/*.npz")) if p not in self.done][:limit]
        self.done.update(new)
        with ThreadPoolExecutor(6) as pool:
            for pictures, maps in pool.map(self.read, new):
                if self.held is None or len(self.held[0]) < 256:
                    p, m = torch.from_numpy(pictures).to(self.device), torch.from_numpy(maps).to(self.device)
                    self.held = (p, m) if self.held is None else (torch.cat([self.held[0], p]), torch.cat([self.held[1], m]))
                    continue
                k = min(len(pictures), self.most - self.n)
                if k <= 0:
                    return
                self.picture[self.n : self.n + k] = torch.from_numpy(pictures[:k]).to(self.device)
                self.maps[self.n : self.n + k] = torch.from_numpy(maps[:k]).to(self.device)
                self.n += k

    def batch(self, size):
        pick = torch.randint(0, self.n, (size,), device=self.device)
        x, maps = self.picture[pick], self.maps[pick]
        if torch.rand(()) < 0.5:  # half a turn: rows run the same way
            x, maps = x.flip(1, 2), maps.flip(2, 3)
        x = x.float()[:, None] / 255
        r = lambda lo, hi: lo + (hi - lo) * torch.rand((size, 1, 1, 1), device=self.device)
        x = (x * torch.exp(r(-0.3, 0.3)) + r(-0.1, 0.1)).clamp(0, 1) ** torch.exp(r(-0.4, 0.4))
        x = x + torch.randn_like(x) * r(0, 0.03)
        return x.clamp(0, 1), maps


def parts_of_loss(out, maps):
    core, tall, way = maps[:, 0], maps[:, 1], maps[:, 2]
    known = (core != 2).float()
    goal = (core == 1).float()
    # Borders between rows that stand near each other count more.
    wide = F.max_pool2d(goal[:, None], 9, 1, 4)[:, 0]
    weight = known * (1 + 2 * wide)
    bce = (F.binary_cross_entropy_with_logits(out[:, 0], goal, reduction="none") * weight).mean()
    p = torch.sigmoid(out[:, 0]) * known
    dice = 1 - (2 * (p * goal).sum((1, 2)) + 20) / (p.sum((1, 2)) + goal.sum((1, 2)) + 20)
    lettered = (tall > 0).float()
    n = lettered.sum().clamp(min=1)
    height = (tall.float() - 1) / 8 + 1 - math.log2(UNIT)
    high = (F.smooth_l1_loss(out[:, 1], height, reduction="none", beta=0.2) * lettered).sum() / n
    angle = way.float() * (2 * math.pi / 180)
    turn = ((out[:, 2] - torch.cos(angle)) ** 2 + (out[:, 3] - torch.sin(angle)) ** 2) * lettered
    return bce, dice.mean(), high, turn.sum() / n


def main():
    args = argparse.ArgumentParser()
    args.add_argument("--data", required=True)
    args.add_argument("--out", required=True)
    args.add_argument("--seconds", type=float, default=300)
    args.add_argument("--size", type=int, default=48)
    args.add_argument("--rate", type=float, default=2.5e-3)
    args.add_argument("--least", type=int, default=2000, help="samples to wait for")
    args.add_argument("--most", type=int, default=MOST)
    args.add_argument("--resume")
    args = args.parse_args()
    os.makedirs(args.out, exist_ok=True)
    begun = time.time()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.backends.cudnn.benchmark = True
    torch.manual_seed(3)
    store = Store(args.data, device, args.most)
    while store.n < args.least:
        store.take()
        time.sleep(1)
    net = Rows().to(device).to(memory_format=torch.channels_last)
    if args.resume:
        net.load_state_dict(torch.load(args.resume, map_location=device))
    print(sum(p.numel() for p in net.parameters()), "weights,", store.n, "samples,", f"{time.time() - begun:.0f} s", flush=True)
    mean = torch.optim.swa_utils.AveragedModel(net, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.998), use_buffers=True)
    walk = torch.optim.AdamW(net.parameters(), lr=args.rate, weight_decay=0.01)
    start = time.time()
    total = args.seconds - (start - begun)
    stop = threading.Event()

    def gather():
        while not stop.is_set() and store.n < store.most:
            store.take(4)
            time.sleep(0.5)

    thread = threading.Thread(target=gather, daemon=True)
    thread.start()
    step, sums, said = 0, [], time.time()
    while True:
        t = (time.time() - start) / total
        if t >= 1:
            break
        for g in walk.param_groups:
            g["lr"] = args.rate * min(1, (step + 1) / 200) * 0.5 * (1 + math.cos(math.pi * t)) + 1e-6
        x, maps = store.batch(args.size)
        with torch.autocast(device, dtype=torch.bfloat16):
            out = net(x.to(memory_format=torch.channels_last))
        parts = parts_of_loss(out.float(), maps)
        loss = parts[0] * 3 + parts[1] + 0.2 * parts[2] + 0.2 * parts[3]
        walk.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        walk.step()
        mean.update_parameters(net)
        step += 1
        if step % 50 == 0:
            sums.append(torch.stack([p.detach() for p in parts]))
        if time.time() - said > 25:
            said = time.time()
            mean.eval()
            found = []
            with torch.no_grad():
                for i in range(0, 256, 32):
                    x, maps = store.held[0][i : i + 32].float()[:, None] / 255, store.held[1][i : i + 32]
                    out = mean(x)
                    both = ((torch.sigmoid(out[:, 0]) > 0.5) & (maps[:, 0] == 1)).sum()
                    either = ((torch.sigmoid(out[:, 0]) > 0.5) & (maps[:, 0] != 2)).sum() + (maps[:, 0] == 1).sum()
                    found.append([float(p) for p in parts_of_loss(out, maps)] + [float(2 * both / either.clamp(min=1))])
            say = lambda v: " ".join(f"{a:.3f}" for a in np.mean(v, 0))
            print(f"{step} {time.time() - begun:.0f} s, {store.n} samples: {say([s.tolist() for s in sums])} | held {say(found)}", flush=True)
            sums = []
            torch.save(mean.module.state_dict(), f"{args.out}/rows.pt")
    stop.set()
    torch.save(mean.module.state_dict(), f"{args.out}/rows.pt")
    export(mean.module, f"{args.out}/rows.onnx")
    print("done", step, f"{time.time() - begun:.0f} s")


def export(net, path):
    net = copy.deepcopy(net).float().cpu().eval()
    torch.onnx.export(
        net, torch.rand(1, 1, 320, 640), path, input_names=["picture"], output_names=["planes"],
        dynamic_axes={"picture": {0: "n", 2: "h", 3: "w"}, "planes": {0: "n", 2: "h2", 3: "w2"}}, opset_version=17, dynamo=False,
    )
    onnx.save(narrowed(onnx.load(path)), path)


if __name__ == "__main__":
    main()
