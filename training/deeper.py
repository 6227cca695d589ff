"""Makes a kept network deeper without changing what it reads, as the start of further training.

    python deeper.py CHECKPOINT OUT.pt [DEEP ALONG ACROSS]

DEEP: residual blocks 12, 6 and 3 px high, as "2,3,2"; ALONG: blocks along the line; ACROSS: blocks in which steps hear each
other (`network.Across`). Each new block passes its input on and adds nothing yet; OUT names the new weights (`fresh`).
"""

import sys

import torch

from network import Reader


def deepened(weights, deep=(2, 3, 2), along=2, across=6, seed=1):
    """-> weights of a deeper `Reader` that gives the same output, names of the new ones."""
    torch.manual_seed(seed)
    old = Reader.of(weights)
    out = Reader(old.signs.out_features, old.widths, old.along.hidden_size, deep=deep, along=along, across=across)
    new, fresh = out.state_dict(), []
    target = {}  # layer of the old body -> of the new one
    for (i, block), (j, _) in zip(staged(old.body), staged(out.body)):
        target.update({i + n: j + n for n in range(block)})
    kept = {}
    for name, value in old.state_dict().items():
        if name.startswith("body."):
            _, at, rest = name.split(".", 2)
            name = f"body.{target[int(at)]}.{rest}"
        kept[name] = value
    for name in new:
        if name in kept:
            new[name] = kept[name]
        else:
            fresh.append(name)
    return new, fresh


def staged(body):
    """Of each convolution of a body its place, and how many layers it and the blocks behind it are."""
    starts = [i for i, layer in enumerate(body) if isinstance(layer, torch.nn.Sequential)]
    return [(a, b - a) for a, b in zip(starts, [*starts[1:], len(body)])]


def main():
    source, target, *shape = sys.argv[1:]
    kept = torch.load(source, map_location="cpu", weights_only=False)
    shape = (tuple(map(int, shape[0].split(","))), int(shape[1]), int(shape[2])) if shape else ()
    after, fresh = deepened(kept["weights"], *shape)
    x = torch.randn(2, 1, 48, 320)
    with torch.no_grad():
        apart = (Reader.of(kept["weights"]).eval()(x) - Reader.of(after).eval()(x)).abs().max()
    print(f"{sum(v.numel() for v in after.values()) / 1e6:.2f} million weights; greatest difference {float(apart):.2g}")
    torch.save({"weights": {k: v.half() if v.is_floating_point() else v for k, v in after.items()}, "seen": kept["seen"], "fresh": fresh}, target)


if __name__ == "__main__":
    main()
