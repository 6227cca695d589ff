"""Trains the network of monograms on all GPUs of the machine while designs are still being drawn.

    python train_monograms.py GLYPHS.npz OUT --seconds 360 [--from OUT/state.pt] [--small]

Writes OUT/monograms.pt (averaged weights) and OUT/state.pt every minute; `monogram_table.py` measures them.
--small: a few steps on any machine, to see that all of it runs.
"""

import argparse
import math
import os
import queue
import tempfile
import time

import numpy as np
import torch
import torch.distributed as dist
import torch.multiprocessing as mp
import torch.nn.functional as F

import monogram_network as net
import monograms
from monogram_ageing import age, any_turn, upright
from monogram_network import Monograms, levelled, matrix, order_loss, place_of, scores, turns, where_loss

CHUNK = 512
# of a chunk in shared memory: masks, the set and up to four letters, where each stands
KEPT = (("masks", (monograms.SIDE, monograms.SIDE), np.uint8), ("labels", (5,), np.int16), ("places", (4, 4), np.float32))


def labels_of(text):
    out = np.full(5, -1, np.int16)
    out[0] = place_of(text) if text else net.NONE
    out[1:1 + len(text)] = [ord(c) - 65 for c in text]
    return out


def drawn(r, faces, count, unseen):
    """Masks, labels, places and texts of so many designs."""
    out, last = [], ""
    for _ in range(count):
        # now and then the letters of the one before in another design: a design is more than its letters
        again = last if last and r.random() < 0.15 else None
        mask, last, places = monograms.design(r, faces, unseen, again)
        out.append((mask, labels_of(last), places, last))
    return [np.stack(v) for v in list(zip(*out))[:3]] + [[o[3] for o in out]]


def ring(folder, slots, mode):
    return {name: np.memmap(f"{folder}/{name}", kind, mode, shape=(slots, CHUNK, *shape)) for name, shape, kind in KEPT}


def worker(file, seed, folder, slots, free, full):
    # no threads of its own: a worker a core
    import cv2

    cv2.setNumThreads(1)
    r, faces, there = np.random.default_rng(seed), monograms.Faces(file, "train"), ring(folder, slots, "r+")
    while True:
        made = drawn(r, faces, CHUNK, False)
        at = free.get()
        for (name, _, _), v in zip(KEPT, made):
            there[name][at] = v
        full.put(at)


class Pool:
    """Designs in the memory of the device, the oldest replaced."""

    def __init__(self, size, dev):
        self.held = {name: torch.zeros(size, *shape, dtype=torch.from_numpy(np.zeros(1, kind)).dtype, device=dev) for name, shape, kind in KEPT}
        self.size, self.seen = size, 0

    def add(self, there, at):
        first = self.seen % self.size
        for name, held in self.held.items():
            held[first:first + CHUNK] = torch.from_numpy(there[name][at]).to(held.device)
        self.seen += CHUNK

    def draw(self, n, dev):
        # runs of neighbours, so that siblings with the same letters meet in a batch
        have = min(self.seen, self.size)
        start = torch.randint(0, have - 8, (n // 8, 1), device=dev)
        at = (start + torch.arange(8, device=dev)).flatten()
        return [self.held[name][at] for name, _, _ in KEPT]


def severities(n, dev):
    return torch.multinomial(torch.tensor([0.36, 0.34, 0.23, 0.07], device=dev), n, True)


def turn_loss(out, turn, known):
    step = turn / (2 * math.pi) * net.TURNS
    low = step.floor()
    logs = turns(out).log_softmax(1)
    at = lambda k: logs.gather(1, (low + k).long()[:, None] % net.TURNS)[:, 0]
    share = step - low
    return -(((1 - share) * at(0) + share * at(1)) * known).mean()


def step(model, m, pool, n, dev):
    masks, labels, places = pool.draw(n, dev)
    labels = labels.long()
    k = n // 8
    whole = lambda v: torch.cat([v, v, v[:k]])
    turn = torch.cat([upright(2 * n, dev), any_turn(k, dev)])
    grey, source = age(whole(masks.float()[:, None] / 255), severities(2 * n + k, dev), turn)
    x = levelled(grey).contiguous(memory_format=torch.channels_last)
    with torch.autocast(dev.type, torch.bfloat16, enabled=dev.type == "cuda"):
        out, where = model(x)
    sets, letters = labels[:, 0], labels[:, 1:]
    which = F.cross_entropy(scores(out[:2 * n], m), torch.cat([sets, sets]), label_smoothing=0.01)
    count = (letters >= 0).sum(1)
    # two of a letter have no order of their own
    apart = (letters[:, 0] != letters[:, 1]) & (letters[:, 2] != letters[:, 1]) & (letters[:, 2] != letters[:, 0])
    order = torch.where((apart & (count > 1) & (count < 4))[:, None], letters[:, :3], -1)
    first = order_loss(out[:2 * n], torch.cat([order, order])).mean()
    lie = turn_loss(out, turn, whole((count > 0).float()))
    stand = where_loss(where, source, whole(places), whole(letters))
    d = out[:2 * n, -net.DESIGN:].float()
    alike = d @ d.T * 18 - torch.eye(2 * n, device=dev) * 1e4
    same = F.cross_entropy(alike, torch.cat([torch.arange(n, 2 * n), torch.arange(n)]).to(dev))
    return which + 0.25 * first + 0.2 * lie + 0.5 * stand + 0.2 * same, [v.detach() for v in (which, first, lie, stand, same)]


def quick(model, m, held, dev, tag):
    """Share of sets among the first three, upright, mild and medium: of designs that what ships is not told by."""
    masks, labels, _, texts = held
    n = np.array([len(t) for t in texts])
    state = torch.random.get_rng_state(), torch.cuda.get_rng_state(dev) if dev.type == "cuda" else None
    torch.manual_seed(99)
    told = []
    for severity in (0, 1):
        place = []
        for a in range(0, len(masks), 400):
            x = torch.from_numpy(masks[a:a + 400]).to(dev).float()[:, None] / 255
            grey, _ = age(x, torch.full((len(x),), severity, device=dev), upright(len(x), dev))
            with torch.no_grad():
                rank = scores(model(levelled(grey)), m)
            right = rank.gather(1, torch.from_numpy(labels[a:a + 400, :1]).long().to(dev))
            place.append((rank > right).sum(1).cpu().numpy())
        place = np.concatenate(place)
        told.append(" ".join(f"{k}: {np.mean(place[n == k] == 0):.3f}/{np.mean(place[n == k] < 3):.3f}" for k in (2, 3)))
    torch.random.set_rng_state(state[0])
    if state[1] is not None:
        torch.cuda.set_rng_state(state[1], dev)
    print(tag, "| mild", told[0], "| medium", told[1], flush=True)


def kept(path, what):
    torch.save(what, path + ".part")
    os.replace(path + ".part", path)


def groups(model, rate):
    plain = [v for v in model.parameters() if v.ndim > 1]
    other = [v for v in model.parameters() if v.ndim <= 1]
    return torch.optim.AdamW([{"params": plain, "weight_decay": 0.04}, {"params": other, "weight_decay": 0.0}], lr=rate, betas=(0.9, 0.98))


def run(rank, world, a, folder, free, full):
    dev = torch.device("cuda", rank) if torch.cuda.is_available() else torch.device("cpu")
    if dev.type == "cuda":
        torch.cuda.set_device(dev)
    if world > 1:
        dist.init_process_group("nccl", init_method="tcp://127.0.0.1:29577", rank=rank, world_size=world)
    torch.backends.cudnn.benchmark = True
    torch.set_float32_matmul_precision("high")
    torch.manual_seed(0)
    model = Monograms().to(dev).to(memory_format=torch.channels_last)
    if a.from_:
        model.load_state_dict(torch.load(a.from_, map_location=dev))
    torch.manual_seed(a.seed + rank)
    mean = torch.optim.swa_utils.AveragedModel(model, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(a.mean), use_buffers=True).eval()
    best, m = groups(model, a.rate), matrix().to(dev)
    there = ring(folder, a.slots, "r+")
    held = drawn(np.random.default_rng(500), monograms.Faces(a.glyphs, "tune"), 8 if a.small else 1200, True) if rank == 0 else None
    trained = torch.compile(model) if a.compile else model
    if world > 1:
        trained = torch.nn.parallel.DistributedDataParallel(trained, device_ids=[rank], broadcast_buffers=False, gradient_as_bucket_view=True)
    pool = Pool(CHUNK * (4 if a.small else 2000), dev)
    while pool.seen < (1 if a.small else 40) * CHUNK:
        at = full.get()
        pool.add(there, at)
        free.put(at)
    if rank == 0:
        print(sum(v.numel() for v in model.parameters()), "weights, pool", pool.seen, flush=True)
    begun, steps, told, saved = time.time(), 0, 0.0, 0.0
    gone = torch.zeros(1, device=dev)
    while True:
        if steps % 10 == 0 or a.small:
            gone.fill_(time.time() - begun)
            if world > 1:
                dist.broadcast(gone, 0)
            now = gone.item()
            if now >= a.seconds or a.small and steps >= 2:
                break
        for _ in range(2):
            try:
                at = full.get_nowait()
            except queue.Empty:
                break
            pool.add(there, at)
            free.put(at)
        rate = a.rate * min(1, (steps + 1) / 300) * (0.5 * (1 + math.cos(math.pi * now / a.seconds)) * 0.99 + 0.01)
        for g in best.param_groups:
            g["lr"] = rate
        loss, parts = step(trained, m, pool, 8 if a.small else a.batch, dev)
        best.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(model.parameters(), 1.0)
        best.step()
        mean.update_parameters(model)
        steps += 1
        if rank == 0 and steps % 10 == 0 and (now - told > 10 or a.small):
            told = now
            print(f"{now:.0f} s, {steps} steps, {pool.seen} designs, sets {parts[0]:.3f} order {parts[1]:.3f} turn {parts[2]:.3f} where {parts[3]:.3f} design {parts[4]:.3f}", flush=True)
        if rank == 0 and steps % 10 == 0 and now - saved > a.every and not a.small:
            saved = now
            keep(a.out, model, mean)
            quick(mean.module, m, held, dev, f"{now:.0f} s")
    if rank == 0:
        keep(a.out, model, mean)
        quick(mean.module.eval(), m, held, dev, f"end, {steps} steps")
        open(f"{a.out}/done", "w").close()
    if world > 1:
        dist.barrier()


def keep(out, model, mean):
    kept(f"{out}/monograms.pt", {"weights": {k: v.half() if v.is_floating_point() else v for k, v in mean.module.state_dict().items()}})
    kept(f"{out}/state.pt", model.state_dict())


def main():
    p = argparse.ArgumentParser()
    p.add_argument("glyphs")
    p.add_argument("out")
    p.add_argument("--seconds", type=float, default=360)
    p.add_argument("--workers", type=int, default=max(1, (os.cpu_count() or 2) - 4))
    p.add_argument("--batch", type=int, default=1024)
    p.add_argument("--rate", type=float, default=0.0012)
    p.add_argument("--mean", type=float, default=0.998)
    p.add_argument("--every", type=float, default=60)
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--from", dest="from_")
    p.add_argument("--compile", action="store_true")
    p.add_argument("--small", action="store_true")
    a = p.parse_args()
    os.makedirs(a.out, exist_ok=True)
    world = max(1, torch.cuda.device_count())
    a.slots = 8 if a.small else 96
    context = mp.get_context("spawn")
    workers, runs, queues = [], [], []
    with tempfile.TemporaryDirectory(dir="/dev/shm") as at:
        for rank in range(world):
            folder = f"{at}/{rank}"
            os.makedirs(folder)
            ring(folder, a.slots, "w+")
            free, full = context.Queue(), context.Queue()
            queues += [free, full]  # else they end when the next are made
            for i in range(a.slots):
                free.put(i)
            each = 1 if a.small else a.workers // world
            workers += [context.Process(target=worker, args=(a.glyphs, 100_000 * a.seed + 1000 * rank + i, folder, a.slots, free, full), daemon=True) for i in range(each)]
            runs.append(context.Process(target=run, args=(rank, world, a, folder, free, full)))
        for p in workers + runs:
            p.start()
        for p in runs:
            p.join()
        for p in workers:
            p.terminate()
    raise SystemExit(max(abs(p.exitcode or 0) for p in runs))


if __name__ == "__main__":
    main()
