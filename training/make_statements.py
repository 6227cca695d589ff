"""Made marks with their statements and made lists, for fitting and measuring `src/statements`.

    python make_statements.py OUT --sets 24 --marks 400 --seed 1 --fold 0 --part train

Writes OUT/NN/*.csv (lists) and OUT/NN/marks.jsonl. A wording (a template of a line, a heading's phrase, a phrase of noise) belongs to
one of five folds by a hash; `train` leaves out those of --fold, `test` takes them wherever there are some. Names are invented anew from
each seed. A mark: {"kind": name or null, "lines": [[[text, tag, statement, glued], ...], ...], "statements": [{role, value, list,
entry}]}; a tag is "O" (states nothing), "H:role" (heading) or a role.
"""

import argparse
import csv
import json
import os
import random
import re
import zlib

import statement_words as W
from statement_words import pick

FOLDS = 5
POST = ["R.A.", "A.R.A.", "R.S.A.", "R.I.", "R.W.S.", "R.B.A.", "R.H.A.", "A.R.S.A.", "RA", "R.O.I."]


class Make:
    """Random choices of one set, with the wordings of its part."""

    def __init__(self, seed, fold, part):
        self.r, self.fold, self.part = random.Random(seed), fold, part

    def p(self, chance):
        return self.r.random() < chance

    def wording(self, key, options):
        """One of the wordings that belong to this part."""
        held = lambda o: zlib.crc32(f"{key}|{o}".encode()) % FOLDS == self.fold
        mine = [o for o in options if held(o) == (self.part == "test")]
        if self.part == "test" and self.p(0.15):
            mine = options
        return pick(self.r, mine or options)

    # Names

    def surname(self, lang="en"):
        r = self.r
        if lang != "en":
            f = W.FOREIGN[lang]
            s = pick(r, f["a"]) + pick(r, f["b"])
            return s.replace("\u00a0", " ").strip()
        if self.p(0.18):
            return pick(r, W.COMMON)
        s = pick(r, W.FIRST) + pick(r, W.SUR)
        return s + "-" + pick(r, W.FIRST) + pick(r, W.SUR) if self.p(0.02) else s

    def town_name(self):
        r = self.r
        t = pick(r, W.FIRST) + pick(r, W.TOWN)
        k = r.random()
        if k < 0.05:
            return f"{pick(r, ['Great', 'Little', 'Market', 'Old', 'North', 'Nether', 'Castle', 'St', 'Kirkby', 'Long'])} {t}"
        if k < 0.10:
            return t + pick(r, ["-on-Sea", "-upon-" + pick(r, W.FIRST), " Regis", " St Mary", "-le-Moor", " Spa", "-under-Hill"])
        return t

    def given(self, lang="en"):
        return pick(self.r, W.GIVEN if lang == "en" else W.FOREIGN[lang]["given"])

    def person(self, lang="en"):
        first = [self.given(lang)]
        if self.p(0.25):
            first.append(self.given(lang) if self.p(0.7) else self.surname("en"))
        return " ".join(first), self.surname(lang)

    def shown(self, first, last, lang="en"):
        """A person's name as a mark has it."""
        r, k = self.r, self.r.random()
        names = first.split()
        if k < 0.42:
            return f"{first} {last}"
        if k < 0.78:
            gap = pick(r, [" ", " ", ""])
            dot = pick(r, [".", ".", ".", ""])
            return (gap if dot else " ").join(n[0] + dot for n in names) + " " + last
        if k < 0.86 and names[0] in W.ABBREVIATED:
            return " ".join([pick(r, W.ABBREVIATED[names[0]])] + names[1:] + [last])
        if k < 0.93 and len(names) > 1:
            return f"{names[0]} {names[1][0]}. {last}"
        return f"{first} {last}"

    def courtesy(self, first, last, lang):
        r = self.r
        name = self.shown(first, last, lang)
        before = dict(en=["Mr", "Mr.", "Mrs", "Mrs.", "Miss", "Sir", "Lady", "Lord", "The Rev.", "Revd", "Dr.", "Capt.", "Col.", "The Hon."], fr=["M.", "Mme", "Mlle", "Monsieur", "Madame"], de=["Herr", "Frau", "Frl.", "Dr."], nl=["Mevr.", "De Heer", "Dhr.", "Jhr."], it=["Sig.", "Signora", "Signor", "Sig.ra"])[lang]
        k = r.random()
        if k < 0.45:
            b = pick(r, before)
            return f"{b} {pick(r, [name, last, last])}"
        if k < 0.65 and lang == "en":
            return name + pick(r, [" Esq.", ", Esq.", " Esqr", ", Esq", " Esq"])
        if k < 0.72 and lang == "en":
            return pick(r, ["The Earl of ", "The Duke of ", "The Marquess of ", "Lord ", "The Dowager Lady ", "Viscount "]) + last
        return name

    # Lists

    def firm_name(self, lang="en"):
        r = self.r
        first, last = self.person(lang)
        first = first.split()[0]
        k = r.random()
        if lang != "en":
            forms = dict(fr=[f"{first} {last}", f"{first[0]}. {last} et Fils", f"Maison {last}", f"{last} & Cie", f"{last} Frères", f"Veuve {last}", f"Galerie {last}"],
                de=[f"{first} {last}", f"Gebr. {last}", f"{last} & Sohn", f"{last} & Co.", f"Kunsthandlung {last}", f"Galerie {last}", f"{first[0]}. {last} Nachf."],
                nl=[f"{first[0]}. {last}", f"Firma {last}", f"{last} & Zonen", f"Gebroeders {last}", f"Kunsthandel {last}", f"Wed. {last}"],
                it=[f"{first} {last}", f"Fratelli {last}", f"Ditta {last}", f"{last} e Figli", f"Galleria {last}"])[lang]
            return pick(r, forms)
        if k < 0.38:
            return f"{first} {last}"
        if k < 0.55:
            return f"{first} {last} & {pick(r, ['Son', 'Sons', 'Co'])}"
        if k < 0.65:
            return f"{last} & {self.surname()}"
        if k < 0.75:
            return f"{last} {pick(r, ['Brothers', '& Co', '& Sons', '& Co Ltd', '& Son', 'Ltd'])}"
        if k < 0.82:
            return f"{first[0]}. & {self.given()[0]}. {last}"
        if k < 0.9:
            return f"{first[0]}. {self.given()[0]}. {last}"
        return pick(r, [f"{last}, {self.surname()} & {self.surname()}", f"Mrs {first} {last}", f"The {last} Gallery", f"{first} {last} junior", f"{last} Gallery", f"{last} Galleries"])

    def variants(self, name):
        """Other forms as a list has them."""
        words = name.replace("&", "and").split()
        out = []
        if words[0] in W.GIVEN:
            out.append(name.replace(words[0], words[0][0] + ".", 1))
        if "&" in name and self.p(0.4):
            out.append(name.replace("&", "and"))
        return [o for o in out if self.p(0.7)]

    def street(self, lang="en"):
        r = self.r
        n = str(r.randrange(1, 180)) + ("" if self.p(0.95) else pick(r, ["a", "A", " & " + str(r.randrange(181, 190))]))
        if lang != "en":
            f = W.FOREIGN[lang]
            s = pick(r, f["street"]).format(pick(r, f["sw"]).replace("\u00a0", " "))
            s = s[0].upper() + s[1:] if lang != "fr" and self.p(0.9) else s
            return f"{n}{pick(r, [', ', ' '])}{s}" if lang == "fr" else f"{s}{pick(r, [' ', ', '])}{n}"
        if self.p(0.12):
            return f"{n} {pick(r, W.ONEWORD)}"
        s = pick(r, W.STREETWORDS) if self.p(0.6) else self.surname()
        if self.p(0.08):
            s = pick(r, ["Great ", "Upper ", "Little ", "Lower ", "Old ", "New "]) + s
        if self.p(0.07):
            s = "St " + pick(r, "John's James's Mary's Ann's Peter's Martin's".split())
        s = f"{s} {pick(r, W.STREETS)}"
        if self.p(0.08):
            return f"{s}"
        return f"{n} {s}"

    def towns(self, n):
        rows, seen = [], set()
        for _ in range(n):
            if self.p(0.6):
                t = pick(self.r, W.TOWN_ROWS)
                row = dict(name=t["name"], variants=t["variants"], trade="town", address=t["address"], town=t["town"])
            else:
                name, county = self.town_name(), pick(self.r, ["Kent", "Westmorland", "Lancashire", "Suffolk", "Devon", "Perthshire", "Yorkshire", "Co. Cork", "Salop"])
                row = dict(name=name, variants=f"{name}, {county}", trade="town", address=county, town=name)
            if (row["name"], row["address"]) not in seen:
                seen.add((row["name"], row["address"]))
                rows.append(row)
        return rows

    def some_town(self, towns, lang="en"):
        if lang != "en":
            return pick(self.r, W.FOREIGN[lang]["town"])
        k = self.r.random()
        return "London" if k < 0.18 else pick(self.r, towns)["name"] if k < 0.7 and towns else self.town_name()

    def firms(self, n, trade, towns):
        rows = []
        while len(rows) < n:
            lang = "en" if self.p(0.85) else pick(self.r, ["fr", "de", "nl", "it"])
            name = self.firm_name(lang)
            if rows and self.p(0.1):
                # Rivals that share a surname or a forename
                other = pick(self.r, rows)["name"].split()
                name = " ".join([self.given()] + other[1:]) if other[0] in W.GIVEN else name
            town, year = self.some_town(towns, lang), self.r.randrange(1760, 1935)
            trades = W.trades(trade, lang)
            for _ in range(pick(self.r, [1, 1, 1, 2, 3])):
                to = year + self.r.randrange(2, 28)
                loose = lambda y: pick(self.r, [str(y), str(y), str(y), f"{y}~", f"{str(y)[:3]}X", ""])
                rows.append(dict(name=name, variants="|".join(self.variants(name)), trade=pick(self.r, trades), address=self.street(lang) if self.p(0.93) else "", town=town, **{"from": loose(year), "to": loose(to)}, lang=lang, years=(year, to)))
                year = to
        return rows[:n]

    def society(self, towns, lang):
        r, t = self.r, self.some_town(towns, lang)
        forms = dict(
            en=[f"{t} Society of Artists", f"Royal {t} Academy", f"{t} Academy of Arts", f"{t} Art Club", f"{t} Institute of Fine Arts", f"{t} Autumn Exhibition", f"{self.surname()} Gallery", f"Society of {self.surname()} Artists", f"Royal Society of {t} Painters", f"{t} Fine Art Institution", f"{t} Sketching Club", f"Northern Art Union of {t}",
                f"{t} International Exhibition", f"{t} Corporation Art Gallery", f"Guild of {pick(r, ['Water Colour', 'Lady', 'Marine', 'Sporting'])} Painters", f"{t} Art Treasures Exhibition", f"New {self.surname()} Society", f"{self.surname()} Galleries", f"The {pick(r, W.THINGS)} Club", f"{t} Jubilee Exhibition", f"{t} Literary and Philosophical Institution", f"{t} Art Union", f"Society for the Encouragement of Art in {t}"],
            fr=[f"Salon de {t}", f"Société des Amis des Arts de {t}", f"Cercle Artistique de {t}", f"Société des Aquarellistes de {t}", "Société des Artistes Indépendants", f"Salon du {pick(r, W.FOREIGN['fr']['sw'])}"],
            de=[f"Kunstverein {t}", f"{t}er Kunstausstellung", f"Künstlerbund {t}", f"Akademie der Künste {t}", f"Verein {t}er Künstler", f"Secession {t}"],
            nl=[f"Maatschappij Arti {t}", f"Kunstkring {t}", f"Genootschap {self.surname('nl')}", f"Teekengenootschap {t}"],
            it=[f"Promotrice di {t}", f"Accademia di {t}", f"Circolo Artistico di {t}", f"Società degli Amatori di {t}"])[lang]
        return pick(r, forms), t

    def societies(self, n, towns):
        rows = []
        while len(rows) < n:
            lang = "en" if self.p(0.8) else pick(self.r, ["fr", "de", "nl", "it"])
            name, town = self.society(towns, lang)
            year = self.r.randrange(1770, 1920)
            caps = [w[0] for w in re.findall(r"[A-Z]\w+", name)]
            short = ".".join(caps) + "." if len(caps) > 2 and self.p(0.6) else ""
            for _ in range(pick(self.r, [1, 1, 2])):
                to = year + self.r.randrange(4, 60)
                rows.append(dict(name=name, variants=short, trade=pick(self.r, ["exhibiting society", "exhibiting society", "gallery", "loan or international exhibition"]), address=self.street() if self.p(0.7) else "", town=town, **{"from": str(year), "to": str(to) if self.p(0.9) else ""}, lang=lang, years=(year, to)))
                year = to
        return rows[:n]

    def artists(self, n):
        rows = []
        for _ in range(n):
            lang = "en" if self.p(0.75) else pick(self.r, ["fr", "de", "nl", "it"])
            first, last = self.person(lang)
            year = self.r.randrange(1720, 1905)
            variants = f"{first[0]}. {last}" if self.p(0.4) else ""
            rows.append(dict(name=f"{first} {last}", variants=variants, trade=pick(self.r, ["painter", "landscape painter", "animal painter", "portrait painter", "watercolour painter", "marine painter"]), address="", town="", **{"from": str(year), "to": str(year + self.r.randrange(25, 85))}, lang=lang, years=(year + 18, year + 60), first=first, last=last))
        return rows

    def lists(self):
        """All lists of a set: name -> (role, rows)."""
        n = lambda lo, hi: int(10 ** self.r.uniform(lo, hi))
        towns = self.towns(n(1.3, 3.2))
        out = {"towns": ("place", towns), "framers": ("maker", self.firms(n(1.2, 3.3), "maker", towns)), "colourmen": ("maker", self.firms(n(1.0, 2.6), "maker", towns)),
            "retailers": ("seller", self.firms(n(1.0, 2.6), "seller", towns)), "sale_rooms": ("sale", self.firms(n(0.8, 2.0), "sale", towns)), "exhibitions": ("show", self.societies(n(1.0, 2.3), towns)), "artists": ("person", self.artists(n(1.2, 3.0)))}
        if self.p(0.25):
            out = {pick(self.r, ["my_", "north_", "old_", "list_"]) + k: v for k, v in out.items()}
        if self.p(0.2):
            out.pop(pick(self.r, list(out)))
        for name, (role, rows) in out.items():
            for i, row in enumerate(rows):
                row["entry"] = f"{name[:3]}-{i}"
        return out


def damaged(word, r, letters, misread):
    """A word with letters lost, unclear or misread, by the editorial signs."""
    out, i = "", 0
    lost = 0
    n = len(word)
    a = r.randrange(n)
    b = min(n, a + max(1, int(r.random() * letters * n + 0.7)))
    for i, c in enumerate(word):
        if not c.isalnum():
            out += f"[{'.' * lost}]" * (lost > 0) + c
            lost = 0
            continue
        if a <= i < b:
            k = r.random()
            if k < 0.55:
                lost += 1
                continue
            out += f"[{'.' * lost}]" * (lost > 0)
            lost = 0
            out += c + "\u0323" if k < 0.8 else pick(r, misread.get(c.lower(), c)) + ("\u0323" if r.random() < 0.4 else "")
        else:
            out += f"[{'.' * lost}]" * (lost > 0) + c
            lost = 0
    return out + f"[{'.' * lost}]" * (lost > 0)


def look_alikes():
    """What each letter is read as, by the counts of `confusions.csv`."""
    out = {}
    path = os.path.join(W.HERE, "../src/proposals/confusions.csv")
    for row in csv.DictReader(open(path, encoding="utf8")):
        if row["read"] != row["true"]:
            out.setdefault(row["true"], []).extend([row["read"]] * (int(row["made"]) + int(row["real"])))
    return out


def main():
    a = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    a.add_argument("out")
    a.add_argument("--sets", type=int, default=24)
    a.add_argument("--marks", type=int, default=400)
    a.add_argument("--seed", type=int, default=1)
    a.add_argument("--fold", type=int, default=0)
    a.add_argument("--part", choices=["train", "test"], default="train")
    a.add_argument("--damage", type=float, help="share of long words damaged, the same for all; else mixed")
    a = a.parse_args()
    from statement_marks import Mark
    misread = look_alikes()
    for k in range(a.sets):
        m = Make(a.seed * 1000 + k, a.fold, a.part)
        lists = m.lists()
        folder = f"{a.out}/{k:02}"
        os.makedirs(folder, exist_ok=True)
        for name, (_, rows) in lists.items():
            with open(f"{folder}/{name}.csv", "w", newline="", encoding="utf8") as f:
                w = csv.DictWriter(f, "entry name variants trade address town from to source note".split(), extrasaction="ignore", restval="")
                w.writeheader()
                w.writerows(rows)
        with open(f"{folder}/marks.jsonl", "w", encoding="utf8") as f:
            for _ in range(a.marks):
                mark = Mark(m, lists)
                share = a.damage if a.damage is not None else pick(m.r, [0, 0, 0, 0.06, 0.125, 0.125, 0.25, 0.4])
                f.write(json.dumps(mark.record(share, misread, damaged), ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()
