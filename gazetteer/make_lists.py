"""Makes artists.csv and the lists of open/ from museums' open data: artists, persons and firms.

    python3 make_lists.py --tate artist_data.csv --constituents constituents.csv --altnames constituents_altnames.csv \
        --provenance provenance.csv --year 2026 open

Inputs, all dedicated to the public domain (CC0 1.0), columns as published:
  --tate          Tate, "collection" data set: id, name, dates, yearOfBirth, yearOfDeath, placeOfBirth, placeOfDeath, url
  --constituents  National Gallery of Art, Washington, "opendata": constituentid, ulanid, preferreddisplayname,
                  forwarddisplayname, lastname, displaydate, artistofngaobject, beginyear, endyear, nationality,
                  constituenttype, wikidataid
  --altnames      the same: constituentid, displayname, nametype
  --provenance    Carnegie Museum of Art, "collection": accession, provenance
Rows of artists.csv beside this script whose source is "from memory" are merged in: what they say stays as it is, and they
come first.

Nobody who may be living is listed: a person needs a birth before 1930 and, without a recorded death, one of at least
AGE years before --year; or a death or first activity early enough to say the same. Firms carry the years in which a
line of provenance shows them at work: `from` and `to` are the first and the last year seen, marked `?`, since a firm
existed longer than it is seen. Donors and private owners don't become firms.
"""

import argparse
import collections
import csv
import os
import re
import sys

from open_names import (ALIKE, PARTICLES, alike, fold, forward, given_names, initials_of, latin, same_given, slug, surname, titled,
                        untitled)
from open_years import Life
import open_firms

BORN_BEFORE = 1930
# No one is known to have lived longer than 122 years; 110 leaves out everybody who may be living
AGE = 110
# The gallery in Washington was founded in 1937: who died before that year gave it nothing in person
FOUNDED = 1937
NGA = "National Gallery of Art, Washington, opendata, CC0"
TATE = "Tate, collection data, CC0"
COLUMNS = ["entry", "name", "variants", "trade", "address", "town", "from", "to", "source", "note"]
EXTRA = ["nationality", "born at", "died at", "ULAN", "Wikidata", "numbers", "link"]
# Kinds of other names that are names of the same person
OTHER = {"Variant", "Full Name", "Married Name", "Maiden Name", "Nickname/Pseudonym", "Original Name", "Birth Name",
         "Variant Index Name"}


class Person:
    """One person as one source has it, or several made one."""

    def __init__(self, name, last, life, source, number):
        self.name, self.last, self.life = name, last, life
        self.sources, self.numbers = [source], [number]
        self.others, self.said = [], [(number, life.said)]
        self.ulan = self.wikidata = self.nationality = self.born_at = self.died_at = self.link = ""
        self.given = given_names(name, last)
        self.key = fold(surname(last)).split(" ")[-1]
        self.starter = None

    def take(self, other):
        """Makes another record of the same person part of this one; what differs is kept."""
        for name in [other.name, *other.others]:
            self.others.append(name)
        self.sources += [s for s in other.sources if s not in self.sources]
        self.numbers += other.numbers
        self.said += other.said
        for field in ("ulan", "wikidata", "nationality", "born_at", "died_at", "link"):
            if not getattr(self, field):
                setattr(self, field, getattr(other, field))
        self.life = self.life.filled(other.life)


def rows(path):
    with open(path, encoding="utf-8-sig", newline="") as file:
        yield from csv.DictReader(file)


def from_tate(path):
    for r in rows(path):
        life = Life.of(r["dates"], r["yearOfBirth"], r["yearOfDeath"])
        # Several persons, schools and the like have no single surname or several births
        if "," not in r["name"] and life.group or "school" in fold(r["name"]) or life.group:
            continue
        last = r["name"].split(",")[0]
        p = Person(untitled(forward(r["name"])), last, life, TATE, f"Tate {r['id']}")
        if titled(forward(r["name"])):
            p.others.append(forward(r["name"]))
        p.born_at, p.died_at, p.link = r["placeOfBirth"], r["placeOfDeath"], r["url"]
        yield p


def other_names(path):
    found = collections.defaultdict(list)
    for r in rows(path):
        if r["nametype"] in OTHER and r["displayname"] and latin(r["displayname"]):
            found[r["constituentid"]].append(forward(r["displayname"]))
    return found


def from_washington(path, others):
    """Artists, and the other persons."""
    artists, persons = [], []
    for r in rows(path):
        if r["constituenttype"] != "individual":
            continue
        name = r["forwarddisplayname"] or forward(r["preferreddisplayname"])
        last = r["lastname"] or r["preferreddisplayname"].split(",")[0]
        life = Life.of(r["displaydate"], r["beginyear"], r["endyear"])
        if not latin(name) or life.group:
            continue
        p = Person(untitled(name), last, life, NGA, f"NGA {r['constituentid']}")
        if titled(name):
            p.others.append(name)
        p.others += others[r["constituentid"]]
        p.ulan, p.wikidata, p.nationality = r["ulanid"], r["wikidataid"], r["nationality"]
        p.born_at = life.born_at
        (artists if r["artistofngaobject"] == "1" else persons).append(p)
    return artists, persons


def same(a, b):
    """Whether two records are of one person: an authority's number says so, else dates first, then names."""
    if a.ulan and a.ulan == b.ulan or a.wikidata and a.wikidata == b.wikidata:
        return True
    told = a.life.agrees(b.life)
    if fold(a.name) == fold(b.name):
        return bool(told) or " " in fold(a.name) and of_one_country(a, b) and a.life.nearly(b.life)
    if told == "exact" and same_given(a.given, b.given, "both") and alike(a.key, b.key) >= ALIKE:
        return True
    return bool(told) and a.key == b.key and same_given(a.given, b.given, told)


def of_one_country(a, b):
    """Whether nothing speaks against it."""
    there = [{"English": "British", "Scottish": "British", "Welsh": "British"}.get(n, n) for n in
             (a.nationality, b.nationality)]
    return "" in there or there[0] == there[1]


def merge(people):
    """Records of one person made one, in order; how many were."""
    kept, blocks, merged = [], collections.defaultdict(list), 0
    for p in people:
        names = {p.key} | {fold(n).split(" ")[-1] for n in p.others}
        blocked = [("u", p.ulan), ("w", p.wikidata), *(("n", n) for n in names)]
        keys = [k for k in blocked if k[1]]
        if p.life.first("born") and p.life.first("died"):
            keys.append(("d", (p.life.first("born"), p.life.first("died"))))
        near = dict.fromkeys(q for k in keys for q in blocks[k])
        found = next((q for q in near if same(q, p) or related(q, p)), None)
        if found:
            found.take(p)
            merged += 1
        else:
            kept.append(p)
        for k in keys:
            blocks[k].append(found or p)
    return kept, merged


def related(a, b):
    """Whether another name of one is the name of the other, both dates being the same years."""
    if a.life.agrees(b.life) not in ("both", "exact"):
        return False
    names = {fold(n) for n in [a.name, *a.others]}
    return any(fold(n) in names for n in [b.name, *b.others])


def may_live(p, year):
    """Whether nothing shows that a person was born before BORN_BEFORE and has died."""
    born, died, active = p.life.first("born"), p.life.first("died"), p.life.first("active")
    if born:
        return born >= BORN_BEFORE or not died and born > year - AGE
    if died:
        # Nobody is told to have worked before the age of ten
        return died > BORN_BEFORE + 10
    return not active or active > year - AGE


def variants(p, given):
    """Other names that no rule of the weighing makes of the name: initials only of given names that aren't among
    those that it shortens itself."""
    out, seen = [], {fold(p.name)}
    names = list(p.others)
    # "Antonio Averlino, called Filarete" and "William Cook, of Plymouth" without what follows, and what they were called
    head, _, tail = p.name.partition(",")
    if tail:
        names += [head, tail.split("called ", 1)[-1]] if "called " in tail else [head]
    plain = not re.search(r"[()\[\]?,]", p.name)
    if plain and any(fold(g) not in given and len(fold(g)) > 1 for g in p.given):
        names.append(initials_of(p.given, p.name))
    for name in names:
        name = name.replace("|", " ").strip()
        bare = fold(name)
        # One word names many: a surname alone is no form of its own
        alone = " " not in bare and " " in fold(p.name) and f"called {bare}" not in fold(p.name)
        if bare and bare not in seen and not alone and len(bare) < 80:
            seen.add(bare)
            out.append(name)
    return "|".join(out)


def keys_of(people):
    """A key for each that stays on fresher files: name and first known year, with the number where that isn't enough."""
    bases = []
    for p in people:
        year = p.life.first("born") or p.life.first("died") or p.life.first("active")
        bases.append("-".join(filter(None, [slug(p.last), slug(" ".join(p.given)), str(year or "")])))
    twice = collections.Counter(bases)
    return [b if twice[b] == 1 else f"{b}-{slug(p.numbers[0])}" for b, p in zip(bases, people)]


def row_of(p, key, trade, given):
    """The cells of a person."""
    note = "; ".join(f"{number}: {said}" for number, said in p.said if said)
    if p.life.active and not (p.life.born or p.life.died):
        note += "; active in these years, life dates not known"
    return [key, p.name, variants(p, given), trade, "", "", str(p.life.born or ""), str(p.life.died or ""),
            "; ".join(p.sources), note, *extra(p)]


def extra(p):
    return [p.nationality, p.born_at, p.died_at, p.ulan, p.wikidata, "; ".join(p.numbers), p.link]


def from_memory(path):
    """Rows that stand there from memory, without what the sources gave them."""
    with open(path, encoding="utf-8", newline="") as file:
        lines = [line for line in file if not line.startswith("#")]
    return [cells[:len(COLUMNS)] for cells in csv.reader(lines) if cells[COLUMNS.index("source")] == "from memory"]


def with_starter(path, people):
    """Rows from memory as they stand, with the numbers of those who are found in the sources; the rest."""
    out, left, differing = [], list(people), []
    for cells in from_memory(path):
        life = Life.of_edtf(cells[6], cells[7])
        mine = Person(untitled(cells[1]), surname_of(cells[1]), life, cells[8], cells[0])
        mine.others = cells[2].split("|") if cells[2] else []
        found = next((p for p in left if same_as_starter(mine, p)), None)
        if not found:
            out.append(cells + [""] * len(EXTRA))
            continue
        left.remove(found)
        if not life.agrees(found.life):
            differing.append((cells[0], cells[6], cells[7], found.said))
        out.append(cells + extra(found))
    return out, left, differing


def same_as_starter(mine, p):
    """Facts set down from memory may be some years off: names, and years that don't differ by more than five."""
    names = {fold(n) for n in [p.name, *p.others]}
    named = fold(mine.name) in names or mine.key == p.key and same_given(mine.given, p.given, "both")
    return named and mine.life.near(p.life, 5)


def surname_of(name):
    words = name.split(" ")
    at = next((i for i, w in enumerate(words) if i and fold(w) in PARTICLES), len(words) - 1)
    return " ".join(words[at:])


def known_given(path):
    """Given names that the weighing shortens by rule."""
    text = open(path, encoding="utf-8").read().split("pub const GIVEN", 1)[1].split("];", 1)[0]
    return {w for part in text.split('"')[1::2] for w in part.split(" ") if w}


def write(path, role, header, body):
    with open(path, "w", encoding="utf-8", newline="") as file:
        file.write(f"# role: {role}\n")
        out = csv.writer(file, lineterminator="\n")
        out.writerow(header)
        out.writerows(body)
    print(f"{path}: {len(body)} rows", file=sys.stderr)


def people_lists(a, here):
    """The rows of artists and of persons."""
    given = known_given(os.path.join(here, "..", "src", "proposals", "vocabulary.rs"))
    artists, persons = from_washington(a.constituents, other_names(a.altnames))
    tate = list(from_tate(a.tate))
    people, merged = merge(artists + tate)
    listed = [p for p in people if not may_live(p, a.year)]
    print(f"artists: {len(artists)} + {len(tate)} records, {merged} merged, {len(people) - len(listed)} of persons who "
          "may be living or have no dates left out", file=sys.stderr)
    first, rest, differing = with_starter(os.path.join(here, "artists.csv"), listed)
    for key, born, died, said in differing:
        print(f"starter row {key} has {born}-{died}, the sources {said}", file=sys.stderr)
    taken = {cells[0] for cells in first}
    keys = [k if k not in taken else f"{k}-{slug(p.numbers[0])}" for k, p in zip(keys_of(rest), rest)]
    body = sorted((row_of(p, k, "artist", given) for k, p in zip(keys, rest)), key=lambda r: r[0])
    noted, _ = merge([p for p in persons if p.life.last("died") and p.life.last("died") < FOUNDED])
    known = {(fold(r[1]), r[6], r[7]) for r in body}
    noted = [p for p in noted if (fold(p.name), str(p.life.born or ""), str(p.life.died or "")) not in known]
    trade = "owner, sitter or other person in the records of pictures"
    others = sorted(row_of(p, k, trade, given) for k, p in zip(keys_of(noted), noted))
    return first + body, others


def main():
    here = os.path.dirname(os.path.abspath(__file__))
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    for name in ("tate", "constituents", "altnames", "provenance"):
        parser.add_argument(f"--{name}", required=True)
    parser.add_argument("--year", type=int, required=True, help="year in which the lists are made")
    parser.add_argument("out")
    a = parser.parse_args()
    os.makedirs(a.out, exist_ok=True)
    artists, persons = people_lists(a, here)
    write(os.path.join(here, "artists.csv"), "person", COLUMNS + EXTRA, artists)
    write(os.path.join(a.out, "persons.csv"), "person", COLUMNS + EXTRA, persons)
    for name, (role, body) in open_firms.lists(list(rows(a.provenance)), list(rows(a.constituents)), a.year).items():
        write(os.path.join(a.out, f"{name}.csv"), role, COLUMNS + open_firms.EXTRA, body)


if __name__ == "__main__":
    main()
