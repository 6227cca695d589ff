"""How many letters of a row are right by what is stated of them (`RIGHT` and `CUT` in `src/readings/choice.rs`), and what
each rule of choosing among the rows of several pictures gives.

`python fit_choice.py FOLDER ROWS.csv...`: rows of `examples/dump_lines.rs` on the made photographs of FOLDER (with
`NAME.json`). Share of right letters = 1 / (1 + exp(-(a + b ln(m / (1 - m))))), m the mean chance of the row, by least
log loss over letters, on rows that lie wholly on their mark. On those that its upper or lower edge cuts through a third
number counts, in proportion to the share of the row beyond it, fitted with the two held (`python fit_choice.py --cut
ROWS.csv...` fits that alone); of a row that shares less than half of its letters with any true line none is right, since
some of them agree by luck. Then words precision, recall and F1 for each number of pictures and each least share of right
letters from which a row of a further picture stands. Lines that are taken for illegible count too: what is read of them
is right.
"""

import collections
import csv
import json
import math
import re
import sys
from pathlib import Path

MOST_TALLER, LEAST_SHARED = 1.8, 0.5
# As they stand in the program
RIGHT = (-0.633, 1.084)


def load(paths):
    marks = collections.defaultdict(list)
    for path in paths:
        for r in csv.DictReader(open(path)):
            m = min(max(float(r["mean"]), 0.001), 0.9995)
            row = {"odds": math.log(m / (1 - m)), "n": int(r["count"]), "right": int(r["right"]), "picture": int(r["picture"]),
                   "beyond": float(r.get("beyond", 0)),
                   "box": tuple(int(r[k]) for k in "xywh"), "text": r["text"]}
            if row["n"]:
                marks[(r["photograph"], r["mark"])].append(row)
    return marks


def fit(rows):
    """Newton's method for two parameters."""
    a, b = 0.0, 1.0
    for _ in range(60):
        g, h = [0.0, 0.0], [0.0, 0.0, 0.0]
        for r in rows:
            p = 1 / (1 + math.exp(-(a + b * r["odds"])))
            d, v = r["right"] - r["n"] * p, r["n"] * p * (1 - p)
            g = [g[0] + d, g[1] + d * r["odds"]]
            h = [h[0] + v, h[1] + v * r["odds"], h[2] + v * r["odds"] ** 2]
        det = h[0] * h[2] - h[1] ** 2
        a, b = a + (h[2] * g[0] - h[1] * g[1]) / det, b + (h[0] * g[1] - h[1] * g[0]) / det
    return a, b


def fit_cut(rows, a, b):
    """Newton's method for what the share beyond the edge adds to the two held."""
    c = 0.0
    for _ in range(60):
        g = h = 0.0
        for r in rows:
            p = 1 / (1 + math.exp(-(a + b * r["odds"] + c * r["beyond"])))
            right = r["right"] if 2 * r["right"] > r["n"] else 0
            g += (right - r["n"] * p) * r["beyond"]
            h += r["n"] * p * (1 - p) * r["beyond"] ** 2
        c += g / h
    return c


def part(a, b):
    w = min(a[0] + a[2], b[0] + b[2]) - max(a[0], b[0])
    h = min(a[1] + a[3], b[1] + b[3]) - max(a[1], b[1])
    return max(w, 0) * max(h, 0) / max(a[2] * a[3], 1)


def rivals(a, b):
    a, b = a["box"], b["box"]
    return max(a[3], b[3]) < MOST_TALLER * min(a[3], b[3]) and max(part(a, b), part(b, a)) > LEAST_SHARED


def choose(rows, share, elsewhere):
    standing = []
    for r in sorted(rows, key=lambda r: -(share(r) - 0.5) * r["n"]):
        if (r["picture"] == 0 or share(r) > elsewhere) and not any(rivals(s, r) for s in standing):
            standing.append(r)
    return standing


def words(text):
    return re.findall(r"[0-9a-zà-ÿ]+", text.lower())


def score(marks, truth, pick):
    said = collections.defaultdict(collections.Counter)
    for (photo, _), rows in marks.items():
        for r in pick(rows):
            said[photo].update(words(r["text"]))
    hit = sum((said[p] & truth[p]).total() for p in truth)
    all_said, true = sum(said[p].total() for p in truth), sum(t.total() for t in truth.values())
    return f"precision {hit / all_said:.3f} recall {hit / true:.3f} F1 {2 * hit / (all_said + true):.4f}"


def main():
    marks = load(sys.argv[2:])
    every = [r for rows in marks.values() for r in rows]
    cut = [r for r in every if r["beyond"] > 0]
    if sys.argv[1] == "--cut":
        print(f"CUT {fit_cut(cut, *RIGHT):.1f} by {len(cut)} rows")
        return
    folder = Path(sys.argv[1])
    a, b = fit([r for r in every if r["beyond"] == 0])
    print(f"RIGHT {a:.3f} {b:.3f}")
    truth = {}
    for photo in {p for p, _ in marks}:
        lines = [l for m in json.loads((folder / f"{photo}.json").read_text())["marks"] for l in m.get("lines", [])]
        truth[photo] = collections.Counter(w for l in lines for w in words(l["text"]))

    def share(r):
        return 1 / (1 + math.exp(-(a + b * r["odds"])))

    for pictures in (1, 2, 3, 5):
        for elsewhere in (0.5, 0.6, 0.7, 0.8):
            told = score(marks, truth, lambda rows: choose([r for r in rows if r["picture"] < pictures], share, elsewhere))
            print(f"{pictures} pictures, elsewhere from {elsewhere}: {told}")


main()
