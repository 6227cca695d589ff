"""Counts which signs follow each other in writing, for the reader of hands.

    python wording.py TEXTS.tsv PROSE.txt OUT.bin

* TEXTS.tsv: of `character_network.py gather` (part, kind, text); only its part `train` is counted, so that neither pages marked
  "check" nor the tuning writers nor sources left out are among it. Its kinds `english` and `spanish` are left out.
* PROSE.txt: running English, a line a row (`README.md`, step 1).

OUT.bin is of the form that `language.py` tells, and smoothed and pruned as there (Witten and Bell 1991), but all at once with
numpy: half a minute in place of many, for ten times the texts.
"""

import struct
import sys

import numpy as np

import texts
from language import LEAST, ORDER

# how often a text of each kind is counted; others once
TIMES = {"hand english": 10, "hand french": 3, "english": 0, "spanish": 0}
PROSE = 2
NUMBER = {s: i + 1 for i, s in enumerate(texts.SIGNS)}
EVERY = len(NUMBER) + 1  # signs, and a line's end


def coded(some):
    """Texts -> numbers of their signs, 0 before, between and behind them; signs without a number are left out."""
    table = np.zeros(0x10000, np.uint64)
    for sign, number in NUMBER.items():
        table[ord(sign)] = number
    points = np.frombuffer(("\n" + "\n".join(some) + "\n").encode("utf-32-le"), np.uint32)
    numbers = table[np.minimum(points, 0xFFFF)]
    return numbers[(numbers > 0) | (points == 10)]


def part(keys, length):
    """The last `length` signs of sequences (8 bits a sign, the last lowest)."""
    return keys & np.uint64((1 << 8 * length) - 1)


def found(among, keys):
    """-> places of keys in a sorted list, and whether they are there."""
    at = np.minimum(np.searchsorted(among, keys), max(len(among) - 1, 0))
    return at, (among[at] == keys) if len(among) else np.zeros(len(keys), bool)


def counted(signs):
    """-> by length from 1: sequences of a text each in rising order, and how often each is there."""
    n = len(signs)
    ends = np.maximum.accumulate(np.where(signs == 0, np.arange(n), -1))
    before = np.arange(n) - np.concatenate([[-1], ends[:-1]])  # signs that stand before one, the line's beginning among them
    out = []
    for length in range(1, ORDER + 1):
        keys = np.zeros(n, np.uint64)
        for back in range(length):
            keys[back:] |= signs[: n - back] << np.uint64(8 * back)
        whole = (before >= length - 1) & (np.arange(n) > 0)
        kinds, counts = np.unique(keys[whole], return_counts=True)
        out.append((kinds, counts.astype(float)))
    return out


def smoothed(counts):
    """-> by length: the chance of the last sign after the others, nothing pruned."""
    out = []
    for length, (keys, seen) in enumerate(counts, 1):
        _, at = np.unique(keys >> np.uint64(8), return_inverse=True)
        whole, kinds = np.bincount(at, weights=seen), np.bincount(at)
        lower = np.full(len(keys), 1 / EVERY)
        if length > 1:
            place, known = found(counts[length - 2][0], part(keys, length - 1))
            lower = np.where(known, out[-1][place], lower)
        out.append((seen + kinds[at] * lower) / (whole + kinds)[at])
    return out


class Wording:
    """Kept sequences with their chances, and what a sign counts that isn't kept after some."""

    def __init__(self, signs):
        counts = counted(signs)
        full = smoothed(counts)
        self.kept, self.back = [], [(np.zeros(0, np.uint64), np.ones(0))]
        for length, ((keys, seen), chances) in enumerate(zip(counts, full), 1):
            whole = seen >= LEAST[length]
            if length > 1:  # kept only where the one without its first sign is: the program looks up by that way
                whole &= found(self.kept[-1][0], part(keys, length - 1))[1]
            self.kept.append((keys[whole], chances[whole]))
        for length in range(2, ORDER + 1):
            keys, chances = self.kept[length - 1]
            begins, at = np.unique(keys >> np.uint64(8), return_inverse=True)
            here = np.bincount(at, weights=chances)
            below = np.bincount(at, weights=self.chances(part(keys, length - 1), length - 1))
            self.back.append((begins, np.maximum(1 - here, 1e-6) / np.maximum(1 - below, 1e-6)))

    def chances(self, keys, length):
        """Chance of the last sign of each sequence of so many signs."""
        out, open_ = np.ones(len(keys)), np.ones(len(keys), bool)
        for n in range(length, 0, -1):
            at, known = found(self.kept[n - 1][0], part(keys, n))
            known &= open_
            out[known] *= self.kept[n - 1][1][at[known]]
            open_ &= ~known
            at, known = found(self.back[n - 1][0], part(keys, n) >> np.uint64(8))
            known &= open_
            if n > 1:
                out[known] *= self.back[n - 1][1][at[known]]
        return np.where(open_, out / EVERY, out)

    def write(self, path):
        cost = lambda p, most: np.clip(np.round(-16 * np.log(np.maximum(p, 1e-9))), 0, most).astype(np.uint64)
        with open(path, "wb") as f:
            f.write(b"DSL1" + bytes([ORDER]))
            for length, (keys, chances) in enumerate(self.kept, 1):
                low, more = np.zeros(len(keys), np.uint64), np.zeros(0, np.uint64)
                if length < ORDER:
                    begins, back = self.back[length]
                    at, known = found(keys, begins)
                    low[at[known]] = cost(back[known], 255)
                    # what others begin with has a record of its own even where it was pruned
                    more = begins[~known] << np.uint64(16) | np.uint64(255 << 8) | cost(back[~known], 255)
                rows = np.sort(np.concatenate([keys << np.uint64(16) | cost(chances, 254) << np.uint64(8) | low, more]))
                f.write(struct.pack("<I", len(rows)) + rows.astype("<u8").tobytes())
                print(f"{length} signs: {len(rows)}")


def bits(wording, some):
    """Bits a sign of texts that weren't counted."""
    keys = counted(coded(some))
    signs = keys[0][1].sum()
    # of each place the longest sequence that ends there
    lost = 0.0
    for length in range(ORDER, 0, -1):
        sequences, seen = keys[length - 1]
        if length < ORDER:  # only those that a line's beginning cuts short
            short = (sequences >> np.uint64(8 * (length - 1))) == 0
            sequences, seen = (sequences[short], seen[short]) if length > 1 else (sequences[:0], seen[:0])
        lost -= (seen * np.log2(wording.chances(sequences, length))).sum()
    return lost / signs


def main():
    rows, prose, out = sys.argv[1:]
    some, held = [], {}
    for row in open(rows, encoding="utf8"):
        where, kind, text = row.rstrip("\n").split("\t")
        if where == "train":
            some += [text] * TIMES.get(kind, 1)
        else:
            held.setdefault(kind, []).append(text)
    some += [row.rstrip("\n") for row in open(prose, encoding="utf8")] * PROSE
    wording = Wording(coded(some))
    wording.write(out)
    print({kind: round(float(bits(wording, texts_)), 2) for kind, texts_ in held.items()})


if __name__ == "__main__":
    main()
