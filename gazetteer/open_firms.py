"""Firms, sale rooms and shows from lines of provenance in the trade's punctuation, and from a museum's constituents.

A line tells links parted by semicolons; a link names who, then where, then when: "(Firm, Town, State, 1972)", with
footnotes and the years of a firm's life in square brackets (American Association of Museums, *The AAM Guide to
Provenance Research*, 2001: the form of the lines)."""

import collections
import re

from open_names import fold, slug

EXTRA = ["seen from", "seen to", "seen in", "ULAN", "Wikidata", "numbers"]
CMOA = "Carnegie Museum of Art, collection data, CC0"
NGA = "National Gallery of Art, Washington, opendata, CC0"
FIRM = re.compile(
    r"\b(Galler(?:y|ies)|Galeries?|Galleria|Gallerie|Galer[ií]a|Gal\.|Kunsthand\w+|Kunstsalon|Antiquariat|Co\b|Company|& Sons?\b|and "
    r"Sons?\b|Brothers\b|Bros\b|Fr[eè]res|Fine Arts?\b|Art Dealers?|Auction\w*|Sotheby\S*|Christie[’'s]*(?:,|$|\s)|Park\w?-Bernet|"
    r"Art Association|Cie\b|Ltd|Inc\b|Drouot|Antiques?\b|Antiquities|Prints\b|Editions\b|Rare Books|Books?hop|Art Shop|"
    r"Print Shop|Frame Shop|Limited\b|Works of Art|Durand-Ruel|Knoedler|Colnaghi|Agnew|Duveen|Wildenstein|Lempertz|"
    r"GmbH|LLC|Publishers?|Press\b)")
SALE = re.compile(r"Sotheby|Christie|Park\w?-Bernet|Drouot|Auction|Art Association|Lempertz|Gutekunst|Hôtel des ventes", re.I)
NOT_A_FIRM = re.compile(
    r"\b(Museum|Mus[eé]e|Institut\w*|Universit\w+|College|Foundation|Fund|Trust|Estate|Collections?|Department|gifts?|bequest|"
    r"artist|Exhibition|Library|Church|Carnegie|National Gallery|Freer|Arts? Center|Committee|Club|Academy|Bank|School|"
    r"Commission|Steel|Electric|Corporation|Hotel\b|Members|Archive|Abbey|Convent|Family|Memorial|Sale\b|Private|Anonymous|"
    r"unidentified|Unknown|the print|our|she|however|donor|Associates of|International$|Prints$|Rosenwald|Acquir\w+|"
    r"Westinghouse|Alcoa|Heinz|Art market|Insurance|Airways|Employees|Party|Coalition|Conspiracy|Mint|Newspaper|Times|"
    r"Review|Magazine|Product\w*|Railroad|Tobacco|Photo\w*|Studios?|Architect\w*|Marquess\w*|with|Manufactur\w*|Propert\w*|\d+ febr|lots|to A)\b", re.I)
# Publishers of prints of today, works and the like bear on no back of a picture
MAKES = re.compile(r"\b(Press|Editions?|Publish\w*|Project|Verlag|Books?)\b", re.I)
STATES = ("AL AK AZ AR CA CO CT DE FL GA HI ID IL IN IA KS KY LA ME MD MA MI MN MS MO MT NE NV NH NJ NM NY NC ND OH OK OR "
          "PA RI SC SD TN TX UT VT VA WA WV WI WY DC").split()
# Names of states and countries as the lines write them
LANDS = {fold(s) for s in STATES} | {fold(s) for s in (
    "D.C.|Pa|N.Y.|Mass|Calif|Conn|New Jersey|California|Connecticut|Massachusetts|Pennsylvania|Ohio|Illinois|Vermont|Texas|"
    "Florida|Maine|Maryland|Michigan|Minnesota|Missouri|Kansas|Virginia|Oregon|Washington State|Colorado|Rhode Island|"
    "New Mexico|New Hampshire|Wisconsin|Indiana|Iowa|Louisiana|Georgia|Arizona|North Carolina|South Carolina|Tennessee|"
    "England|Scotland|Wales|Ireland|Northern Ireland|United Kingdom|UK|U.K.|Great Britain|France|Germany|West Germany|Italy|Spain|"
    "Portugal|Belgium|Holland|The Netherlands|Netherlands|Switzerland|Austria|Denmark|Sweden|Norway|Finland|Russia|Poland|"
    "Hungary|Czech Republic|Greece|Turkey|Israel|Japan|China|Hong Kong|India|Canada|Ontario|Quebec|Mexico|Brazil|Argentina|"
    "Venezuela|Cuba|Australia|South Africa|Korea|South Korea|USA|U.S.A.|United States|Hawaii|Delaware|Monaco|Egypt").split("|")}
SHORT_TOWNS = {"nyc": "New York", "new york city": "New York", "ny city": "New York", "n y c": "New York", "sf": ""}
STYLE = re.compile(r"^(Inc|Ltd|Jr|Sr|Limited|LLC|L\.L\.C|S\.A|Incorporated|inc|GmbH|et Cie|& Co|and Company|N\.V|Esq)\b\.?", re.I)
LEAD = re.compile(
    r"^(?:.*?\b(?:purchased|puchased|bought|acquired|sold|consigned|obtained|exchanged|offered|auctioned|bt)\b"
    r"(?:(?!\b(?:from|at|by|to|through|via|with)\b).)*?\b(?:at auction at|from|at|by|to|through|via|with)\s+|"
    r"(?:probably|possibly|likely|perhaps|with|from|to|via|by|through|at|and|then|later|Provenance:|Ex coll\S*|(?:Dr\.? )?Austin from|"
    r"Austin at auction at|the artist,? (?:via|through|to))\s+)+", re.I)
DATED = re.compile(r"\b(1[6-9]\d\d|20[0-4]\d)\b")
NUMBERED = re.compile(r"\b(?:nos?|lots?|stock(?: no)?|inv|cat|vol|pp?|Lugt(?: Suppl)?)s?\.?\s*#?\s*[A-Z]?\d+\w*", re.I)
MONTH = re.compile(r"^(?:on |by |in |until |before |after |from |c\.|ca\.|about |as |the |\W)*(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|"
                   r"Sep|Oct|Nov|Dec|spring|summer|fall|autumn|winter|early|late|\d)", re.I)


class Firm:
    """A firm in one town, as all lines and records show it."""

    def __init__(self):
        self.names, self.seen, self.lines = collections.Counter(), [], []
        self.life, self.sale, self.sources = None, False, []
        self.ulan = self.wikidata = ""
        self.numbers = []


def links(text):
    """Links of a line, footnotes and remarks left out; each with whether it stands in parentheses, and
    whether it follows a sale."""
    text = re.split(r"\bNotes?\s*:?\s*(?:1\.|\[1\]|\n|$)", text, flags=re.I)[0]
    text = re.sub(r"\[\d{1,2}\]|\[\s*see.*?\]", " ", text)
    text = re.sub(r"[ \t]+", " ", text).replace("(", "; (").replace(")", ";")
    parts = re.split(r";|\n|:\s|(?<=[a-z\d\]])\.\s+(?=[A-Z(])|\.\.+|(?:,|\s)\s*(?=(?:through|via)\s+[A-Z])", text)
    for part in parts:
        for before, sale in [(part, False)] if not re.search(r"\bsale,", part) else zip(
                re.split(r"\bsale,", part, maxsplit=1), (False, True)):
            # The guide sets dealers, agents and sale rooms in parentheses
            trade = part.strip().startswith("(")
            yield before.strip(" .,("), trade, sale or bool(re.search(r"\bauction\b", before))


def cells(link):
    """Parts of a link at its commas, those of a firm's style joined to its name."""
    out = []
    for part in (p.strip() for p in link.split(",")):
        if out and part and (STYLE.match(part) or re.match(r"[A-Z][\w.]* (?:&|and) (?:Co|Fox|Woods|Sons?|Company)\b", part)):
            out[-1] += ", " + part
        elif part:
            out.append(part)
    return out


def lands(part):
    return fold(part.rstrip(".")) in LANDS


def town_of(parts, known):
    """The town among the parts behind a name; the parts behind it."""
    for i, part in enumerate(parts[:3]):
        bare = DATED.split(re.sub(r"\s+\d{1,2}/.*$", "", part))[0].strip(" .")
        bare = re.sub(r"\s+(?:by|until|in|on|before|after|c|ca|from|as|to|January|February|March|April|May|June|July|August|"
                      r"September|October|November|December)\s*$", "", bare)
        bare = re.split(r"\s+and\s+", bare)[0]
        bare = SHORT_TOWNS.get(fold(bare), bare)
        if fold(bare) in known and not (lands(bare) and i + 1 < len(parts) and fold(parts[i + 1]) in known and bare != "New York"):
            return bare, parts[i:]
        if not lands(part) or MONTH.match(part):
            return "", parts[i:]
    return "", parts


def towns(lines):
    """Places that stand before a state or a country somewhere, or after one."""
    found = collections.Counter()
    for text in lines:
        for link, _, _ in links(text):
            parts = cells(link)
            for a, b in zip(parts[1:], parts[2:]):
                clean = re.match(r"[A-Z][\w' .\-éèüöäâ]{2,24}$", a)
                if clean and lands(re.split(r"\s\d", b)[0]) and not lands(a) and not FIRM.search(a) and not DATED.search(a):
                    found[fold(a)] += 1
    found["new york"] += 1
    return {t for t, n in found.items() if not NOT_A_FIRM.search(t)}


def years(parts, known, latest):
    """Years in the parts behind a name, as far as they are places, dates and numbers of lots."""
    own = []
    for part in parts:
        if not (lands(part) or fold(part) in known or MONTH.match(part) or NUMBERED.match(part) or DATED.search(part[:30])):
            break
        own.append(part)
    text = NUMBERED.sub(" ", " , ".join(own))
    text = re.sub(r"\b(\d{1,2})/(\d{1,2}/)?((?:1[6-9]|20)\d\d)\b", r" \3 ", text)
    text = re.sub(r"\b(?:19|18)\d0s\b", " ", text)
    found = sorted(y for y in map(int, DATED.findall(text)) if 1750 < y <= latest)
    # More than a lifetime in one link: something else is told there
    return found if found and found[-1] - found[0] < 50 else []


def firm_name(name):
    """The name of a firm that a part states; empty if it states none."""
    name = LEAD.sub("", name).strip(" .,\"“”'")
    name = re.sub(r"^(?:the|Messrs\.?) (?=[A-Z])", "", name, flags=re.I)
    name = re.sub(r"\s+", " ", re.sub(r"\[.*?\]", "", name)).replace(" ,", ",").strip()
    name = re.sub(r"\s+(?:as agent|in|on|for)\b.*$", "", name)
    good = FIRM.search(name) and not NOT_A_FIRM.search(name) and re.match(r"[A-Z\d]", name) and len(name) <= 60
    good = good and len(name.split(" ")) <= 8 and fold(name) not in BARE and not DATED.search(name) and "?" not in name
    return name if good else ""


def dealer_name(name):
    """The name of a dealer who trades under his own: in parentheses, with a town, and nothing else said."""
    name = re.sub(r"\s+", " ", re.sub(r"\[.*?\]", "", LEAD.sub("", name))).strip(" .,\"“”'")
    words = name.split(" ")
    good = 2 <= len(words) <= 4 and not NOT_A_FIRM.search(name) and not NO_DEALER.search(name) and all(
        re.match(r"[A-ZÉ][\w.’'\-]*$|&$|and$|de$|van$|von$", w) for w in words)
    return name if good and not DATED.search(name) else ""


# Nobody who trades: descriptions, buyers with a title
NO_DEALER = re.compile(r"\b(born|n[eé]e|Lugt|Mrs?|Mme|Dr|Count|Lady|Lord|Sir|Earl|Duke|Baron|Museum|sitter|stock|cat|no|"
                       r"until|by|his|her|their|the|Art Institute|Loan|on loan|as|World|Fair|Palace|House)\b", re.I)
BARE = {fold(n) for n in ("Gallery|Galleries|Galerie|Fine Art|Fine Arts|Fine Art Galleries|Antiques|Art Gallery|Auction|Company|Inc|"
                          "Prints|Press|Editions|Art Association|Publisher|Publishers|Works of Art|Co").split("|")}


def key_of(name):
    """What two spellings of one firm have in common."""
    bare = fold(name)
    bare = re.sub(r"\b(inc|ltd|limited|llc|incorporated|the|s a|gmbh)\b", " ", bare)
    bare = re.sub(r"\bco\b|\bcie\b", "company", bare)
    bare = re.sub(r"\bgalleries\b|\bgalleria\b", "gallery", bare)
    bare = re.sub(r"\bsothebys\b", "sotheby", re.sub(r"\bchristies\b", "christie", bare))
    # Initials with or without a blank between them
    return re.sub(r"(?<=\b\w) (?=\w\b)", "", " ".join(bare.split()))


def from_lines(lines, latest):
    known = towns(r["provenance"] for r in lines)
    firms = collections.defaultdict(Firm)
    for r in lines:
        for link, trade, sale in links(r["provenance"]):
            parts = cells(link)
            town, rest = town_of(parts[1:], known)
            name = firm_name(parts[0]) if parts else ""
            if not name and parts and trade and town:
                name = dealer_name(parts[0])
            if not name:
                continue
            firm = firms[key_of(name), town]
            firm.names[name] += 1
            firm.seen += years(rest, known, latest)
            firm.lines.append(r["accession"])
            firm.sale |= sale
            life = re.search(r"\[(1[6-9]\d\d)-((?:1[6-9]|20)\d\d)?\]", parts[0])
            firm.life = firm.life or (life and (life[1], life[2] or ""))
            if CMOA not in firm.sources:
                firm.sources.append(CMOA)
    return firms, known


def from_constituents(records, known, firms):
    """Takes in firms of the constituents: into the rows of that name where there are any."""
    by_name = collections.defaultdict(list)
    for (key, town), firm in list(firms.items()):
        by_name[key].append((town, firm))
    for r in records:
        whole = r["forwarddisplayname"]
        if r["constituenttype"] != "corporate" or not FIRM.search(whole) or NOT_A_FIRM.search(whole) or (
                MAKES.search(whole)):
            continue
        parts = cells(whole)
        name = firm_name(parts[0]) if parts else ""
        town, _ = town_of(parts[1:], known)
        if not name or len(parts) > 1 and not town:
            continue
        rows = by_name.get(key_of(name), [])
        rows = [f for t, f in rows if not town or t == town]
        for firm in rows or [firms[key_of(name), town]]:
            firm.names[name] += 1
            firm.numbers.append(f"NGA {r['constituentid']}")
            firm.ulan, firm.wikidata = firm.ulan or r["ulanid"], firm.wikidata or r["wikidataid"]
            firm.sources += [NGA] if NGA not in firm.sources else []
            told = r["displaydate"]
            found = re.search(r"(?:est\.|established|founded(?: in)?) (\d{4})(?:.*?closed (\d{4}))?$|(?:^|, )(\d{4}) ?- ?(\d{4})$", told)
            active = re.findall(r"\d{4}", told) if "active" in told and "s" not in told.split("active")[1] else []
            # A firm's own years say nothing of its house in each of several towns
            if found and not firm.life and len(rows) < 2:
                firm.life = (found[1] or found[3], found[2] or found[4] or "")
            elif active:
                firm.seen += [int(y) for y in active]
    return firms


def rows_of(firms):
    rows = []
    # Without a town nothing tells a firm from another of the name, unless no other row has that name
    placed = {k for k, t in firms if t}
    for (key, town), firm in firms.items():
        if not town and key in placed:
            continue
        name = firm.names.most_common(1)[0][0]
        others = "|".join(n for n in firm.names if n != name and fold(n) != fold(name))
        if firm.life:
            begun, ended = int(firm.life[0]), int(firm.life[1] or 9999)
            firm.seen = [y for y in firm.seen if begun <= y <= ended]
        first, last = (min(firm.seen), max(firm.seen)) if firm.seen else ("", "")
        begin, end = firm.life or ("", "")
        note = []
        if firm.seen:
            note.append(f"seen {first}" + (f" to {last}" if last != first else "") + ", existed longer")
        if firm.life:
            note.append(f"years of the firm as the source has them: {begin}-{end}")
        if not firm.life and firm.seen:
            begin, end = f"[..{first}]", f"[{last}..]"
        trade = "auctioneer" if SALE.search(name) else "dealer or publisher"
        lines = list(dict.fromkeys(firm.lines))
        rows.append([slug(f"{name} {town}"), name, others, trade, "", town, begin, end, "; ".join(firm.sources), "; ".join(note),
                     first, last, " ".join(lines[:5]) + (f" and {len(lines) - 5} more" if len(lines) > 5 else ""),
                     firm.ulan, firm.wikidata, "; ".join(firm.numbers)])
    twice = collections.Counter(r[0] for r in rows)
    for at, r in enumerate(rows):
        if twice[r[0]] > 1:
            r[0] += f"-{at}"
    return sorted(rows)


def lists(lines, records, latest):
    """Name of each list, with its role and rows."""
    firms, known = from_lines(lines, latest)
    rows = rows_of(from_constituents(records, known, firms))
    sale = [r for r in rows if r[3] == "auctioneer"]
    return {"dealers": ("seller", [r for r in rows if r[3] != "auctioneer"]), "auctions": ("sale", sale)}
