"""Life dates as museums write them, brought to EDTF (Library of Congress, Extended Date/Time Format, 2019)."""

import re

NUMBER = r"\d{4}"
BOUND = re.compile(
    r"^(?P<before>before|by|after|in or after|c\.|ca\.|circa|about|probably c\.|probably|possibly|\?|\?c\.)?\s*"
    rf"(?P<year>{NUMBER})(?:\s*(?P<sign>/|or)\s*(?P<other>\d{{1,4}}))?(?P<doubt>\?)?\s*"
    r"(?P<behind>or after|or before|or later|or earlier)?$"
)


class Bound:
    """One end of a life."""

    def __init__(self, edtf, first, last, exact):
        self.edtf, self.first, self.last, self.exact = edtf, first, last, exact

    def __str__(self):
        return self.edtf

    @staticmethod
    def of(text):
        """The bound that a text states; `None` where it states none that can be written exactly."""
        found = BOUND.match(re.sub(r"\bc\s*\.\s*", "c. ", text.strip().lower()))
        if not found:
            return None
        year, before, behind = int(found["year"]), found["before"] or "", found["behind"] or ""
        if found["other"]:
            other = int(found["year"][: 4 - len(found["other"])] + found["other"])
            if before or behind or found["doubt"] or not year < other <= year + 30:
                return None
            edtf = f"[{year:04},{other:04}]" if found["sign"] == "or" else f"[{year:04}..{other:04}]"
            return Bound(edtf, year, other, False)
        if before in ("before", "by") or behind in ("or before", "or earlier"):
            last = year - (before == "before")
            return Bound(f"[..{last:04}]", None, last, False)
        if before in ("after", "in or after") or behind in ("or after", "or later"):
            if before == "c.":
                return None
            first = year + (before == "after")
            return Bound(f"[{first:04}..]", first, None, False)
        loose = "%" if "probably" in before and "c." in before or before == "?c." else "~" if before.startswith(
            ("c", "about")) else "?" if before or found["doubt"] else ""
        return Bound(f"{year:04}{loose}", year, year, not loose)


class Life:
    """Birth, death, or else the years of activity, each with what the source says in words."""

    def __init__(self, said=""):
        self.said, self.born, self.died, self.active = said, None, None, None
        self.born_at, self.group = "", False

    @staticmethod
    def of(said, first, last):
        """* `said`: the dates in the source's words.
        * `first`, `last`: the years of its columns; a plain year in words that isn't theirs is left out."""
        life = Life(said.strip())
        text = said.replace("–", "-").replace("—", "-").strip()
        life.group = len(re.findall(r"\bborn\b", text)) > 1 and len(re.findall(NUMBER, text)) > 1 and ", born" in text
        place = re.search(r"\bborn (?!c\.|probably|after|before|about|\d|\?)([^,\d]+?)(?=,|\s+\d{4}|$)", text)
        life.born_at = place[1].strip() if place else ""
        told = dates_in(text)
        if not told:
            life.active = centuries(text)
        if told.startswith(("active", "exhibited", "established", "founded", "est.")):
            years = [int(y) for y in re.findall(NUMBER, told)]
            if told.startswith(("active", "exhibited")):
                life.active = (years[0], years[-1]) if years else centuries(told)
            died = re.search(r"died (.+)$", told)
            life.died = Bound.of(died[1]) if died else None
            return life
        if told.startswith("died"):
            life.died = Bound.of(told[4:])
        elif told.startswith("born"):
            life.born = Bound.of(told[4:])
        else:
            parts = re.split(r"\s+-\s+|(?<=\d)-(?=\s*[\dca?])|(?<=\d)\s*-\s*(?=after|before|active)|\s+-(?=\d)|(?<=\d)-\s",
                             told)
            if len(parts) == 2:
                life.born = Bound.of(parts[0])
                alive = re.match(rf"active (?:c\. )?({NUMBER})$", parts[1].strip())
                life.died = Bound(f"[{alive[1]}..]", int(alive[1]), None, False) if alive else Bound.of(parts[1])
        life.checked(first, last)
        return life

    def checked(self, first, last):
        """Leaves out an exact year that the source's own columns contradict, and years in wrong order."""
        for name, column in (("born", first), ("died", last)):
            bound = getattr(self, name)
            if bound and bound.exact and re.fullmatch(r"\d+", column or "") and int(column) != bound.first:
                setattr(self, name, None)
        if self.born and self.died and self.born.first and self.died.last and not (
                0 < self.died.last - self.born.first <= 115):
            self.born = self.died = None

    @staticmethod
    def of_edtf(born, died):
        """Life dates as a list has them."""
        life = Life(f"{born}/{died}")
        for name, text in (("born", born), ("died", died)):
            year = re.match(r"(\d{4})([~?%]?)$", text)
            if year:
                setattr(life, name, Bound(text, int(year[1]), int(year[1]), not year[2]))
        return life

    def first(self, what):
        """First year of a part that is known."""
        part = getattr(self, what)
        if what == "active":
            return part[0] if part else None
        return (part.first or part.last) if part else None

    def last(self, what):
        """Last year of a part that is known."""
        part = getattr(self, what)
        return part.last if part else None

    def agrees(self, other):
        """"both", "one", or `False` where dates contradict or say nothing."""
        hits = 0
        for name in ("born", "died"):
            a, b = getattr(self, name), getattr(other, name)
            if not a or not b:
                continue
            if None in (a.first, a.last, b.first, b.last):
                continue
            slack = 1 if a.exact and b.exact else 5
            if a.first - slack > b.last or b.first - slack > a.last:
                return False
            hits += 1
        if hits == 2 and all(a.exact and b.exact and a.first == b.first for a, b in
                             ((self.born, other.born), (self.died, other.died))):
            return "exact"
        return {0: False, 1: "one", 2: "both"}[hits]

    def nearly(self, other):
        """Whether two sources of one full name may mean one person though their dates differ: one date within 2
        years, and the other within 15; or years of activity that lie within the life, or overlap."""
        pairs = [(self.first(n), other.first(n)) for n in ("born", "died")]
        gaps = sorted(abs(a - b) for a, b in pairs if a and b)
        if len(gaps) == 2:
            return gaps[0] <= 2 and gaps[1] <= 15
        for a, b in ((self, other), (other, self)):
            if a.active and not (a.born or a.died):
                if b.active and not (b.born or b.died):
                    return a.active[0] <= b.active[1] and b.active[0] <= a.active[1]
                born = b.first("born") or (b.first("died") or 0) - 85
                died = b.first("died") or born + 85
                return born + 10 <= a.active[0] and a.active[1] <= died + 1
        return False

    def near(self, other, years):
        """Whether no known date differs by more, and one is known to both."""
        told = False
        for name in ("born", "died"):
            a, b = self.first(name), other.first(name)
            if a and b:
                told = True
                if abs(a - b) > years:
                    return False
        return told

    def filled(self, other):
        """With what another record knows beside it; exact years before others."""
        for name in ("born", "died"):
            mine, theirs = getattr(self, name), getattr(other, name)
            if theirs and mine and theirs.exact and mine.exact and theirs.first != mine.first:
                a, b = sorted((mine.first, theirs.first))
                setattr(self, name, Bound(f"[{a},{b}]", a, b, False))
            elif theirs and (not mine or theirs.exact and not mine.exact and mine.first != mine.last
                             or mine.edtf != theirs.edtf and theirs.exact and "," not in mine.edtf):
                setattr(self, name, theirs)
        self.active = self.active or other.active
        return self


def dates_in(text):
    """The dates of a line, without nationality and place of birth."""
    start = re.search(rf"\b(active|exhibited|established|founded|est\.|died|born (?=c\.|probably|after|before|about|\d|\?))|"
                      rf"((before|by|after|in or after|c\.|ca\.|probably c\.|probably|possibly|\?c\.|\?)\s*)?\b{NUMBER}", text)
    return text[start.start():].strip() if start else ""


def centuries(text):
    """Last year of the part of a century that is named first, and of the one named last: who worked in the late 19th
    century had begun by 1900."""
    found = re.findall(r"(early|first half|first quarter)?[^\d,]{0,12}(\d{1,2})(?:st|nd|rd|th)\b", text)
    ends = [(int(n) - 1) * 100 + (50 if part else 100) for part, n in found]
    return (ends[0], ends[-1]) if ends else None
