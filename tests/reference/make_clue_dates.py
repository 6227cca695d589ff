# Needs: Python 3, edtf 5.0.2 (PyPI: `pip install edtf==5.0.2`).
#
# Writes clue_dates.json beside it: for every date of clues.csv, and for the run that its two dates
# make, the first and last day that the reference library reads ("strict" bounds; null where it
# gives none). Run: python3 make_clue_dates.py
import csv
import json
import math
import os

import edtf

here = os.path.dirname(os.path.abspath(__file__))


def day(value):
    if isinstance(value, (int, float)):
        return None if math.isinf(value) else str(value)
    if hasattr(value, "tm_year"):
        return f"{value[0]:04}-{value[1]:02}-{value[2]:02}"
    return None


texts = set()
with open(os.path.join(here, "clues.csv"), encoding="utf-8") as f:
    for row in csv.DictReader(f):
        a, b = row["not_before"], row["not_after"]
        texts.update(t for t in (a, b) if t)
        if a and b and a != b:
            texts.add(f"[{a}..{b}]")
        elif a and not b:
            texts.add(f"[{a}..]")
        elif b and not a:
            texts.add(f"[..{b}]")

rows = []
for text in sorted(texts):
    row = {"text": text}
    try:
        value = edtf.parse_edtf(text)
        row["library"] = [day(value.lower_strict()), day(value.upper_strict())]
    except Exception as e:
        row["unread"] = type(e).__name__
    rows.append(row)

with open(os.path.join(here, "clue_dates.json"), "w", encoding="utf-8") as f:
    json.dump({"library": "edtf 5.0.2 (PyPI), strict bounds", "dates": rows}, f, indent=0)
    f.write("\n")
