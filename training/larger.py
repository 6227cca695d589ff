"""Makes a kept network larger without changing what it reads, as the start of further training.

    python larger.py CHECKPOINT OUT.pt [HIDDEN]

New LSTM cells listen to what the old ones listen to, with small random weights, but nothing listens
to them yet; a block of convolutions along the line that adds nothing yet (`network.ALONG`) comes
before the LSTM. Training then finds uses for both.
"""

import sys

import torch

from network import ALONG, Reader, Residual

HIDDEN = 288


def widened(weights, hidden=HIDDEN, seed=1):
    """Weights of a `Reader` with more cells and one more block that gives the same output as the kept one."""
    torch.manual_seed(seed)
    w = {k: v.float() if v.is_floating_point() else v for k, v in weights.items()}
    out = dict(w)
    old = w["along.weight_hh_l0"].shape[1]
    for layer in (0, 1):
        inputs = w[f"along.weight_ih_l{layer}"].shape[1]
        wide = inputs if layer == 0 else 2 * hidden
        for way in ("", "_reverse"):
            into = torch.zeros(4, hidden, wide)
            back = torch.zeros(4, hidden, hidden)
            into[:, old:] = (2 * torch.rand(4, hidden - old, wide) - 1) / hidden**0.5
            back[:, old:] = (2 * torch.rand(4, hidden - old, hidden) - 1) / hidden**0.5
            kept = w[f"along.weight_ih_l{layer}{way}"].view(4, old, inputs)
            if layer == 0:
                into[:, :old] = kept
            else:  # the cells of both ways, with the new ones between and behind them unheard
                into[:, :old, :old] = kept[..., :old]
                into[:, :old, hidden : hidden + old] = kept[..., old:]
            back[:, :old, :old] = w[f"along.weight_hh_l{layer}{way}"].view(4, old, old)
            out[f"along.weight_ih_l{layer}{way}"] = into.view(4 * hidden, wide)
            out[f"along.weight_hh_l{layer}{way}"] = back.view(4 * hidden, hidden)
            for bias in ("bias_ih", "bias_hh"):
                b = torch.zeros(4, hidden)
                b[:, :old] = w[f"along.{bias}_l{layer}{way}"].view(4, old)
                out[f"along.{bias}_l{layer}{way}"] = b.view(-1)
    signs = torch.zeros(len(w["signs.bias"]), 2 * hidden)
    signs[:, :old] = w["signs.weight"][:, :old]
    signs[:, hidden : hidden + old] = w["signs.weight"][:, old:]
    out["signs.weight"] = signs
    if "body.7.first.0.weight" not in w:
        out.update({f"body.7.{k}": v for k, v in Residual(w["body.6.0.weight"].shape[0], ALONG).state_dict().items()})
    return out


def main():
    source, target = sys.argv[1:3]
    kept = torch.load(source, map_location="cpu", weights_only=False)
    before, after = kept["weights"], widened(kept["weights"], *map(int, sys.argv[3:4]))
    x = torch.randn(2, 1, 48, 320)
    with torch.no_grad():
        apart = (Reader.of(before).eval()(x) - Reader.of(after).eval()(x)).abs().max()
    print(f"{sum(v.numel() for v in after.values()) / 1e6:.2f} million weights; greatest difference {float(apart):.2g}")
    torch.save({"weights": {k: v.half() if v.is_floating_point() else v for k, v in after.items()}, "seen": kept["seen"]}, target)


if __name__ == "__main__":
    main()
