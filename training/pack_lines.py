"""Packs real lines smaller for the way to a rented machine.

    python pack_lines.py OUT_DIR QUALITY [HANDS] LINES_DIR [LINES_DIR...]

A set of lines is laid out as: `lines.tsv` with the columns picture, kind (hand, typed, print), part
(train, check: split by whole pages), page, text; beside it one stored zip a source, SOURCE.zip, with
the pictures (grey, 48 px high) that `picture` names as SOURCE/NAME. Anyone can bring a set of their own in
this shape. QUALITY 0 lays the sets side by side as they are (links, one table). Any other packs what is trained
on and tuned by: the lines of a page go one below another into one AVIF picture (about 700 bytes a line at
quality 12, 1,200 at 30), and of sources with many lines by few hands only some pages are taken. Of the hands that
matter most (`AS_THEY_ARE`) the lines go as they are. With HANDS before LINES_DIR only lines written by hand are packed.
"""

import csv
import io
import os
import random
import sys
import zipfile

import numpy as np
from PIL import Image

import lines

# lines at most a page, lines at most a source: writers count, not lines
MOST = {"copiste": (14, 3800), "ehri": (9, 800), "vtm-registre": (20, 500), "tables-lyon": (20, 200), "peraire": (9, 500), "transcriboquest": (12, 300),
        "cremma-mss-18": (30, 1500), "nubis": (12, 200), "archiscribe": (6, 500)}
AS_THEY_ARE = ("loc-letters", "loc-more", "celestine", "berlioz")
COLUMNS = ["picture", "kind", "part", "page", "text", "strip"]


def tables(folders):
    for folder in folders:
        for row in lines.rows_of(folder):
            yield folder, row


def chosen(folders, hands):
    """(folder, source, page) -> rows of the pages taken."""
    pages = {}
    for folder, row in tables(folders):
        if lines.part_of(row) in ("train", "tune") and lines.truth(row["text"]) and (not hands or row["kind"] == "hand"):
            pages.setdefault((folder, row["picture"].split("/")[0], row["page"]), []).append(row)
    order = sorted(pages)
    random.Random(4).shuffle(order)
    taken, count = {}, {}
    for key in order:
        page, source = MOST.get(key[1], (10**6, 10**6))
        if count.get(key[1], 0) < source:
            taken[key] = pages[key][:page]
            count[key[1]] = count.get(key[1], 0) + len(taken[key])
    return taken


def strip(pictures, quality):
    """One picture of lines one below another."""
    wide = max(p.shape[1] for p in pictures)
    sheet = np.vstack([np.pad(p, ((0, 0), (0, wide - p.shape[1])), mode="edge") for p in pictures])
    out = io.BytesIO()
    Image.fromarray(sheet).save(out, "AVIF", quality=quality, speed=8, subsampling="4:0:0", max_threads=1)
    return out.getvalue()


def main():
    out, quality, folders = sys.argv[1], int(sys.argv[2]), sys.argv[3:]
    hands = folders[0] == "HANDS"
    folders = folders[hands:]
    os.makedirs(out, exist_ok=True)
    kept = []
    if quality == 0:
        for folder, row in tables(folders):
            source = row["picture"].split("/")[0]
            if not os.path.lexists(f"{out}/{source}.zip"):
                os.symlink(os.path.abspath(f"{folder}/{source}.zip"), f"{out}/{source}.zip")
            kept.append({**row, "strip": ""})
    else:
        sources, targets = {}, {}
        for number, ((folder, source, _), rows) in enumerate(chosen(folders, hands).items()):
            if source not in sources:
                sources[source] = zipfile.ZipFile(f"{folder}/{source}.zip")
                targets[source] = zipfile.ZipFile(f"{out}/{source}.zip", "w")
            if source in AS_THEY_ARE:
                for r in rows:
                    name = r["picture"].split("/")[1]
                    targets[source].writestr(name, sources[source].read(name))
                    kept.append({**r, "strip": ""})
                continue
            pictures = [np.asarray(Image.open(io.BytesIO(sources[source].read(r["picture"].split("/")[1]))).convert("L")) for r in rows]
            targets[source].writestr(f"{number:05}.avif", strip(pictures, quality))
            kept += [{**r, "picture": f"{source}/{number:05}.avif", "strip": f"{i} {p.shape[1]}"} for i, (r, p) in enumerate(zip(rows, pictures))]
        for target in targets.values():
            target.close()
    with open(f"{out}/lines.tsv", "w", encoding="utf8", newline="") as f:
        f.write("\t".join(COLUMNS) + "\n")
        for row in kept:
            f.write("\t".join(row[c] for c in COLUMNS) + "\n")


if __name__ == "__main__":
    main()
