"""Names as museums write them: order, titles, particles, and when two are names of one person."""

import difflib
import functools
import re
import unicodedata

ALIKE = 0.72
PARTICLES = set("van von der den de del della di da du des la le les ten ter te af av zu zum zur vom d l el y".split())
TITLES = set("sir dame lord lady baron baroness count countess comte comtesse marquis marquise marchese conte dr prof "
             "professor rev reverend hon honorable honourable capt captain col colonel gen general admiral mrs mr miss "
             "ms mme mlle the".split())
# Which of a family: no part of the surname
RANKS = set("the elder younger jr sr junr senr junior senior i ii iii iv".split())
# Letters that keep their shape when signs are taken off
LETTERS = str.maketrans({"ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "ß": "ss", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE",
                         "đ": "d", "ð": "d", "þ": "th", "ı": "i"})


@functools.lru_cache(maxsize=None)
def fold(text):
    """Lower case, no accents, words parted by one blank, apostrophes join."""
    plain = unicodedata.normalize("NFD", text.translate(LETTERS)).lower()
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    plain = re.sub(r"['’‘ʼ`]", "", plain).replace("&", " and ")
    return " ".join(re.sub(r"[^a-z0-9]+", " ", plain).split())


def slug(text):
    return fold(text).replace(" ", "-")


def latin(text):
    """Whether all letters are of the Latin alphabet."""
    return all(not c.isalpha() or unicodedata.name(c, "").startswith(("LATIN", "MODIFIER")) for c in text)


def forward(name):
    """"Robinson, Sir John Charles" as "Sir John Charles Robinson"; what follows a second comma stays behind."""
    parts = [p.strip() for p in name.split(",") if p.strip()]
    if len(parts) < 2:
        return name.strip()
    last, first, rest = parts[0], parts[1], parts[2:]
    ahead = [r for r in rest if fold(r) in TITLES]
    behind = [r for r in rest if fold(r) not in TITLES]
    if set(fold(first).split(" ")) <= RANKS | {"inc", "ltd", "llc"}:
        return f"{last}, {first}"
    whole = " ".join([*ahead, first, last])
    return ", ".join([whole, *behind])


def titled(name):
    return fold(name).split(" ")[0] in TITLES and " " in fold(name)


def untitled(name):
    """A name without the titles before it."""
    words = name.split(" ")
    while len(words) > 2 and fold(words[0]) in TITLES - {"mrs", "lady", "lord"}:
        words = words[1:]
    return " ".join(words).strip()


def surname(last):
    """A surname without its particles."""
    words = [w for w in last.replace(",", " ").split(" ") if w]
    words = [w for w in words if fold(w) not in RANKS] or words
    while len(words) > 1 and fold(words[0]) in PARTICLES:
        words = words[1:]
    while len(words) > 1 and fold(words[-1]) in PARTICLES:
        words = words[:-1]
    return " ".join(words)


def given_names(name, last):
    """Words of a name that are neither its surname nor a particle or title."""
    own = set(fold(last).split(" "))
    words = re.split(r"[\s.\-‐]+", name.split(",")[0])
    words = [w for w in words if fold(w) and fold(w) not in own | PARTICLES | TITLES]
    return [w for w in words if fold(w) not in RANKS]


def same_given(a, b, told):
    """Whether given names may be one person's: in order, each of the shorter the same, an initial or the beginning
    of one of the longer. Where one date alone agrees, the first must agree in full; where both do to the year, it may be
    another language's ("Alexander", "Alexandre"; common practice that ALIKE of the letters tells it)."""
    a, b = [fold(x) for x in a], [fold(x) for x in b]
    if not a or not b:
        return False
    short, long = sorted((a, b), key=len)
    if told == "exact" and alike(a[0], b[0]) >= ALIKE:
        return True
    at = 0
    for word in short:
        hit = next((i for i in range(at, len(long)) if long[i].startswith(word) or word.startswith(long[i])), None)
        if hit is None:
            return False
        at = hit + 1
    return told in ("both", "exact") or a[0] == b[0] and len(a[0]) > 1


def alike(a, b):
    """Share of letters that two words have in common in order, 0 to 1."""
    return difflib.SequenceMatcher(None, a, b).ratio()


def initials_of(given, name):
    """A name with initials for its given names: "Honoré Daumier" as "H. Daumier"."""
    out = []
    mine = {fold(g) for g in given}
    for word in name.split(" "):
        parts = [p for p in re.split(r"[-‐.]", word) if p]
        shortened = parts and all(fold(p) in mine for p in parts) and len(fold(word)) > 1
        out.append(" ".join(f"{p.lstrip('(')[0].upper()}." for p in parts) if shortened else word)
    return " ".join(out)
