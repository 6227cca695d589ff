"""Averages checkpoints of one line of descent and keeps the average that reads the tuning writers best.

    python blend.py LINES_DIR OUT.pt OLD.pt NEW.pt [NEW.pt...]

OLD is what the runs went on from. Tried are each NEW, the mean of all, and each of these taken 0.85 and 0.7 of the
way from OLD (Wortsman et al. 2022, "Robust fine-tuning of zero-shot models": weights between two networks
often serve writers whom neither has seen better than either).
"""

import sys

import torch

from network import Reader
from train import errors, held_out


def weights(path):
    return {k: v.float() if v.is_floating_point() else v for k, v in torch.load(path, map_location="cpu", weights_only=False)["weights"].items()}


def mean(some, shares):
    return {k: sum(s * w[k] for s, w in zip(shares, some)) if some[0][k].is_floating_point() else some[-1][k] for k in some[0]}


def main():
    folder, out, old, *new = sys.argv[1:]
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    sets = {k: v for k, v in held_out(None, folder, 0, 10**6, device).items() if k.endswith(", tune")}
    amp = lambda: torch.autocast("cuda", torch.bfloat16, enabled=torch.cuda.is_available())
    start, ends = weights(old), {path: weights(path) for path in new}
    if len(new) > 1:
        ends["mean"] = mean(list(ends.values()), [1 / len(new)] * len(new))
    best = (1e9, "", None)
    for name, end in ends.items():
        for far in (1.0, 0.85, 0.7):
            tried = mean([start, end], [1 - far, far])
            found = errors(Reader.of(tried).to(device), sets, amp)
            mark = sum(found.values()) / len(found)
            print(f"{name} {far}: {mark:.4f}", {k: round(v, 4) for k, v in found.items()}, flush=True)
            best = min(best, (mark, f"{name} {far}", tried), key=lambda b: b[0])
    print("kept", best[1])
    seen = max(torch.load(p, map_location="cpu", weights_only=False)["seen"] for p in new)
    torch.save({"weights": {k: v.half() if v.is_floating_point() else v for k, v in best[2].items()}, "seen": seen}, out)


if __name__ == "__main__":
    main()
