# Needs: Python 3, edtf 5.0.2 (PyPI: `pip install edtf==5.0.2`).
#
# Writes edtf.json beside it: every example string of the Extended Date/Time Format (EDTF)
# Specification, Library of Congress, 4 February 2019, by section, with the first and last day
# that the reference library gives it ("strict" bounds; null where it gives none or an infinity,
# "unread" where it can't read the example). Run: python3 make_edtf.py
import json
import math
import os
import time

import edtf

EXAMPLES = {
    "0 date": ["1985-04-12", "1985-04", "1985"],
    "0 date and time": [
        "1985-04-12T23:20:30", "1985-04-12T23:20:30Z", "1985-04-12T23:20:30-04",
        "1985-04-12T23:20:30+04:30",
    ],
    "0 interval": [
        "1964/2008", "2004-06/2006-08", "2004-02-01/2005-02-08", "2004-02-01/2005-02",
        "2004-02-01/2005", "2005/2006-02",
    ],
    "1 letter-prefixed year": ["Y170000002", "Y-170000002"],
    "1 season": ["2001-21", "2001-22", "2001-23", "2001-24"],
    "1 qualification": ["1984?", "2004-06~", "2004-06-11%"],
    "1 unspecified digits": ["201X", "20XX", "2004-XX", "1985-04-XX", "1985-XX-XX"],
    "1 extended interval": [
        "1985-04-12/..", "1985-04/..", "1985/..", "../1985-04-12", "../1985-04", "../1985",
        "1985-04-12/", "1985-04/", "1985/", "/1985-04-12", "/1985-04", "/1985",
    ],
    "1 negative year": ["-1985"],
    "2 exponential year": ["Y-17E7"],
    "2 significant digits": ["1950S2", "Y171010000S3", "Y3388E2S3"],
    "2 sub-year grouping": ["2001-34"],
    "2 set": [
        "[1667,1668,1670..1672]", "[..1760-12-03]", "[1760-12..]", "[1760-01,1760-02,1760-12..]",
        "[1667,1760-12]", "[..1984]", "{1667,1668,1670..1672}", "{1960,1961-12}", "{..1984}",
    ],
    "2 qualification": [
        "2004-06-11%", "2004-06~-11", "2004?-06-11", "?2004-06-~11", "2004-%06-11",
    ],
    "2 unspecified digits": ["156X-12-25", "15XX-12-25", "XXXX-12-XX", "1XXX-XX", "1XXX-12", "1984-1X"],
    "2 interval": ["2004-06-~01/2004-06-~20", "2004-06-XX/2004-07-03"],
}


def day(value):
    if isinstance(value, (int, float)):
        return None if math.isinf(value) else str(value)
    if isinstance(value, time.struct_time) or hasattr(value, "tm_year"):
        year, month, d = value[0], value[1], value[2]
        return f"{'-' if year < 0 else ''}{abs(year):04}-{month:02}-{d:02}"
    return None


rows = []
for section, texts in EXAMPLES.items():
    for text in texts:
        row = {"section": section, "text": text}
        try:
            value = edtf.parse_edtf(text)
            row["library"] = [day(value.lower_strict()), day(value.upper_strict())]
        except Exception as e:
            row["unread"] = type(e).__name__
        rows.append(row)

here = os.path.dirname(os.path.abspath(__file__))
with open(os.path.join(here, "edtf.json"), "w", encoding="utf-8") as f:
    json.dump(
        {
            "source": "Library of Congress, Extended Date/Time Format (EDTF) Specification, 4 February 2019",
            "library": "edtf 5.0.2 (PyPI), strict bounds",
            "examples": rows,
        },
        f, indent=1, ensure_ascii=False,
    )
    f.write("\n")
