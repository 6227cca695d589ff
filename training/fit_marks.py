"""Fits the choice among candidates for marks (src/marks/chooser.json) and measures it.

    pip install numpy==2.4.* torch
    cargo run --release --example dump_candidates -- FOLDER... > candidates.csv
    python training/fit_marks.py candidates.csv src/marks/chooser.json [OTHER_CANDIDATES.csv...]

FOLDER holds made backs of other seeds than the samples' (`make_samples --seed N --count M --out
FOLDER`). Prints what is found on photographs that a fold hasn't seen (three folds, by photograph),
then fits on all and writes the networks, and prints the same for other photographs. Outlines overlap by their polygons as in the program.
"""

import json
import sys
from collections import defaultdict

import numpy as np
import torch
import torch.nn.functional as F

COMPANY = 6
# Where the network's measures begin: whether it proposed the outline, and what it says of it.
SEEN = 33
# What shows around and under an outline comes last: it is for the bearer (fit_bearers.py).
BEARING = 24
KINDS = ["printed_label", "written_label", "inscription", "stamp", "stencil", "monogram"]
LIKELY = 0.15
# Share of the marks that the network is taken not to have seen, in a second copy of each photograph.
BLIND = 0.4


def read(path):
    photos, rows = {}, []
    with open(path, encoding="utf-8") as lines:
        for line in lines:
            part = line.rstrip("\n").split(",")
            if line[0] == "#":
                photos[part[0][1:]] = (part[1], [k.split("|") for k in part[2:] if k])
            else:
                rows.append(part)
    return photos, rows


def clip(subject, window):
    """Sutherland and Hodgman 1974; both clockwise on a picture."""
    out = subject
    for i in range(4):
        a, b = window[i], window[(i + 1) % 4]
        side = lambda p: (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
        new = []
        for j in range(len(out)):
            p, q = out[j], out[(j + 1) % len(out)]
            sp, sq = side(p), side(q)
            if sp >= 0:
                new.append(p)
            if sp * sq < 0:
                t = sp / (sp - sq)
                new.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])))
        out = new
    return out


def area(p):
    return sum(p[i][0] * p[(i + 1) % len(p)][1] - p[(i + 1) % len(p)][0] * p[i][1] for i in range(len(p))) / 2 if p else 0.0


def clockwise(p):
    return p if area(p) >= 0 else p[::-1]


class Photo:
    def __init__(self, name, grade, kinds, rows):
        self.name, self.grade, self.kinds = name, grade, [k[0] for k in kinds]
        self.parts = np.array([[float(v) for v in r[-BEARING:]] for r in rows])
        self.bears = [tuple(k[1:]) for k in kinds]
        self.x = np.array([[float(v) for v in r[14:-BEARING]] for r in rows])
        self.iou = np.array([float(r[10]) for r in rows])
        self.mark = np.array([int(r[11]) for r in rows])
        self.quads = [clockwise([(float(r[2 + 2 * i]), float(r[3 + 2 * i])) for i in range(4)]) for r in rows]
        n = len(rows)
        self.area = np.array([max(area(q), 1e-6) for q in self.quads])
        lo = np.array([np.min(q, axis=0) for q in self.quads])
        hi = np.array([np.max(q, axis=0) for q in self.quads])
        self.shared = np.zeros((n, n))
        for i in range(n):
            for j in range(i):
                if (lo[i] < hi[j]).all() and (lo[j] < hi[i]).all():
                    self.shared[i, j] = self.shared[j, i] = abs(area(clip(self.quads[i], self.quads[j])))
        me, them, s = self.area[:, None], self.area[None, :], self.shared
        slot = np.where(s > 0.15 * np.minimum(me, them), 4, 0)
        slot = np.where(s > 0.75 * them, 2, slot)
        slot = np.where(s > 0.75 * me, 1, slot)
        slot = np.where(s > 0.6 * (me + them - s), 3, slot)
        np.fill_diagonal(slot, 0)
        self.slot = np.where(s > 0, slot, 0)

    def company(self, odds):
        """As `company` in src/marks/chooser.rs."""
        n = len(odds)
        odds = np.clip(odds, -6, 6)
        out = np.full((n, COMPANY), -6.0)
        out[:, 0] = odds
        for k in range(1, 5):
            out[:, k] = np.where(self.slot == k, odds[None, :], -6.0).max(1)
        out[:, 5] = np.log1p(np.where(self.slot == 2, 1 / (1 + np.exp(-odds))[None, :], 0).sum(1))
        return np.hstack([self.x, out])

    def kept(self, chance, close):
        """As `find` in src/marks/find.rs: (whose chance, whose outline)."""
        kept = []
        for i in np.argsort(-chance, kind="stable"):
            if chance[i] < 0.02 or any(self.shared[i, k] > 0.5 * min(self.area[i], self.area[k]) for k, _ in kept):
                continue
            joint = self.area[i] + self.area - self.shared[i]
            near = (self.shared[i] > 0.6 * joint) & (chance > 0.5 * chance[i])
            near[i] = True
            kept.append((i, int(np.argmax(np.where(near, close, -1e9)))))
        return kept


class Blind:
    """A photograph as if the network had seen nothing on it, or nothing of some of its marks: so that
    papers and strokes still count where it fails, as it does on what it never saw."""

    def __init__(self, photo, share, seed):
        luck = np.random.default_rng(seed)
        lost = [m for m in range(len(photo.kinds)) if luck.random() < share]
        blank = (photo.iou > 0) & np.isin(photo.mark, lost)
        calm = photo.x[photo.x[:, SEEN + 1] < 0.05]
        keep = ~(blank & (photo.x[:, SEEN] > 0))
        self.name, self.grade, self.kinds = photo.name, photo.grade, photo.kinds
        self.x = photo.x.copy()
        if len(calm):
            rows = np.flatnonzero(blank)
            self.x[rows, SEEN:] = calm[luck.integers(0, len(calm), len(rows)), SEEN:]
        self.x[:, SEEN] = photo.x[:, SEEN]
        self.x, self.iou, self.mark = self.x[keep], photo.iou[keep], photo.mark[keep]
        self.area, self.slot = photo.area[keep], photo.slot[np.ix_(keep, keep)]
        self.shared = photo.shared[np.ix_(keep, keep)]

    company = Photo.company


class Net:
    """Standardised measures, one hidden layer of tanh; several fits averaged in one layer."""

    def fit(self, x, y, hidden=20, decay=0.01, seeds=range(2), steps=300):
        """y: for each output the share (0 to 1) by which a row counts, or number of its class."""
        self.mean, self.spread = x.mean(0), x.std(0) + 1e-6
        z = torch.tensor(self.scaled(x), dtype=torch.float32)
        classes = y.dtype.kind == "i"
        t = torch.tensor(y, dtype=torch.long if classes else torch.float32)
        n = int(y.max()) + 1 if classes else y.shape[1]
        fits = []
        for seed in seeds:
            torch.manual_seed(seed)
            net = torch.nn.Sequential(torch.nn.Linear(z.shape[1], hidden), torch.nn.Tanh(), torch.nn.Linear(hidden, n))
            walk = torch.optim.AdamW(net.parameters(), lr=0.02, weight_decay=decay)
            slow = torch.optim.lr_scheduler.OneCycleLR(walk, 0.02, total_steps=steps)
            for _ in range(steps):
                out = net(z)
                loss = F.cross_entropy(out, t) if classes else F.binary_cross_entropy_with_logits(out, t)
                walk.zero_grad()
                loss.backward()
                walk.step()
                slow.step()
            fits.append([p.detach().double().numpy() for p in net.parameters()])
        self.w1 = np.vstack([f[0] for f in fits])
        self.b1 = np.hstack([f[1] for f in fits])
        self.w2 = np.hstack([f[2] for f in fits]) / len(fits)
        self.b2 = sum(f[3] for f in fits) / len(fits)
        return self

    def scaled(self, x):
        return np.clip((x - self.mean) / self.spread, -5, 5)

    def __call__(self, x):
        return np.tanh(self.scaled(x) @ self.w1.T + self.b1) @ self.w2.T + self.b2

    def as_json(self):
        r = lambda a: np.round(a, 5).tolist()
        return {k: r(getattr(self, k)) for k in ("mean", "spread", "w1", "b1", "w2", "b2")}


def soft(iou):
    """Share by which an outline counts as a mark's: from IoU 0.4 to 0.6; and how close it lies."""
    return np.stack([np.clip((iou - 0.4) / 0.2, 0, 1), np.clip((iou - 0.5) / 0.45, 0, 1)], 1)


def sigmoid(v):
    return 1 / (1 + np.exp(-v))


def fit_two(photos):
    """The second network learns from what the first says of photographs that it hasn't seen."""
    parts = [[q for p in photos[k::3] for q in (p, Blind(p, BLIND, len(p.x)))] for k in range(3)]
    photos = sum(parts, [])
    x2, y2 = [], []
    for k in range(3):
        rest = [p for j in range(3) if j != k for p in parts[j]]
        first = Net().fit(np.vstack([p.x for p in rest]), soft(np.hstack([p.iou for p in rest])), seeds=range(1))
        for p in parts[k]:
            x2.append(p.company(first(p.x)[:, 0]))
            y2.append(p.iou)
    alone = Net().fit(np.vstack([p.x for p in photos]), soft(np.hstack([p.iou for p in photos])))
    beside = Net().fit(np.vstack(x2), soft(np.hstack(y2)))
    return alone, beside


def fit_kind(photos):
    x, y = [], []
    for p in photos:
        for i in np.flatnonzero(p.iou >= 0.5):
            x.append(p.x[i])
            y.append(KINDS.index(p.kinds[p.mark[i]]))
    y = np.array(y)
    kinds = sorted(set(y))
    return Net().fit(np.array(x), np.searchsorted(kinds, y), hidden=12, decay=0.1), [KINDS[k] for k in kinds]


def score(tests, likely=LIKELY):
    """tests: (photo, chances, closeness, kind log chances, names of kinds)."""
    by, wrong, bins = defaultdict(lambda: [0, 0]), [], defaultdict(lambda: [0, 0, 0.0])
    right, ious = [0, 0], []
    for p, chance, close, kind, names in tests:
        hit, false = {}, 0
        for i, k in p.kept(chance, close):
            ok = p.iou[k] >= 0.5 and p.mark[k] not in hit
            b = bins[min(int(chance[i] * 5), 4)]
            b[0] += ok
            b[1] += 1
            b[2] += chance[i]
            if chance[i] < likely:
                continue
            if ok:
                hit[p.mark[k]] = i
                ious.append(p.iou[k])
            else:
                false += 1
        wrong.append(false)
        for m, k in enumerate(p.kinds):
            for key in (k, p.grade, "all"):
                by[key][0] += m in hit
                by[key][1] += 1
            if m in hit:
                right[0] += names[int(np.argmax(kind[hit[m]]))] == k
                right[1] += 1
    for key, (a, n) in sorted(by.items()):
        print(f"  {key:<16} {a:>4} of {n:<4} {a / n:.3f}")
    print(f"  false marks a photograph {np.mean(wrong):.2f}, most {max(wrong)}; mean IoU {np.mean(ious):.3f}; kind right {right[0]} of {right[1]}")
    for b, (a, n, s) in sorted(bins.items()):
        print(f"  chance {s / n:.2f}: right {a / n:.2f} of {n}")


def load(path):
    photos, rows = read(path)
    by = defaultdict(list)
    for r in rows:
        by[r[0]].append(r)
    return [Photo(n, g, k, by[n]) for n, (g, k) in photos.items() if by[n]]


def chances(photos, alone, beside, kind, names):
    out = [(p, beside(p.company(alone(p.x)[:, 0])), kind(p.x)) for p in photos]
    return [(p, sigmoid(o[:, 0]), o[:, 1], k, names) for p, o, k in out]


def main():
    photos = load(sys.argv[1])
    order = np.random.default_rng(0).permutation(len(photos))
    tests = []
    for fold in range(3):
        held = set(order[fold::3].tolist())
        learn = [p for i, p in enumerate(photos) if i not in held]
        tests += chances([photos[i] for i in sorted(held)], *fit_two(learn), *fit_kind(learn))
    print(f"{len(photos)} photographs, {sum(len(p.x) for p in photos)} candidates, folds unseen:")
    for likely in (LIKELY, 0.2, 0.1):
        print(f" likely from {likely}:")
        score(tests, likely)
    alone, beside = fit_two(photos)
    kind, names = fit_kind(photos)
    nets = {"alone": alone.as_json(), "beside": beside.as_json(), "kind": kind.as_json(), "kinds": names}
    with open(sys.argv[2], "w", encoding="utf-8") as out:
        json.dump(nets, out, separators=(",", ":"))
        out.write("\n")
    for path in sys.argv[3:]:
        print(f"{path}, never fitted on:")
        for likely in (LIKELY, 0.2, 0.1):
            print(f" likely from {likely}:")
            score(chances(load(path), alone, beside, kind, names), likely)


if __name__ == "__main__":
    main()
