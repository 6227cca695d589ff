"""Cuts a checkpoint down to narrower layers, as the start of a smaller network that learns from it.

    python smaller.py CHECKPOINT OUT.pt

Of each layer the channels (and of each LSTM the cells) that weigh most in the layers after them
are kept. What comes out reads badly until `train.py --teacher CHECKPOINT` has taught it.
"""

import sys

import torch

from network import Reader

WIDTHS = (32, 48, 80, 160, 256)
HIDDEN = 192


def strongest(strength, n):
    """Indices of the n greatest, in their order."""
    return torch.sort(torch.topk(strength, n).indices).values


def narrowed(weights, widths=WIDTHS, hidden=HIDDEN):
    """Weights of a `Reader` of the given widths made from those of a wider one."""
    w = {k: v.float() if v.is_floating_point() else v for k, v in weights.items()}
    out = dict(w)

    def norm(name):
        return w[name].abs()

    def give(conv, bn, rows, columns):
        out[f"{conv}.weight"] = w[f"{conv}.weight"][rows][:, columns]
        for part in ("weight", "bias", "running_mean", "running_var"):
            out[f"{bn}.{part}"] = w[f"{bn}.{part}"][rows]

    def taken(name):
        """How strongly each input channel of a convolution is used."""
        return w[f"{name}.weight"].pow(2).sum((0, 2, 3)).sqrt()

    a, b, c, d, e = widths
    one = torch.arange(1)
    # channels of the five widths, by their scale and by the use that the next layers make of them
    first = strongest(norm("body.0.1.weight") * taken("body.1.0"), a)
    second = strongest(norm("body.1.1.weight") * (taken("body.2.first.0") + taken("body.3.0")), b)
    third = strongest(norm("body.3.1.weight") * (taken("body.4.first.0") + taken("body.5.0")), c)
    fourth = strongest(norm("body.5.1.weight") * taken("body.6.0"), d)
    into = w["along.weight_ih_l0"].pow(2).sum(0) + w["along.weight_ih_l0_reverse"].pow(2).sum(0)
    fifth = strongest(norm("body.6.1.weight") * into.sqrt(), e)
    give("body.0.0", "body.0.1", first, one)
    give("body.1.0", "body.1.1", second, first)
    for at, outer, n in (("body.2", second, b), ("body.4", third, c), ("body.7", fifth, e)):
        if f"{at}.first.0.weight" not in w:
            continue
        middle = strongest(norm(f"{at}.first.1.weight") * taken(f"{at}.second.0"), n)
        give(f"{at}.first.0", f"{at}.first.1", middle, outer)
        give(f"{at}.second.0", f"{at}.second.1", outer, middle)
    give("body.3.0", "body.3.1", third, second)
    give("body.5.0", "body.5.1", fourth, third)
    give("body.6.0", "body.6.1", fifth, fourth)
    old = w["along.weight_hh_l0"].shape[1]
    inputs = fifth
    for layer in (0, 1):
        kept = []
        for way, offset in (("", 0), ("_reverse", old)):
            use = w[f"along.weight_hh_l{layer}{way}"].pow(2).sum(0)
            after = ["signs.weight"] if layer else ["along.weight_ih_l1", "along.weight_ih_l1_reverse"]
            for name in after:
                use = use + w[name][:, offset : offset + old].pow(2).sum(0)
            kept.append(strongest(use, hidden))
        for way, cells in zip(("", "_reverse"), kept):
            gates = torch.cat([cells + g * old for g in range(4)])
            out[f"along.weight_ih_l{layer}{way}"] = w[f"along.weight_ih_l{layer}{way}"][gates][:, inputs]
            out[f"along.weight_hh_l{layer}{way}"] = w[f"along.weight_hh_l{layer}{way}"][gates][:, cells]
            for bias in ("bias_ih", "bias_hh"):
                out[f"along.{bias}_l{layer}{way}"] = w[f"along.{bias}_l{layer}{way}"][gates]
        inputs = torch.cat([kept[0], kept[1] + old])
    out["signs.weight"] = w["signs.weight"][:, inputs]
    return out


def main():
    source, target = sys.argv[1:]
    kept = torch.load(source, map_location="cpu", weights_only=False)
    weights = narrowed(kept["weights"])
    Reader.of(weights)
    torch.save({"weights": {k: v.half() if v.is_floating_point() else v for k, v in weights.items()}, "seen": 0}, target)


if __name__ == "__main__":
    main()
