"""One made mark: a plan of lines with slots, filled from the lists or with what is on none, then set, broken and damaged.

In a line `{role}` is a statement (`{town2}`: a second one of that role), `<role>` a heading, all else is wording that states nothing.
"""

import re

import statement_words as W
from make_statements import POST
from statement_plans import PLANS
from statement_words import pick

COURTESY = r"^(?:(?:Messrs|Mess\^rs|Mr|Mrs|Miss|MM|Mme|Mlle|Monsieur|Madame|Herrn|Herr|Frau|Frl|Mevr|Mej|Mevrouw|De Heer|Dhr|Sig\.ra|Signora|Signor|Sig)\b\.?\s+)+"
MONTHS = dict(en="January February March April May June July August September October November December".split(), fr="janvier février mars avril mai juin juillet août septembre octobre novembre décembre".split(),
    de="Januar Februar März April Mai Juni Juli August September Oktober November Dezember".split(), nl="Januari Februari Maart April Mei Juni Juli Augustus September October November December".split(), it="gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre".split())


def plain_name(text):
    """Without courtesies and end punctuation."""
    text = re.sub("^the ", "", re.sub(COURTESY, "", text, flags=re.I), flags=re.I)
    return re.sub(r",?\s*Esqr?\.?$", "", text).strip(" ,.;:")


class Mark:
    def __init__(self, make, lists):
        self.m, self.r, self.lists, self.known = make, make.r, lists, {}
        m, r = self.m, self.r
        self.lang = "en" if m.p(0.68) else pick(r, ["fr", "de", "nl", "it"])
        self.year = r.randrange(1790, 1950)
        self.kind, lines = self.plan()
        if m.p(0.07):
            lines = lines + self.plan()[1]
        if m.p(0.12):
            lines.insert(r.randrange(len(lines) + 1), self.noise())
        if len(lines) > 2 and m.p(0.06):
            lines.pop(r.randrange(len(lines)))
        self.shown = "never"
        self.statements, self.lines, self.within = [], [], []
        self.look = pick(r, ["as", "as", "as", "upper", "mixed", "values lower"])
        for line in lines:
            self.lines.extend(self.fill(line))
        self.lines = [l for l in self.lines if l]
        if m.p(0.12) and len(self.lines) > 1:
            at = r.randrange(len(self.lines) - 1)
            self.lines[at : at + 2] = [self.lines[at] + self.lines[at + 1]]
        if m.p(0.08):
            self.lines = [sum(self.lines, [])]

    def plan(self):
        """Kind of mark and lines, of one of the plans."""
        weights = [p[1] for p in PLANS]
        name = self.r.choices(PLANS, weights)[0]
        return name[0], name[2](self)

    def say(self, key, *options):
        """A wording of this part; options parted by `|` too."""
        return self.m.wording(key, [o for group in options for o in group.split("|")])

    def noise(self):
        m, r = self.m, self.r
        if m.p(0.15):
            return " ".join(pick(r, W.SCRAP) for _ in range(r.randrange(2, 9)))
        if self.lang == "en" and m.p(0.25):
            return " ".join(pick(r, part) for part in W.ADVERT).strip()
        return self.say("noise" + self.lang, *W.NOISE[self.lang])

    # What slots are filled with

    def rows(self, role):
        return [(name, row) for name, (r, rows) in self.lists.items() if r == role for row in rows]

    def firm(self, key, role):
        """A firm (maker, seller, sale) or society (show): on a list, or like one that is, or like none."""
        if key in self.known:
            return self.known[key]
        m, r = self.m, self.r
        rows = self.rows(role)
        if m.p(0.6) and self.lang != "en":
            rows = [x for x in rows if x[1]["lang"] == self.lang] or rows
        list_, row = pick(r, rows) if rows else (None, None)
        k = r.random()
        if row is None or k < 0.24:
            lang = self.lang
            towns = [x[1] for x in self.rows("place")]
            town = m.some_town(towns, lang)
            name, town = m.society(towns, lang) if role == "show" else (m.firm_name(lang), town)
            row = dict(name=name, trade=pick(r, W.trades(role, lang)), address=m.street(lang), town=town, lang=lang, years=(self.year - 9, self.year + 9))
            list_ = None
        elif k < 0.34 and role != "show":
            row = dict(row, name=self.near(row["name"]), address=m.street(row["lang"]) if m.p(0.8) else row["address"], town=row["town"] if m.p(0.4) else m.town_name())
            list_ = None
        a, b = row["years"]
        if key in ("maker", "dealer", "sale", "exhibition") and b >= a:
            self.year = r.randrange(a, b + 1)
        names = {x[1]["name"] for x in rows}
        if list_ is None and row["name"] in names:
            row = dict(row, name=row["name"] + "e")
        entry = dict(row, list=list_, entry=row["entry"] if list_ else None)
        self.known[key] = entry
        return entry

    def near(self, name):
        """Another name that is like it."""
        words = name.split()
        i = max(range(len(words)), key=lambda j: len(words[j]) if words[j] not in W.GIVEN else 0)
        w, k = words[i], self.r.random()
        if k < 0.4 and words[0] in W.GIVEN:
            words[0] = self.m.given()
        elif k < 0.75 and len(w) > 4:
            j = self.r.randrange(1, len(w))
            words[i] = w[:j] + pick(self.r, "bcdfghklmnprstvw") + w[j + (self.r.random() < 0.7) :]
        else:
            words[i] = self.m.surname()
        return " ".join(words)

    def name_of(self, entry):
        """A firm's name as the mark has it."""
        m, r, name = self.m, self.r, entry["name"]
        variants = [v for v in entry.get("variants", "").split("|") if v]
        if variants and m.p(0.25):
            name = pick(r, variants)
        words = name.split()
        if words[0] in W.GIVEN and m.p(0.4):
            words[0] = pick(r, W.ABBREVIATED.get(words[0], [words[0][0] + "."])) if m.p(0.35) else words[0][0] + pick(r, [".", ".", ""])
        name = " ".join(words)
        if m.p(0.15):
            name = name.replace("&", "and")
        if words[-1] == "Co" and m.p(0.5):
            name += "."
        if ("&" in name or "Bro" in name) and m.p(0.25):
            name = pick(r, ["Messrs. ", "Messrs ", "MESSRS. "]) + name
        elif m.p(0.04) and self.lang == "en":
            name = pick(r, ["Mr. ", "Mr "]) + name
        return name

    def value(self, slot):
        """(text, value, list, entry) of a slot."""
        m, r = self.m, self.r
        role = slot.rstrip("0123456789")
        self.within = []
        make = getattr(self, "v_" + role)
        out = make(slot)
        return out if isinstance(out, tuple) else (out, out.strip(" ,.;:"), None, None)

    def firm_value(self, slot, role):
        e = self.firm(slot, role)
        text = self.name_of(e)
        return text, plain_name(text), e["list"], e["entry"]

    def v_maker(self, s):
        return self.firm_value(s, pick(self.r, ["maker"] * 9 + ["seller"]) if s not in self.known else "maker")

    def v_dealer(self, s):
        return self.firm_value(s, "seller")

    def v_sale(self, s):
        e = self.firm(s, "sale")
        if self.m.p(0.12) and e["list"] is None:
            t = f"{self.m.surname()} sale"
            return t, t, None, None
        return self.firm_value(s, "sale")

    def v_exhibition(self, s):
        e = self.firm(s, "show")
        self.within = [e["town"]]
        short = e.get("variants", "")
        text = short if short and self.m.p(0.2) else ("The " if self.m.p(0.1) and self.lang == "en" else "") + e["name"]
        return text, re.sub("^The ", "", text).strip(" ,.;:"), e["list"], e["entry"]

    def owner_of_place(self, s):
        """The firm that an address or a town belongs to."""
        for key in (["maker2", "dealer2"] if s.endswith("2") else []) + ["maker", "dealer", "sale", "exhibition"]:
            if key in self.known and not self.known[key].get("placed" + s[:4]):
                return self.known[key]
        return None

    def v_trade(self, s):
        for key in ("maker", "dealer", "sale"):
            e = self.known.get(key)
            if e and self.m.p(0.5):
                return e["trade"]
        role = next((k for k in ("maker", "dealer", "sale") if k in self.known), "maker")
        if role == "maker" and self.lang == "en" and self.m.p(0.12):
            # Several trades in one run are one statement
            return pick(self.r, [" and ", "; ", " & ", ", ", ", and "]).join(pick(self.r, W.trades(role, self.lang)) for _ in range(2))
        return pick(self.r, W.trades("seller" if role == "dealer" else role, self.lang))

    def v_address(self, s):
        e = self.owner_of_place(s)
        if e is None or s == "address3" or not e["address"]:
            return self.m.street(self.lang)
        e["placedaddr"] = True
        return e["address"]

    def place(self, name):
        """A town's list and entry by its name."""
        for l, row in self.rows("place"):
            if row["name"] == name:
                return l, row["entry"]
        return None, None

    def v_town(self, s):
        e = self.owner_of_place(s) if s in ("town", "town2") else None
        if e is not None:
            e["placedtown"] = True
            name = e["town"]
        else:
            rows = self.rows("place")
            name = pick(self.r, rows)[1]["name"] if rows and self.m.p(0.6) else self.m.some_town([], self.lang if self.m.p(0.8) else "en")
        list_, entry = self.place(name)
        if not name:
            name = "London"
        return name, name, list_, entry

    def person(self, key):
        if key not in self.known:
            m, r = self.m, self.r
            rows = self.rows("person")
            rows = [x for x in rows if x[1]["lang"] == self.lang] or rows
            if rows and m.p(0.5 if key.startswith("artist") else 0.03):
                l, row = pick(r, rows)
                e = dict(row, list=l)
                a, b = row["years"]
                self.year = r.randrange(a, b + 1) if key == "artist" and not any(k in self.known for k in ("maker", "exhibition", "sale", "dealer")) else self.year
            else:
                first, last = m.person(self.lang)
                e = dict(first=first, last=last, list=None, entry=None, lang=self.lang)
            self.known[key] = e
        return self.known[key]

    def v_artist(self, s):
        e = self.person(s)
        text = self.m.shown(e["first"], e["last"], e["lang"])
        k = self.r.random()
        if k < 0.08:
            text = pick(self.r, dict(en=["Mr. ", "Mrs. ", "Miss ", "Miss ", "Sir "], fr=["M. ", "Mme "], de=["Herr ", "Frl. "], nl=["Mej. "], it=["Sig. "])[e["lang"]]) + text
        elif k < 0.11 and e["list"] is None:
            text = e["last"]
        elif k < 0.14:
            text = f"{e['last']}, {e['first']}"
        return text, plain_name(text), e["list"], e["entry"]

    def v_owner(self, s):
        m = self.m
        if m.p(0.1):
            where = m.some_town([x[1] for x in self.rows("place")], "en") if m.p(0.4) else m.town_name()
            self.within = [where]
            t = self.say("institution", "The Corporation of {}|{} Museum|the Mayor and Corporation of {}|The Trustees of {} Hall|{} Art Gallery|{} Castle|{} House|The National Gallery|Musée de {}|{} College|{} Club|Private collection|The Dean and Chapter of {}|The Warden and Fellows of {} College|The Provost of {}|The Council of {}|the Trustees of the {} Gallery|The Governors of {} Hospital|{} Town Council|The Bishop of {}|the Vestry of {}|The Master of {} Lodge|{} Public Library|The Borough of {}|Executors of {}|The Guild of {}").format(where)
            return t, re.sub("^[Tt]he ", "", t), None, None
        e = self.person(s)
        text = m.courtesy(e["first"], e["last"], e["lang"])
        return text, plain_name(text), e["list"], e["entry"]

    v_lender = v_owner

    def v_consignee(self, s):
        if self.m.p(0.3):
            e = self.firm(s + "firm", pick(self.r, ["maker", "seller"]))
            text = self.name_of(e)
            return text, plain_name(text), e["list"], e["entry"]
        return self.v_owner(s)

    def v_artist_address(self, s):
        m, r = self.m, self.r
        town = m.some_town([x[1] for x in self.rows("place")], self.lang)
        self.within = [town]
        k = r.random()
        if k < 0.55:
            return f"{m.street(self.lang)}, {town}"
        if k < 0.75:
            return m.street(self.lang)
        if k < 0.87:
            return town
        house = f"{pick(r, ['The Studio', m.surname() + ' House', 'The Cottage', 'Ivy Bank', 'Rose Villa', 'Studio ' + str(r.randrange(1, 12)), m.surname() + ' Lodge'])}"
        return f"{house}, {m.street(self.lang)}, {town}" if m.p(0.5) else f"{house}, {town}"

    def v_title(self, s):
        m, r = self.m, self.r
        town = m.some_town([x[1] for x in self.rows("place")], self.lang)
        self.within = [town]
        if self.lang != "en":
            t = pick(r, W.TITLES[self.lang]).format(w=m.surname(self.lang), p=m.surname(self.lang), t=town)
        else:
            thing = lambda: pick(r, W.THINGS)
            first, last = m.person()
            who = pick(r, [f"Mrs {last}", f"{first} {last}", f"Miss {last}", f"Sir {first} {last}", f"Lady {last}", f"{first} {last}, Esq.", f"the Rev. {first[0]}. {last}"])
            t = re.sub(r"\{(\w)\}", lambda k: {"t": town, "w": m.surname(), "p": who, "s": last, "a": pick(r, W.ADJ), "n": thing(), "x": pick(r, W.ABSTRACT)}[k[1]], pick(r, W.TITLE_EN))
        if m.p(0.08):
            t = f'"{t}"' if '"' not in t else t
        if m.p(0.15):
            t = t[0] + t[1:].lower() if m.p(0.3) else t.title().replace("'S", "'s")
        return t, t.strip(' ,.;:"'), None, None

    def v_exhibition_year(self, s):
        if self.m.p(0.04):
            return f"{self.year}-{(self.year + 1) % 100:02}", f"{self.year}/{self.year + 1}", None, None
        return str(self.year) + ("." if self.m.p(0.1) else ""), str(self.year), None, None

    def day(self):
        """A date, with its EDTF form."""
        r, m = self.r, self.m
        y, mo, d = self.year + (0 if m.p(0.6) else r.randrange(0, 40)), r.randrange(1, 13), r.randrange(1, 29)
        lang = self.lang
        names = MONTHS[lang]
        name = names[mo - 1]
        if lang == "en" and m.p(0.35):
            name = name[:3] + pick(r, [".", "", "."]) if mo != 5 else "May"
        iso = f"{y}-{mo:02}-{d:02}"
        k = r.random()
        if k < 0.1:
            return f"{pick(r, ['c.', 'circa', 'c', 'ca.', 'about'] if lang == 'en' else ['vers'] if lang == 'fr' else ['um', 'ca.'] if lang == 'de' else ['ca.'])} {y}", f"{y}~"
        if k < 0.3:
            return str(y), str(y)
        if k < 0.42:
            return f"{name} {y}", f"{y}-{mo:02}"
        if k < 0.5:
            return f"{d}.{mo}.{y}" if lang != "en" else f"{d}/{mo}/{y}", iso
        if lang == "en":
            th = {1: "st", 2: "nd", 3: "rd"}.get(d % 10 if d not in (11, 12, 13) else 0, "th")
            return pick(r, [f"{d} {name} {y}", f"{name} {d}{th}, {y}", f"{d}{th} {name} {y}", f"{name} {d}, {y}", f"{d}{th} of {name} {y}", f"{name} {d} {y}"]), iso
        if lang == "de":
            return f"{d}. {name} {y}", iso
        return f"{d} {name} {y}", iso

    def v_date(self, s):
        return (*self.day(), None, None)

    def v_sale_date(self, s):
        return (*self.day(), None, None)

    def v_estab(self, s):
        y = str(self.r.randrange(1750, max(1760, self.year)))
        return y, y, None, None

    def number(self, top):
        return str(int(10 ** self.r.uniform(0.2, top)))

    def v_catalogue_number(self, s):
        n = self.number(3.2) + pick(self.r, [""] * 14 + ["a", "A", "B"])
        return n + ("." if self.m.p(0.08) else ""), n, None, None

    def v_lot(self, s):
        n = self.number(3.0) + pick(self.r, [""] * 12 + ["A", "a"])
        return n + ("." if self.m.p(0.05) else ""), n, None, None

    def v_stock_number(self, s):
        r = self.r
        k = r.random()
        n = self.number(4.5)
        a = "".join(pick(r, "ABCDEFGHJKLMNPRSTVWX") for _ in range(r.randrange(1, 3)))
        t = n if k < 0.45 else f"{a}{n}" if k < 0.6 else f"{n}{a}" if k < 0.7 else f"{n} {a}" if k < 0.8 else f"{a} {n}" if k < 0.9 else f"{a}.{n}" if k < 0.94 else f"{n}/{r.randrange(1, 99)}"
        return t, t, None, None

    def v_unknown_number(self, s):
        return pick(self.r, [self.number(4.2), self.number(3), self.number(4) + "/" + self.number(2), pick(self.r, "ABCDEHKLMX") + self.number(3), f"No. {self.number(3)}".split()[-1]])

    def v_price(self, s):
        r, n = self.r, self.r.randrange(1, 400)
        sh, d = r.randrange(1, 20), r.randrange(0, 12)
        if self.lang == "en":
            t = pick(r, [f"£{n}", f"£{n}", f"£{n} {sh}s", f"£{n}.{sh}.{d}", f"£{n}. {sh}s. {d}d.", f"{n} gns", f"{n} gns.", f"{n} guineas", f"{n} Gs.", f"£{n}/{sh}/{d}", f"£{n} {sh}s {d}d", f"£{n}-{sh}-{d}", f"£ {n}", f"{n} pounds", f"£{n}.0.0", f"£{n}/{sh}/-", "N.F.S.", "Not for sale", f"{n} Gns", f"£{n},000", f"{n}£", f"{n}/-", f"{sh}/6", f"£{n} 0 0", f"$ {n}", f"£{n}:{sh}:{d}", f"{n} guas", "NFS"])
        else:
            u = dict(fr=["fr.", "francs", "frs", "fr"], de=["Mk.", "Mark", "M.", "RM", "Mk"], nl=["fl.", "gulden"], it=["lire", "L."])[self.lang]
            n *= pick(r, [1, 5, 10, 10, 100])
            t = f"{pick(r, ['f', 'ƒ', 'fl.'])} {n}" if self.lang == "nl" and self.m.p(0.5) else f"L. {n}" if self.lang == "it" and self.m.p(0.3) else f"{n} {pick(r, u)}"
        return t

    def v_size(self, s):
        r = self.r
        a, b = r.randrange(5, 70), r.randrange(5, 60)
        fr = lambda: pick(r, ["", "", "", "½", "¼", "¾", " 1/2", " 3/4"])
        x = pick(r, [" x ", "x", " X ", " × ", " by ", " x "]) if self.lang == "en" else pick(r, [" x ", "x", " × ", " : "])
        if self.lang == "en":
            t = f"{a}{fr()}{x}{b}{fr()}" + pick(r, ["", "", " in.", " ins.", " inches", '"', " in", " ins"])
            t = f'{a}"{x}{b}"' if self.m.p(0.1) else t
            return f"{a} in. by {b} in." if self.m.p(0.05) else f"{a} cm{x}{b} cm" if self.m.p(0.04) else t
        return f"{a}{x}{b}" + pick(r, ["", " cm", " cm.", "", " c/m"])

    def v_medium(self, s):
        return pick(self.r, W.MEDIUM[self.lang])

    def v_instruction(self, s):
        return self.m.wording("inst" + self.lang, W.INSTRUCTION[self.lang])

    def v_part(self, s):
        return self.m.wording("part", W.PART)

    # Setting

    def fill(self, line):
        """Lines of pieces [text, tag, statement, glued] of a plan's line."""
        out, r, m = [[]], self.r, self.m
        for bit in re.findall(r"[^\s<>{}]*[<{][^<>{}]*[>}][^\s<>{}]*|\S+", line):
            k = re.match(r"^(.*?)([<{])([^<>{}]*)[>}](.*)$", bit)
            if not k:
                out[-1].append([self.case(bit, "O"), "O", -1, False])
                continue
            before, sign, slot, after = k.groups()
            if sign == "<":
                text = self.heading(slot)
                words = [self.case(w, "H") for w in text.split()]
                tag, number = "H:" + slot, -1
            else:
                text, value, list_, entry = self.value(slot)
                tag = {"estab": "date"}.get(slot.rstrip("0123456789"), slot.rstrip("0123456789"))
                words = [self.case(w, "V", tag) for w in text.split()]
                number = len(self.statements)
                places = [p for p in self.within if p and p in text]
                self.statements.append(dict(role=tag, value=value, list=list_, entry=entry, places=places))
            if not words:
                continue
            words[0], words[-1] = before + words[0], words[-1] + after
            broken = len(words) > 3 and m.p(0.12) and sign == "{"
            at = r.randrange(2, len(words) - 1) if broken and len(words) > 3 else -1
            for i, w in enumerate(words):
                if i == at:
                    out.append([])
                glued = i == 0 and sign == "{" and bool(out[-1]) and out[-1][-1][1].startswith("H:") and out[-1][-1][0][-1:] in ".:" and w[:1].isdigit() and m.p(0.1)
                out[-1].append([w, tag, number, glued])
            if tag == "artist" and m.p(0.07):
                out[-1][-1][0] += ","
                out[-1].append([pick(r, POST), "O", -1, False])
        return out

    def heading(self, slot):
        options = W.HEADINGS[slot].get(self.lang) or W.HEADINGS[slot]["en"]
        text = self.m.wording("h" + slot, options)
        if self.m.p(0.1) and text[-1].isalnum():
            text += pick(self.r, [":", ".", ":", " -", " ..", "—"])
        return text.replace(" -", "").replace(" ..", "")

    def case(self, word, what, tag=None):
        if self.look == "upper" or self.look == "mixed" and what != "V" or self.look == "mixed" and tag in ("maker", "exhibition") :
            return word.upper()
        if self.look == "values lower" and what == "V" and tag in ("title", "medium", "trade", "instruction"):
            return word.lower()
        return word

    def record(self, share, misread, damaged):
        """The mark for the file, with that share of its long words damaged."""
        r = self.r
        lines = []
        for line in self.lines:
            pieces = []
            for text, tag, number, glued in line:
                long = sum(c.isalnum() for c in text) >= 5
                if (long and r.random() < share) or (not long and len(text) > 1 and r.random() < share * 0.2):
                    text = damaged(text, r, 0.75, misread)
                elif r.random() < share * 0.25:
                    text = "".join(c + "\u0323" if c.isalnum() and r.random() < 0.5 else c for c in text)
                pieces.append([text, tag, number, glued])
            lines.append(pieces)
        if share > 0.1 and len(lines) > 1 and r.random() < 0.1:
            lines[r.randrange(len(lines))].append(["[---]", "O", -1, False])
        kind = None if r.random() < 0.6 else self.kind if r.random() < 0.85 else "unknown"
        return dict(kind=kind, language=self.lang, lines=lines, statements=self.statements)
