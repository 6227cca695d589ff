"""Packs real lines smaller for the way to a rented machine.

    python pack_lines.py LINES_DIR OUT_DIR [QUALITY]

A set of lines is laid out as: `lines.tsv` with the columns picture, kind (hand, typed), part
(train, check: split by whole pages), page, text; beside it one stored zip a source, SOURCE.zip, with
the pictures (grey, 48 px high, WebP) that `picture` names as SOURCE/NAME. Anyone can bring a set of
their own in this shape.
"""

import csv
import io
import os
import sys
import zipfile

from PIL import Image

KEEP = {"ehri": 2900}  # typed lines are plenty; pages in order, check pages all kept


def main():
    source_dir, out = sys.argv[1:3]
    quality = int(sys.argv[3]) if len(sys.argv) > 3 else 20
    os.makedirs(out, exist_ok=True)
    rows = list(csv.DictReader(open(f"{source_dir}/lines.tsv", encoding="utf8"), delimiter="\t", quoting=csv.QUOTE_NONE))
    kept, count, packs, targets = [], {}, {}, {}
    for row in rows:
        source, name = row["picture"].split("/")
        count[source] = count.get(source, 0) + (row["part"] == "train")
        if row["part"] == "train" and count[source] > KEEP.get(source, 10**9):
            continue
        if source not in packs:
            packs[source] = zipfile.ZipFile(f"{source_dir}/{source}.zip")
            targets[source] = zipfile.ZipFile(f"{out}/{source}.zip", "w")
        pack, target = packs[source], targets[source]
        memory = io.BytesIO()
        Image.open(io.BytesIO(pack.read(name))).convert("L").save(memory, "WEBP", quality=quality, method=4)
        target.writestr(name, memory.getvalue())
        kept.append(row)
    for target in targets.values():
        target.close()
    with open(f"{out}/lines.tsv", "w", encoding="utf8", newline="") as f:
        f.write("\t".join(rows[0]) + "\n")
        for row in kept:
            f.write("\t".join(row.values()) + "\n")


if __name__ == "__main__":
    main()
