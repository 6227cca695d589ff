"""Trains the line recogniser on one or several GPUs (or, to try it out, on a CPU).

    torchrun --nproc_per_node=GPUS train.py --drawn DIR --lines DIR --out DIR --seconds N [--fonts DIR] [--resume FILE]

`draw.py` lays blocks of ink masks (made and recomposed lines) into --drawn, before and meanwhile; they fill stores on
each GPU. A step takes lines of one bucket from them (and real lines), ages them on the GPU and trains. One learning-rate cycle a call, measured in
seconds, or a share of one (`--since`, `--until`). Resumes from a checkpoint (weights only, f16), so that several runs add up. Writes to OUT:
`checkpoint.pt` (averaged weights, f16), `best.pt` (those of them that read the tuning writers best), `curve.csv` (lines seen, character error by class).
"""

import argparse
import copy
import csv
import math
import multiprocessing as mp
import os
import time
import zlib

import numpy as np
import torch
import torch.distributed as dist
import torch.nn.functional as F

import ageing
import lines
import texts
from draw import LONGEST, packed
from network import Reader

SHARES = [0.049, 0.079, 0.086, 0.076, 0.115, 0.096, 0.082, 0.077, 0.077, 0.069, 0.058, 0.042, 0.038, 0.056]  # of made lines, by bucket
# sources of many hands with few lines, taken so many times as often
TIMES = {"loc-letters": 8, "loc-more": 8, "copiste": 2, "cremma-mss-18": 2, "cremma-mss-19": 2, "testaments-de-poilus": 2}
SEVERITIES = {"mild": 0.35, "medium": 0.8, "heavy": 1.2}


def darkness(picture):
    """Real line [48, w] -> mask [64, bucket] and the width of the line on it."""
    d = lines.darkness_of(picture)
    b = lines.bucket(d.shape[1] + 4)
    if b is None:
        b = lines.BUCKETS[-1]
        from PIL import Image

        d = np.asarray(Image.fromarray(d).resize((b - 4, 48)))
    mask = np.zeros((lines.TALL, b), np.uint8)
    mask[8:56, 2 : 2 + d.shape[1]] = d
    return mask, d.shape[1] + 4


def darkened(job):
    """Decodes and turns one share of the real training lines, in a process of its own."""
    folder, part, of, only = job
    out = []
    for grey, said, cls, source, _ in lines.real(folder, "train", part, of):
        if len(said) <= LONGEST and (not only or lines.CLASSES[cls] == "real hand"):
            out += [(*darkness(grey), said)] * TIMES.get(source, 1)
    return out


class Store:
    """Lines of one bucket on the device: a ring that new lines overwrite when it is full."""

    def __init__(self, width, capacity, device):
        self.masks = torch.zeros(capacity, lines.TALL, width, dtype=torch.uint8, device=device)
        self.widths = torch.zeros(capacity, dtype=torch.int16, device=device)
        self.labels = torch.zeros(capacity, LONGEST, dtype=torch.uint8, device=device)
        self.lengths = torch.zeros(capacity, dtype=torch.int16, device=device)
        self.capacity, self.next, self.count, self.drawn = capacity, 0, 0, 0

    def add(self, block):
        n = len(block[1])
        if self.next + n > self.capacity:
            self.next = 0
        for target, source in zip((self.masks, self.widths, self.labels, self.lengths), block):
            target[self.next : self.next + n].copy_(torch.from_numpy(source))
        self.next += n
        self.count = max(self.count, self.next)
        self.drawn += n

    def take(self, n):
        i = torch.randint(self.count, (n,), device=self.masks.device)
        return self.masks[i], self.widths[i], self.labels[i], self.lengths[i]


class Blocks:
    """The files that `draw.py` lays down, each read once; a device of several takes its share."""

    def __init__(self, folder, rank, world):
        self.folder, self.rank, self.world = folder, rank, world
        self.known, self.waiting, self.looked = set(), [], 0.0

    def look(self):
        if time.time() - self.looked < 2:
            return
        self.looked = time.time()
        new = [e.name for e in os.scandir(self.folder) if e.name.endswith(".npz") and e.name[0] != "." and e.name not in self.known]
        self.known.update(new)
        self.waiting += sorted((n for n in new if zlib.crc32(n.encode()) % self.world == self.rank), key=lambda n: zlib.crc32(n[::-1].encode()))

    def take_in(self, made, composed, most):
        # in the training thread: a second Python thread would fight it for the interpreter's lock
        if not self.waiting:
            self.look()
        for name in self.waiting[:most]:
            stores = made if name.startswith("made") else composed
            if stores is not None:
                with np.load(f"{self.folder}/{name}") as f:
                    block = [f[k] for k in ("masks", "widths", "labels", "lengths")]
                stores[lines.BUCKETS.index(block[0].shape[2])].add(block)
        del self.waiting[:most]


def unlike(one, other, lengths):
    """How differently two copies of each line are read, for a sign: Yao et al. 2024, "CR-CTC: Consistency regularization
    on CTC for improved speech recognition", arXiv:2410.05101 (each learns from the other as it stands)."""
    apart = F.kl_div(one, other.detach(), reduction="none", log_target=True) + F.kl_div(other, one.detach(), reduction="none", log_target=True)
    return (0.5 * apart.sum((0, 2)) / lengths.clamp(min=1)).mean()


def best(logits):
    """[steps, n, classes] -> texts by best path."""
    ways = logits.argmax(2).T.cpu().numpy()
    out = []
    for w in ways:
        keep = np.concatenate([[True], w[1:] != w[:-1]]) & (w > 0)
        out.append("".join(texts.SIGNS[c - 1] for c in w[keep]).strip())
    return out


def distance(a, b):
    """Levenshtein distance."""
    row = np.arange(len(b) + 1)
    bb = np.frombuffer(b.encode("utf-32-le"), np.uint32)
    for i, c in enumerate(a):
        change = np.minimum(row[:-1] + (bb != ord(c)), row[1:] + 1)
        new = np.empty_like(row)
        new[0] = i + 1
        new[1:] = change
        new = np.minimum.accumulate(new - np.arange(len(new))) + np.arange(len(new))
        row = new
    return int(row[-1])


def picture(grey):
    """A real line as the program feeds it: [1, 48, w rounded up to 16], levelled."""
    x = torch.from_numpy(grey.astype(np.float32)).view(1, 1, *grey.shape)
    x = F.pad(x, (0, -x.shape[3] % 16, 0, 0), mode="replicate")
    return ageing.level(x)[0]


def held_out(fonts_folder, lines_folder, each, reals, device):
    """Name -> (pictures by bucket, texts): unseen fonts and writers by severity, real lines by part."""
    r = np.random.default_rng(20)
    sets = {}
    fonts = lines.Fonts(fonts_folder, "unseen") if fonts_folder else None
    for kind in [*lines.SHARES, "filled in"] if fonts_folder else ():
        made = {}
        n = 0
        while n < each:
            one = lines.make(r, fonts, kind, unseen=True)
            if one is not None and len(one[2]) > 2:
                made.setdefault(one[0].shape[1], []).append(one)
                n += 1
        for name, strength in SEVERITIES.items():
            torch.manual_seed(7)
            groups = []
            for b, some in sorted(made.items()):
                masks, widths, _, _ = packed(some)
                x = ageing.age(torch.from_numpy(masks).to(device), torch.from_numpy(widths).to(device), torch.full((len(some),), strength, device=device))
                groups.append((x.half(), [o[2] for o in some]))
            sets[f"{kind}, {name}"] = groups
    for part in ("tune", "check", "left out"):
        by = {}
        for grey, said, cls, source, _ in lines.real(lines_folder, part):
            group = "English" if source.startswith("loc-") else "first lot's" if source in lines.TUNE_CHECKS else "French"
            name = f"{group} hands, tune" if part == "tune" and lines.CLASSES[cls] == "real hand" else f"{lines.CLASSES[cls]}, {part.replace('tune', 'tuning')}"
            by.setdefault(name, []).append((grey, said))
        for name, some in by.items():
            pick = np.random.default_rng(5).permutation(len(some))[:reals]
            groups = {}
            for i in pick:
                x = picture(some[i][0])
                groups.setdefault(x.shape[2], []).append((x, some[i][1]))
            sets[name] = [(torch.stack([x for x, _ in g]).half().to(device), [t for _, t in g]) for _, g in sorted(groups.items())]
    return sets


@torch.no_grad()
def errors(model, sets, amp):
    model.eval()
    out = {}
    for name, groups in sets.items():
        wrong = total = 0
        for x, said in groups:
            with amp():
                guess = best(model(x.float()).float())
            wrong += sum(distance(t, g) for t, g in zip(said, guess))
            total += sum(map(len, said))
        out[name] = wrong / max(total, 1)
    model.train()
    return out


def main():
    a = argparse.ArgumentParser(description=__doc__)
    a.add_argument("--drawn", required=True)
    a.add_argument("--fonts", help="to measure on made lines of unseen faces")
    a.add_argument("--lines", required=True)
    a.add_argument("--out", required=True)
    a.add_argument("--seconds", type=float, default=600)
    a.add_argument("--resume")
    a.add_argument("--teacher", help="checkpoint of a larger network to learn from, beside the texts")
    a.add_argument("--since", type=float, default=0.0, help="share of the learning-rate cycle that earlier calls have done")
    a.add_argument("--until", type=float, default=1.0, help="share of it that is done at the end of this call")
    a.add_argument("--seed", type=int, default=1)
    a.add_argument("--columns", type=int, default=230_000, help="px columns of a batch")
    a.add_argument("--rate", type=float, default=2e-3)
    a.add_argument("--real", type=float, default=0.3, help="share of real lines")
    a.add_argument("--store", type=int, default=600_000, help="masks kept on each device")
    a.add_argument("--composed", type=float, default=0.25, help="share of recomposed lines")
    a.add_argument("--drop", type=float, default=0.2)
    a.add_argument("--hands", action="store_true", help="of the real lines hands only")
    a.add_argument("--wild", type=float, default=1.0, help="how much more real lines are slanted, stretched and warped")
    a.add_argument("--veil", type=float, default=0.0, help="share of a line that strips of paper cover")
    a.add_argument("--agree", type=float, default=0.0, help="weight of two veiled copies of a line having to read alike")
    a.add_argument("--wait", type=int, default=6000, help="lines drawn before the first step")
    a.add_argument("--each", type=int, default=64)
    a.add_argument("--reals", type=int, default=300)
    a.add_argument("--every", type=float, default=100, help="seconds between measurements")
    a.add_argument("--profile", action="store_true")
    a = a.parse_args()
    rank, world = int(os.environ.get("RANK", 0)), int(os.environ.get("WORLD_SIZE", 1))
    gpu = torch.cuda.is_available()
    device = torch.device("cuda", int(os.environ.get("LOCAL_RANK", 0))) if gpu else torch.device("cpu")
    start = time.time()
    say = (lambda *w: print(f"{time.time() - start:7.1f}", *w, flush=True)) if rank == 0 else (lambda *w: None)
    with mp.get_context("fork").Pool(min(12, os.cpu_count())) as pool:  # before CUDA starts too
        scans = [one for part in pool.map(darkened, [(a.lines, i, 24, a.hands) for i in range(24)], chunksize=1) for one in part]
    if gpu:
        torch.cuda.set_device(device)
        torch.backends.cuda.matmul.allow_tf32 = True
        torch.backends.cudnn.allow_tf32 = True
        torch.backends.cudnn.benchmark = False
    if world > 1:
        dist.init_process_group("nccl" if gpu else "gloo")
    os.makedirs(a.out, exist_ok=True)
    torch.manual_seed(a.seed * 1000 + rank)
    amp = lambda: torch.autocast("cuda", torch.bfloat16, enabled=gpu)
    model = Reader(len(texts.SIGNS) + 1)
    seen = 0
    if a.resume:
        kept = torch.load(a.resume, map_location="cpu", weights_only=False)
        model = Reader.of(kept["weights"])
        seen = kept["seen"]
    teacher = None
    if a.teacher:
        teacher = Reader.of(torch.load(a.teacher, map_location="cpu", weights_only=False)["weights"])
        teacher.to(device, memory_format=torch.channels_last).eval().requires_grad_(False)
    model.to(device, memory_format=torch.channels_last)
    average = copy.deepcopy(model).eval()
    if world > 1:
        for t in model.state_dict().values():
            dist.broadcast(t, 0)
    weights = [p for p in model.parameters()]
    optimiser = torch.optim.AdamW(
        [{"params": [p for p in weights if p.ndim > 1], "weight_decay": 0.02}, {"params": [p for p in weights if p.ndim <= 1], "weight_decay": 0.0}],
        lr=1e-4, betas=(0.9, 0.98), fused=gpu)
    say(f"{sum(p.numel() for p in weights) / 1e6:.2f} million weights, {world} devices, {seen} lines seen before")

    model.drop.p = model.along.dropout = a.drop
    made = [Store(b, max(256, int(a.store * s)), device) for b, s in zip(lines.BUCKETS, SHARES)]
    composed = [Store(b, max(256, int(a.store * s)) if a.composed else 1, device) for b, s in zip(lines.BUCKETS, SHARES)]
    real = [[] for _ in lines.BUCKETS]
    for mask, width, said in scans:
        real[lines.BUCKETS.index(mask.shape[1])].append((mask, width, said))
    reals = []
    for b, some in zip(lines.BUCKETS, real):
        s = Store(b, max(1, len(some)), device)
        if some:
            s.add(packed(some))
        reals.append(s)
    of_real = np.array([s.count for s in reals], float)
    say(f"{int(of_real.sum())} real lines")
    of_real = a.real * of_real / max(of_real.sum(), 1)
    of_made = (1 - a.real - a.composed) * np.array(SHARES) / sum(SHARES)
    of_composed = a.composed * np.array(SHARES) / sum(SHARES)
    shares = of_real + of_made + of_composed
    shares /= shares.sum()
    sizes = [max(8, int(a.columns / b / 8) * 8) for b in lines.BUCKETS]
    # buckets are drawn so that lines, not batches, keep their shares
    chances = shares / np.array(sizes)
    chances /= chances.sum()
    sets = held_out(a.fonts, a.lines, a.each, a.reals, device) if rank == 0 else None
    say("held-out lines ready")
    if rank == 0 and seen and not a.since:
        # what it reads before this run: the held-out lines change with the fonts, the texts and the ageing
        say("before: " + told(errors(average, sets, amp)))

    blocks = Blocks(a.drawn, rank, world)
    while sum(s.drawn for s in made) < a.wait or min(s.count for s in made) < 1:
        blocks.take_in(made, composed if a.composed else None, 50)
        time.sleep(0.01)
    if world > 1:
        dist.barrier()
    say(f"{sum(s.drawn for s in made)} made, {sum(s.drawn for s in composed)} recomposed lines drawn; training")

    order = np.random.default_rng(a.seed + seen)  # the same on every device
    strengths = torch.Generator().manual_seed(a.seed + rank)
    curve = open(f"{a.out}/curve.csv", "a", newline="")
    begun, measured, step, losses, per_step = time.time(), time.time(), 0, [], sum(s * c for s, c in zip(sizes, chances)) * world
    total = max(a.seconds - (begun - start), 1.0)
    timer = torch.zeros(1, device=device)
    done = 0.0
    while True:
        if step % 10 == 0:  # all devices agree on the time
            timer.fill_((time.time() - begun) / total)
            if world > 1:
                dist.broadcast(timer, 0)
            done = float(timer)
        if done >= 1:
            break
        warm = min(1.0, step / 300)
        cycle = a.since + (a.until - a.since) * done
        rate = a.rate * warm * (0.5 * (1 + math.cos(math.pi * cycle)) * 0.99 + 0.01)
        for g in optimiser.param_groups:
            g["lr"] = rate
        blocks.take_in(made, composed if a.composed else None, 6)
        i = int(order.choice(len(chances), p=chances))
        n = sizes[i]
        whole = of_real[i] + of_made[i] + of_composed[i]
        n_real = int(round(n * of_real[i] / whole)) if reals[i].count else 0
        n_composed = int(round(n * of_composed[i] / whole)) if composed[i].count else 0
        parts = [made[i].take(n - n_real - n_composed)] + ([composed[i].take(n_composed)] if n_composed else []) + ([reals[i].take(n_real)] if n_real else [])
        masks, widths, labels, lengths = (torch.cat(p) if len(p) > 1 else p[0] for p in zip(*parts))
        ramp = min(1.0, 0.35 + 2.2 * done) if not a.resume else 1.0
        strength = torch.rand(n, generator=strengths) ** 1.2 * 1.3 * ramp
        scanned = torch.zeros(n, dtype=torch.bool)
        scanned[n - n_real - n_composed :] = True
        with torch.no_grad():
            x = ageing.age(masks, widths, strength.to(device), scanned.to(device), a.wild)
            x = torch.cat([ageing.veiled(x, a.veil) for _ in range(2)]) if a.agree else ageing.veiled(x, a.veil) if a.veil else x
        x = x.contiguous(memory_format=torch.channels_last)
        with amp():
            y = model(x)
        y = F.log_softmax(y.float(), 2)
        copies = y.shape[1] // n
        steps = torch.full((copies * n,), y.shape[0], dtype=torch.long)
        loss = F.ctc_loss(y, labels.long().repeat(copies, 1), steps.to(device), lengths.long().repeat(copies), zero_infinity=True)
        if a.agree:
            loss = loss + a.agree * unlike(y[:, :n], y[:, n:], lengths)
        if teacher is not None:
            with torch.no_grad(), amp():
                wanted = teacher(x)
            # divergence of the two at each step, for a sign like the loss of the texts
            apart = F.kl_div(y, F.log_softmax(wanted.float(), 2), reduction="none", log_target=True).sum((0, 2))
            loss = 0.4 * loss + (apart / lengths.clamp(min=1)).mean()
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        if world > 1:
            flat = torch.cat([p.grad.reshape(-1) for p in weights])
            dist.all_reduce(flat)
            flat /= world
            at = 0
            for p in weights:
                p.grad.copy_(flat[at : at + p.numel()].view_as(p))
                at += p.numel()
        torch.nn.utils.clip_grad_norm_(weights, 2.0)
        optimiser.step()
        keep = min(0.9995, (1 + step) / (20 + step))
        with torch.no_grad():
            ours, theirs = list(average.state_dict().values()), list(model.state_dict().values())
            torch._foreach_lerp_([t for t in ours if t.is_floating_point()], [t for t in theirs if t.is_floating_point()], 1 - keep)
        step += 1
        seen += n * world
        if step % 20 == 0:
            losses.append(float(loss.detach()))
        if a.profile and step == 60 and gpu:
            torch.cuda.synchronize()
            from torch.profiler import ProfilerActivity, profile

            prof = profile(activities=[ProfilerActivity.CUDA])
            prof.__enter__()
        if a.profile and step == 80 and gpu:
            torch.cuda.synchronize()
            prof.__exit__(None, None, None)
            say(prof.key_averages().table(sort_by="cuda_time_total", row_limit=22, max_name_column_width=60))
        if step % 200 == 0 or step in (5, 20, 50, 100):
            say(f"step {step} done {done:.3f} lines {seen} drawn {sum(s.drawn for s in made)} loss {np.mean(losses[-10:] or [0]):.3f} rate {rate:.5f} ms {1e3 * (time.time() - begun) / step:.1f}")
        if step % 10 == 0 and rank == 0 and time.time() - measured > a.every:
            measured = time.time()
            write(a, average, seen, curve, errors(average, sets, amp), say)
    say(f"{step} steps, {seen} lines seen, {sum(s.drawn for s in made)} made, {sum(s.drawn for s in composed)} recomposed here")
    if rank == 0:
        write(a, average, seen, curve, errors(average, sets, amp), say)
        open(f"{a.out}/finished", "w").write("yes\n")
    if world > 1:
        dist.barrier()


def told(found):
    return "; ".join(f"{name} {cer:.3f}" for name, cer in found.items())


def write(a, average, seen, curve, found, say):
    state = {k: v.half() if v.is_floating_point() else v for k, v in average.state_dict().items()}
    torch.save({"weights": state, "seen": seen}, f"{a.out}/checkpoint.part")
    os.replace(f"{a.out}/checkpoint.part", f"{a.out}/checkpoint.pt")
    tuned = [cer for name, cer in found.items() if name.endswith(", tune")]
    mark = f"{a.out}/best.txt"
    if tuned and (not os.path.exists(mark) or np.mean(tuned) < float(open(mark).read().split()[0])):
        torch.save({"weights": state, "seen": seen}, f"{a.out}/best.pt")
        open(mark, "w").write(f"{np.mean(tuned):.5f} {seen}\n")
    for name, cer in found.items():
        csv.writer(curve, lineterminator="\n").writerow([seen, name, f"{cer:.4f}"])
    curve.flush()
    say(f"lines {seen}: " + told(found))


if __name__ == "__main__":
    main()
