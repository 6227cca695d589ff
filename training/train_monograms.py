"""Trains the network of monograms while designs are still being drawn, and measures it.

    python train_monograms.py GLYPHS.npz OUT --seconds 360 [--workers 14] [--small]

Writes OUT/monograms.pt, and OUT/tune.npz and OUT/check.npz: what it says of designs in unseen faces and manners, by severity (`monogram_table.py`).
--small: a few steps on any machine, to see that all of it runs.
"""

import argparse
import multiprocessing as mp
import os
import time

import numpy as np
import torch
import torch.nn.functional as F

import monogram_network as net
import monograms
from monogram_ageing import age
from monogram_network import Monograms, levelled, matrix, order_loss, place_of, scores

CHUNK = 1024


def orders(letters):
    out = np.full(3, -1, np.int64)
    # two of a letter have no order of their own
    if 2 <= len(letters) <= 3 and len(set(letters)) == len(letters):
        out[:len(letters)] = [ord(c) - 65 for c in letters]
    return out


def drawn(r, faces, count, unseen):
    masks, sets, order, texts = [], [], [], []
    last = ""
    for _ in range(count):
        # now and then the letters of the one before in another design: a design is more than its letters
        again = last if last and r.random() < 0.15 else None
        m, text = monograms.design(r, faces, unseen, again)
        last = text
        masks.append(m)
        sets.append(place_of(text) if text else net.NONE)
        order.append(orders(text))
        texts.append(text)
    return np.stack(masks), np.array(sets), np.stack(order), texts


def worker(file, seed, queue, stop, chunk):
    r, faces = np.random.default_rng(seed), monograms.Faces(file, "train")
    while not stop.is_set():
        queue.put(drawn(r, faces, chunk, False)[:3])


def held_out(file, part, count, seed):
    return drawn(np.random.default_rng(seed), monograms.Faces(file, part), count, True)


def held_worker(job):
    return held_out(*job)


class Pool:
    """Designs in the memory of the device, the oldest replaced."""

    def __init__(self, size, dev):
        self.masks = torch.zeros(size, monograms.SIDE, monograms.SIDE, dtype=torch.uint8, device=dev)
        self.sets = torch.zeros(size, dtype=torch.long, device=dev)
        self.order = torch.zeros(size, 3, dtype=torch.long, device=dev)
        self.seen = 0

    def add(self, masks, sets, order):
        at = (torch.arange(len(masks)) + self.seen) % len(self.masks)
        at = at.to(self.masks.device)
        self.masks[at], self.sets[at], self.order[at] = [torch.from_numpy(v).to(self.masks.device) for v in (masks, sets, order)]
        self.seen += len(masks)

    def draw(self, n):
        # runs of neighbours, so that siblings with the same letters meet in a batch
        have = min(self.seen, len(self.masks))
        start = torch.randint(0, max(have - 8, 1), (max(n // 8, 1),), device=self.masks.device)
        at = (start[:, None] + torch.arange(8, device=self.masks.device)).flatten()[:n] % have
        return self.masks[at], self.sets[at], self.order[at]


def severities(n, dev):
    return torch.multinomial(torch.tensor([0.3, 0.33, 0.3, 0.07], device=dev), n, True)


def step(model, m, pool, n, dev):
    masks, sets, order = pool.draw(n)
    masks = masks.float()[:, None] / 255
    views = []
    for _ in range(2):
        turned = torch.rand(len(masks), device=dev) < 0.4
        views.append(levelled(age(masks, severities(len(masks), dev), turned)))
    x = torch.cat(views).contiguous(memory_format=torch.channels_last)
    with torch.autocast(dev.type, dtype=torch.bfloat16):
        out = model(x)
    out = out.float()
    both = torch.cat([sets, sets])
    which = F.cross_entropy(scores(out, m), both)
    first = order_loss(out, torch.cat([order, order])).mean()
    d = out[:, -net.DESIGN:]
    alike = d @ d.T * 14
    k = len(masks)
    alike = alike - torch.eye(2 * k, device=dev) * 1e4
    twin = torch.cat([torch.arange(k, 2 * k), torch.arange(k)]).to(dev)
    same = F.cross_entropy(alike, twin)
    return which + 0.3 * first + 0.35 * same, which, same


def measure(model, m, data, dev, tag):
    """What the network says of aged held-out designs: the sets' ranks, and all numbers for the tables."""
    masks, sets, order, texts = data
    out = {}
    for severity, turned, seed in [(0, False, 99)] + [(s, t, 100 + s) for s in (0, 1, 2) for t in (False, True)]:
        # the first is what a person keeps; the others are looked for among those
        torch.manual_seed(seed)
        numbers = []
        for a in range(0, len(masks), 512):
            x = torch.from_numpy(masks[a:a + 512]).to(dev).float()[:, None] / 255
            s = torch.full((len(x),), severity, device=dev)
            aged = levelled(age(x, s, torch.full((len(x),), turned, device=dev)))
            with torch.no_grad():
                numbers.append(model(aged).float())
        numbers = torch.cat(numbers)
        rank = scores(numbers, m)
        right = rank.gather(1, torch.from_numpy(sets).to(dev)[:, None])
        place = (rank > right).sum(1).cpu().numpy()
        n = np.array([len(t) for t in texts])
        told = " ".join(f"{k} letters top1 {np.mean(place[n == k] == 0):.3f} top3 {np.mean(place[n == k] < 3):.3f}" for k in (1, 2, 3))
        print(tag, "severity", severity, "any turn" if turned else "upright", told, flush=True)
        out["kept" if seed == 99 else f"{severity}-{int(turned)}"] = numbers.cpu().numpy().astype(np.float16)
    return out


def main():
    p = argparse.ArgumentParser()
    p.add_argument("glyphs")
    p.add_argument("out")
    p.add_argument("--seconds", type=float, default=360)
    p.add_argument("--workers", type=int, default=14)
    p.add_argument("--batch", type=int, default=1024)
    p.add_argument("--rate", type=float, default=0.0022)
    p.add_argument("--small", action="store_true")
    a = p.parse_args()
    begun = time.time()
    os.makedirs(a.out, exist_ok=True)
    dev = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cudnn.benchmark = True
    torch.set_float32_matmul_precision("high")
    mp.set_start_method("spawn")
    stop, queue = mp.Event(), mp.Queue(48)
    workers = [mp.Process(target=worker, args=(a.glyphs, 1000 + i, queue, stop, 64 if a.small else CHUNK), daemon=True) for i in range(1 if a.small else a.workers)]
    for w in workers:
        w.start()
    held = mp.Pool(1 if a.small else 4)
    counts = {"tune": 8 if a.small else 300, "check": 8 if a.small else 500}
    jobs = [held.map_async(held_worker, [(a.glyphs, part, counts[part], seed + i) for i in range(1 if a.small else 4)]) for part, seed in (("tune", 500), ("check", 600))]
    model = Monograms().to(dev).to(memory_format=torch.channels_last)
    print(sum(v.numel() for v in model.parameters()), "weights", flush=True)
    # short beside the run: 0.998 over 830 steps kept a fifth of what the network began with
    mean = torch.optim.swa_utils.AveragedModel(model, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.99), use_buffers=True)
    decay = [v for v in model.parameters() if v.ndim > 1]
    other = [v for v in model.parameters() if v.ndim <= 1]
    best = torch.optim.AdamW([{"params": decay, "weight_decay": 0.03}, {"params": other, "weight_decay": 0.0}], lr=a.rate, betas=(0.9, 0.98))
    m = matrix().to(dev)
    pool = Pool(2048 if a.small else 1_200_000, dev)
    while pool.seen < (64 if a.small else 40 * CHUNK):
        pool.add(*queue.get())
    print("pool", pool.seen, f"{time.time() - begun:.0f} s", flush=True)
    since, steps, told = time.time(), 0, 0
    while (gone := time.time() - since) < a.seconds and not (a.small and steps >= 2):
        # one chunk a step: what comes through the pipe holds up the device
        if not queue.empty():
            pool.add(*queue.get())
        part = gone / a.seconds
        rate = a.rate * min(1, (steps + 1) / 200) * (0.5 * (1 + np.cos(np.pi * part)) * 0.98 + 0.02)
        for g in best.param_groups:
            g["lr"] = rate
        loss, which, same = step(model, m, pool, 8 if a.small else a.batch, dev)
        best.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(model.parameters(), 2.0)
        best.step()
        mean.update_parameters(model)
        steps += 1
        if gone - told > 15 or a.small:
            told = gone
            print(f"{gone:.0f} s, {steps} steps, {pool.seen} designs, sets {which.item():.3f}, design {same.item():.3f}", flush=True)
            torch.save({"weights": {k: v.half() for k, v in mean.module.state_dict().items()}}, f"{a.out}/monograms.pt")
    stop.set()
    model = mean.module.eval()
    torch.save({"weights": {k: v.half() for k, v in model.state_dict().items()}}, f"{a.out}/monograms.pt")
    for tag, job in zip(("tune", "check"), jobs):
        several = job.get()
        data = [np.concatenate([s[i] for s in several]) for i in range(3)] + [sum((s[3] for s in several), [])]
        np.savez_compressed(f"{a.out}/{tag}.npz", texts=np.array(data[3]), **measure(model, m, data, dev, tag))
    print(f"done, {time.time() - begun:.0f} s", flush=True)
    for w in workers:
        w.terminate()
    os._exit(0)


if __name__ == "__main__":
    main()
