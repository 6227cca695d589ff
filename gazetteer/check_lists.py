"""Holds random rows of open/ and of artists.csv above it against the files that they were made from, by other means than those that made them.

    python3 check_lists.py --tate artist_data.csv --constituents constituents.csv \
        --provenance provenance.csv --rows 200 --seed 1 open

A date is wrong if its year stands in no source record that the row names by number, or contradicts the years of that
record's columns; a name, if no record has its words; a firm's year, if none of the lines that name the firm has it. A
row may be a double where another shares an authority's number, or surname, first initial and both years (2 off).
"""

import argparse
import collections
import csv
import functools
import os
import random
import re
import sys
import unicodedata


@functools.lru_cache(maxsize=None)
def letters(text):
    plain = unicodedata.normalize("NFKD", text.replace("ø", "o").replace("Ø", "O").replace("ł", "l").replace("ß", "ss"))
    return re.sub(r"[^a-z0-9 ]+", " ", "".join(c for c in plain if not unicodedata.combining(c)).lower()).split()


def table(path, key):
    with open(path, encoding="utf-8-sig", newline="") as file:
        return {r[key]: r for r in csv.DictReader(file)}


def listed(path):
    with open(path, encoding="utf-8", newline="") as file:
        next(file)
        return list(csv.DictReader(file))


def records(row, sources):
    """The source's records of a row: dates in words, years of columns, name."""
    for number in filter(None, row["numbers"].split("; ")):
        museum, key = number.split(" ")
        r = sources[museum][key]
        if museum == "Tate":
            yield r["dates"], (r["yearOfBirth"], r["yearOfDeath"]), r["name"]
        else:
            yield r["displaydate"], (r["beginyear"], r["endyear"]), r["preferreddisplayname"] + " " + r["forwarddisplayname"]


def wrong_dates(row, sources):
    """What is wrong with a person's years."""
    out, found = [], list(records(row, sources))
    if row["source"] == "from memory":
        return out
    said = " ".join(f[0] for f in found)
    years = set(re.findall(r"\d{4}", said))
    for end in re.findall(r"(\d{4})(?:/| or )(\d{1,3})\b", said):
        years.add(end[0][: 4 - len(end[1])] + end[1])
    for name, at in (("from", 0), ("to", 1)):
        columns = {f[1][at] for f in found if f[1][at]}
        for year in re.findall(r"\d{4}", row[name]):
            # "after 1575" is 1576 and later, "before 1700" 1699 and earlier
            beside = {str(int(year) - 1), str(int(year) + 1)} if ".." in row[name] else set()
            if not ({year} | beside) & years:
                out.append(f"{name} {row[name]}: no record says {year}")
            if re.fullmatch(r"\d{4}", row[name]) and columns and year not in columns:
                out.append(f"{name} {row[name]}: the columns have {sorted(columns)}")
    if row["from"][:4].isdigit() and int(row["from"][:4]) >= 1930:
        out.append("born in 1930 or later")
    return out


def wrong_name(row, sources):
    own = set(letters(row["name"]))
    every = [set(letters(f[2])) for f in records(row, sources)]
    return [] if row["source"] == "from memory" or any(own <= e for e in every) else [f"no record has the name {row['name']}"]


def shape(row):
    words = letters(row["name"])
    return words[-1], words[0][0]


def year(text):
    found = re.search(r"\d{4}", text)
    return int(found[0]) if found else None


def doubles(row, near):
    """* `near`: rows by the shape of their names and by their authorities' numbers."""
    out = []
    for other in near[shape(row)]:
        pairs = [(year(row[k]), year(other[k])) for k in ("from", "to")]
        if other is not row and all(a and b and abs(a - b) <= 2 for a, b in pairs):
            out.append(f"may be the same as {other['entry']}")
    for key in ("ULAN", "Wikidata"):
        out += [f"has the number of {o['entry']}" for o in near[key, row[key]] if row[key] and o is not row]
    return out


def grouped(rows):
    near = collections.defaultdict(list)
    for r in rows:
        for key in (shape(r), ("ULAN", r["ULAN"]), ("Wikidata", r["Wikidata"])):
            near[key].append(r)
    return near


STYLE = set("inc ltd co company and gallery galleries s".split())


def wrong_firm(row, lines):
    """Years and name of a firm against the lines of provenance that it names."""
    out = []
    of = [lines[a] for a in row["seen in"].split(" and ")[0].split(" ") if a in lines]
    text = " ".join(of)
    names = [set(letters(n)) - STYLE for n in [row["name"], *row["variants"].split("|")] if n]
    if not all(any(n <= set(letters(t)) for n in names) for t in of):
        out.append("a line doesn't name the firm")
    if row["town"] and of and row["town"] != "New York" and row["town"] not in text:
        out.append("no line names the town")
    if row["numbers"] or " more" in row["seen in"]:
        return out
    return out + [f"no line has {y}" for y in (row["seen from"], row["seen to"]) if y and y not in text]


def main():
    parser = argparse.ArgumentParser()
    for name in ("tate", "constituents", "provenance"):
        parser.add_argument(f"--{name}", required=True)
    parser.add_argument("--rows", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("folder")
    a = parser.parse_args()
    sources = {"Tate": table(a.tate, "id"), "NGA": table(a.constituents, "constituentid")}
    lines = {}
    with open(a.provenance, encoding="utf-8-sig", newline="") as file:
        for r in csv.DictReader(file):
            lines[r["accession"]] = lines.get(r["accession"], "") + " " + r["provenance"]
    for name in ("artists", "persons", "dealers", "auctions"):
        above = os.pardir if name == "artists" else ""
        rows = listed(os.path.join(a.folder, above, f"{name}.csv"))
        some = random.Random(a.seed).sample(rows, min(a.rows, len(rows)))
        people = name in ("artists", "persons")
        faults = [(r, (wrong_dates(r, sources) if people else wrong_firm(r, lines))) for r in some]
        named = [(r, wrong_name(r, sources)) for r in some if people]
        near = grouped(rows) if people else {}
        twice = [(r, doubles(r, near)) for r in some if people]
        unsourced = [r for r in rows if not r["source"]]
        for r, said in faults + named + twice:
            for s in said:
                print(f"{name}, {r['entry']}: {s}")
        tally = [sum(1 for _, f in each if f) for each in (faults, named, twice)]
        print(f"{name}: {len(some)} of {len(rows)} rows; wrong years or lines {tally[0]}, wrong names {tally[1]}, "
              f"may be doubles {tally[2]}; rows without a source, of all {len(unsourced)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
