"""Texts for made lines: a mixture in which label-like wording is only a part, so that letters are
learnt and not a lexicon. `^` stands before what is raised (N^o, W^m); it is no part of the truth.
`|` is a wide gap, as before a price in a column: in the truth a space."""

import os
import string

HERE = os.path.dirname(os.path.abspath(__file__))
SIGNS = open(f"{HERE}/alphabet.txt", encoding="utf8").read().split("\n")[:-1]

GIVEN = """Arthur Alfred Ada Agnes Albert Alice Amelia Ann Annie Anthony Barbara Benjamin Bertram Caroline Catherine
Cecil Charles Charlotte Clara Daniel David Dorothy Edith Edmund Edward Edwin Eleanor Eliza Elizabeth Ellen Emily Emma
Ernest Esther Ethel Eva Fanny Florence Frances Francis Frank Fred. Frederick George Gertrude Gilbert Grace Hannah
Harold Harriet Helen Henry Herbert Hester Horace Hugh Isaac Isabel Jabez Jacob James Jane Jessie Joan John Jonathan
Joseph Joshua Josiah Julia Kate Laura Lawrence Leonard Lewis Lilian Louisa Lucy Mabel Margaret Maria Martha Mary
Matilda Maud Nathaniel Nicholas Oliver Oscar Percy Peter Philip Phoebe Ralph Rachel Rebecca Reginald Richard Robert
Rosa Rupert Ruth Samuel Sarah Septimus Sidney Silas Sophia Stephen Susan Thomas Victor Vincent Violet Walter Wilfred
William Winifred Jean Pierre Hans Karl Luigi Giovanni Émile René Jürgen""".split()
SHORT = "W^m Jn^o Tho^s Cha^s Ja^s Geo. Rob^t Rich^d Sam^l Hy. Edw^d Jos. Benj^n Fred^k Alex^r Ch^s M^r M^rs Mess^rs Messrs. Miss Mrs. Mr. Dr. Rev. Sir Capt. Col. Esq. Esq^r Lady Lord Hon.".split()
TRADES = """artists' colourman|artists' colourmen|carver & gilder|carvers and gilders|picture frame maker|picture framers|
frame maker|gilder|printseller|print seller & publisher|looking glass manufacturer|fine art dealer|fine art gallery|
picture restorer|picture cleaner & liner|stationer|bookseller|mounter of drawings|house agent|upholsterer|auctioneers|
valuers|wholesale & retail|removal contractors|packers|prepared canvas|prepared panel|academy board|drawing materials|
every description of frames|pictures cleaned, lined and restored|old frames regilt|established|estimates free|by appointment|
to Her Majesty|to the Royal Family|manufactory|sole agent|depot|late of|successor to|from|opposite the Town Hall|near the Bank|
and at|proprietor|plate glass|washable gold mouldings|oil and water colours|brushes, easels|works of art|framed by|sold by|
telephone|telegrams|registered|trade mark|made in England|London made|warranted|patent|stretcher|mill board|flax canvas|
single primed|Roman|absorbent|moist colours|mounts cut to order""".replace("\n", "").split("|")
STREETS = "Street St. Road Rd. Lane Place Square Sq. Row Terrace Gate Hill Yard Court Parade Crescent Buildings Arcade Market Quay Walk Gardens Passage Bridge".split()
TOWNS = """London Liverpool Manchester Edinburgh Glasgow Dublin Birmingham Bristol Leeds Sheffield York Bath Norwich Exeter
Plymouth Brighton Nottingham Leicester Derby Newcastle-on-Tyne Hull Bradford Halifax Kendal Lancaster Preston Chester
Shrewsbury Worcester Oxford Cambridge Ipswich Canterbury Southampton Portsmouth Aberdeen Dundee Perth Inverness Cork Belfast
Limerick Cardiff Swansea Durham Carlisle Whitby Scarborough Penzance Reading Croydon Kensington Holborn Soho Chelsea Pimlico
W.C. E.C. S.W. W. N.W. S.E. W.1 E.C.4 N.B. Paris Berlin Wien Antwerp Roma""".split()
MONTHS = "January February March April May June July August September October November December Jan. Feb. Mar. Apr. Aug. Sept. Oct. Nov. Dec. Jan^y Feb^y".split()
SUBJECTS = """View of|Landscape with|Portrait of|The|A Study of|Still life with|Moonlight on|Evening near|Cattle by|On the|Ruins of|
Fishing boats off|The Harbour at|Head of a|An Interior at|Sunset,|A Lady with|Summer in|Autumn on|Near""".replace("\n", "").split("|")
THINGS = """river bridge mill castle cottage church sea shore storm boats sheep cattle horses flowers roses fruit girl boy
old man mother child gipsy shepherd harvest snow moor loch glen abbey valley woods lane ferry market gate garden dog fisherman""".split()
OFFICES = """Royal Academy|Royal Society of Artists|Exhibition|Society of Painters|Art Union|Institute|Catalogue No.|Lot|Title|Artist|
Artist's name|Address|Price|Owner|Lent by|Property of|Collection|Gallery|Committee|Return to|Not for sale|Sold|Bought at|
the sale of|Given to|painted by|after|attributed to|signed|dated|Size|Insurance value|No.|Room|Nos.|Stock No.|Ref.|Neg.|Photo|
Glass with care|This side up|Fragile|Varnished|Relined|Cleaned by|copy of|Register|Museum|Loan|Case|Received|Rec^d|Examined|Order""".replace("\n", "").split("|")
WORDS = [w for w in open(f"{HERE}/words.txt", encoding="utf8").read().split("\n") if w] if os.path.exists(f"{HERE}/words.txt") else ["word"]
PROSE = [w for w in open(f"{HERE}/prose.txt", encoding="utf8").read().split("\n") if w] if os.path.exists(f"{HERE}/prose.txt") else []
RUNNING = 0.0  # share of what is written by hand that is running text in any case
FOREIGN = """dans le les des une pour qui avec sur monsieur madame société rue français peintre élève né à côté été être même après
deuxième août février hôtel château église forêt garçon où ça œuvre der die das und ein für über Straße Maler Gemälde schöne große
København Øst værk niño señor città perché più quanto Antwerpen schilderij příliš žluťoučký kůň úpěl obraz město Žižkov""".split()
ONSETS = "b c d f g h j k l m n p r s t v w br ch cl cr dr fl fr gl gr kn pl pr qu sc sh sl sm sn sp st str sw th thr tr tw wh wr y z".split()
NUCLEI = "a e i o u ai au ea ee ie oa oo ou ow y".split()
CODAS = "b ck d f g l ll m n nd ng nt p r rd rn rs s ss st t th tt x ght ms by ton ley ham ford worth well wick field er ing ed".split() + [""] * 20


LATIN = "ac al an ar bry cal can car cer cha cla cor cri cy den di ec er eu fu gla gra gy he hy la lep le li lo ma me mi mo ne no o pel per phy pla po pri pte ra rho ru sa sci sti ta te tri u ve vi xan zy".split()
GENERA = "us a um ia ium is ella ina odes opsis phora aria ora ocarpus onia anthus idium ops es ix inus ptera".split()
SPECIES = "us a um is e ensis ense oides ella atus ata atum icus ica osus osa ifolia inus ina ans ens escens ulum alis ana iana ii i ae orum arum ior".split()
ROMAN = "i ii iii iv v vi vii viii ix x xi xii I II III IV V VI VII VIII IX X XI XII".split()
HABITATS = """on bark|on rocks|old wall|damp woods|sandy shore|by the river|roadside|in marshes|at light|under stones|swept|on heath|
sea cliffs|on oak|garden|meadow|dry bank|moorland|on wood|in the library|north room|staircase|drawing room|attic|back parlour|upper landing""".replace("\n", "").split("|")


def pick(r, of):
    return of[int(r.integers(len(of)))]


PLAIN = {"a": "äääáàâ", "e": "éééèêë", "i": "íîï", "o": "öööóô", "u": "üüüúùû", "c": "çč", "n": "ñ", "r": "ř", "s": "šß", "z": "ž", "y": "ý", "A": "ÄÀ", "E": "ÉÈÊ", "O": "ÖÖ", "U": "ÜÜ", "C": "Ç"}


def accented(r, s, most=2):
    """One letter or two of a word with signs above or below them: letters are to be learnt, not languages."""
    s = list(s)
    for _ in range(int(r.integers(1, most + 1))):
        at = [i for i, c in enumerate(s) if c in PLAIN and (c != "s" or 0 < i)]
        if not at:
            break
        i = pick(r, at)
        s[i] = pick(r, PLAIN[s[i]])
    return "".join(s)


def surname(r):
    s = "".join(pick(r, ONSETS) + pick(r, NUCLEI) + pick(r, CODAS) for _ in range(int(r.integers(1, 4)))).capitalize()
    return accented(r, s, 1) if r.random() < 0.08 else s


def person(r):
    k = r.random()
    first = pick(r, GIVEN) if k < 0.5 else (pick(r, SHORT) if k < 0.7 else " ".join(pick(r, string.ascii_uppercase) + "." for _ in range(int(r.integers(1, 4)))))
    if r.random() < 0.15:
        first = pick(r, SHORT) + " " + first
    tail = pick(r, ["", "", "", "", " & Son", " & Sons", " & Co.", " and Co.", " & C^o", " Bros.", ", R.A.", " Jun^r", " Ltd.", " Esq."])
    return f"{first} {surname(r)}{tail}"


def number(r):
    n = int(10 ** r.uniform(0, 4.2))
    k = r.integers(14)
    return [
        f"{n}", f"No. {n}", f"N^o {n}", f"No {n}", f"{1790 + n % 165}", f"£{n % 900}", f"£{n % 90}.{n % 20}.{n % 12}",
        f"{n % 70}½ x {n % 53}¼", f"{n % 60} × {n % 47} in.".replace("×", "x"), f"{n % 20}/{n % 12}", f"{n % 90} gns.", f"{pick(r, string.ascii_uppercase)}{n}",
        f"{n}{pick(r, string.ascii_letters)}", f"{n:,}",
    ][k]


def date(r):
    d, y = int(r.integers(1, 32)), int(r.integers(1790, 1955))
    ending = {1: "st", 2: "nd", 3: "rd"}.get(d % 10 if d not in (11, 12, 13) else 0, "th")
    return [f"{d} {pick(r, MONTHS)} {y}", f"{pick(r, MONTHS)} {d}^{ending} {y}", f"{d}/{int(r.integers(1, 13))}/{y % 100:02}", f"{pick(r, MONTHS)} {y}", f"{y}", f"{y}-{(y + 1) % 100:02}", f"Est. {y}", f"Estab^d {y}", f"{d}.{int(r.integers(1, 13))}.{y}"][r.integers(9)]


def address(r):
    street = pick(r, [surname(r), pick(r, WORDS).capitalize(), pick(r, "High King Queen Church Great Old Upper Lower North South New Castle".split())])
    out = f"{int(r.integers(1, 240))}{pick(r, ['', '', '', ',', 'a', ' &', ' ½'])} {street} {pick(r, STREETS)}"
    return out + (pick(r, [", ", ". ", " "]) + pick(r, TOWNS) if r.random() < 0.6 else "") + pick(r, ["", "", "", ".", ","])


def word(r):
    k = r.random()
    w = pick(r, WORDS) if k < 0.55 else surname(r).lower() if k < 0.8 else "".join(pick(r, string.ascii_lowercase) for _ in range(int(r.integers(1, 9)))) if k < 0.93 else pick(r, FOREIGN)
    if r.random() < 0.05:
        w = accented(r, w)
    k = r.random()
    return w if k < 0.62 else w.capitalize() if k < 0.85 else w.upper()


def place_on_earth(r):
    """Latitude and longitude as maps, survey labels and collectors' slips give them."""
    gap, tail = pick(r, ["", "", " "]), pick(r, ["", " ", " "])

    def one(most, sides):
        d, m = int(r.integers(0, most)), int(r.integers(0, 60))
        return pick(r, [f"{d}°{gap}{m:02}'{tail}", f"{d}°{gap}{m:02}.{int(r.integers(10))}'{tail}", f"{d}°{gap}{m:02}'{int(r.integers(60)):02}\"{tail}", f"{d}°{tail}", f"{d}.{int(r.integers(10000)):04}°{tail}"]) + pick(r, sides)

    k = int(r.integers(6))
    if k == 0:
        return f"{int(r.integers(1, 99))}°{pick(r, ['', ' F', 'C', ' C.', '.'])}"
    if k == 1:
        return f"{pick(r, ['Lat.', 'lat.', 'Long.', 'Lat. ', 'Long. '])}{one(90, 'NS')}"
    return one(90, "NS") + pick(r, [", ", "; ", " ", ",", " x "]) + one(180, "EW")


def words(r):
    out = [word(r) for _ in range(int(r.integers(1, 8)))]
    for i in range(len(out)):
        k = r.random()
        if k < 0.1:
            out[i] += pick(r, [",", ",", ".", ".", ";", ":", "!", "?", "'s", "—"])
        elif k < 0.13:
            out[i] = pick(r, ["({})", '"{}"', "'{}'", "[{}]", "«{}»", "-{}"]).format(out[i])
        elif k < 0.18:
            out[i] = number(r)
    return " ".join(out)


def mess(r):
    """Signs at random, so that none depends on its neighbours."""
    n = int(r.integers(1, 16))
    pool = pick(r, [string.ascii_uppercase, string.ascii_letters, string.digits, string.digits + "./-£", string.ascii_letters + string.digits, "".join(SIGNS[1:])])
    s = "".join(pick(r, pool) for _ in range(n))
    return " ".join(s[i : i + 5] for i in range(0, len(s), 5)) if r.random() < 0.5 else s


def title(r):
    s = f"{pick(r, SUBJECTS)} {pick(r, ['the ', '', 'a ', pick(r, WORDS) + ' '])}{pick(r, THINGS)}"
    if r.random() < 0.4:
        s += pick(r, [", ", " near ", " at "]) + pick(r, TOWNS + [surname(r)])
    return pick(r, ["{}", "“{}”".replace("“", '"').replace("”", '"'), "{}."]).format(s)


def office(r):
    return f"{pick(r, OFFICES)}{pick(r, [' ', ': ', ' . . . ', ' — '])}{pick(r, [number, person, date, title, address, words])(r)}" if r.random() < 0.75 else pick(r, OFFICES)


def binomial(r):
    """A made name in Latin form, of a genus and mostly a species, now and then with who named it."""
    def stem(n):
        return "".join(pick(r, LATIN) for _ in range(n))

    genus = (stem(int(r.integers(1, 4))) + pick(r, GENERA)).capitalize()
    species = stem(int(r.integers(1, 3))) + pick(r, SPECIES)
    k = r.random()
    out = genus if k < 0.12 else species if k < 0.2 else f"{genus[0]}. {species}" if k < 0.33 else f"{genus} {species}" if k < 0.92 else f"{genus} sp."
    if r.random() < 0.2:
        out += " " + pick(r, ["var. ", "v. ", "f. ", "subsp. ", "ssp. "]) + stem(1) + pick(r, SPECIES)
    if r.random() < 0.35:
        who = pick(r, ["L.", "Linn.", surname(r), surname(r)[:4] + ".", pick(r, string.ascii_uppercase) + "." + surname(r)])
        out += pick(r, [" {}", " ({})", " {} {}", ", {}"]).format(who, int(r.integers(1758, 1950)))
    return out


def collected(r):
    """What a collector or keeper notes: day and month, place and height, finder, shelf and stock marks, sums."""
    d, m, y = int(r.integers(1, 32)), pick(r, ROMAN), int(r.integers(1800, 1955))
    initials = "".join(pick(r, string.ascii_uppercase) + pick(r, [".", ".", ". "]) for _ in range(int(r.integers(1, 4)))).strip()
    n, k = int(10 ** r.uniform(0.3, 4)), int(r.integers(20))
    return [
        f"{d}.{m}.{y}", f"{d}.{m.upper()}.{y % 100:02}", f"{d}. {m.upper()}. {y}", f"{d}-{m}-{y}", f"{d}/{m.lower()} {y}",
        f"leg. {initials} {surname(r)}", f"{pick(r, ['det.', 'Det.', 'Coll.', 'coll.', 'ex coll.', 'Legit', 'ded.', 'Leg.', 'Don.', 'ex Herb.', 'Herb.', 'Mus.'])} {surname(r)}",
        f"{initials} {surname(r)}{pick(r, ['', '', ' ' + str(y), ', ' + str(y)])}", initials,
        f"{pick(r, ['alt.', 'ca.', 'c.', 'Alt.', ''])} {10 * int(r.integers(1, 300))} {pick(r, ['m', 'm.', 'ft.', 'ft', 'feet', 'metres'])}".strip(),
        f"{int(r.integers(0, 90))}°{int(r.integers(0, 60)):02}'{pick(r, ['', ' '])}{pick(r, 'NSEW')}", f"{int(r.integers(0, 90))}° {int(r.integers(0, 60))}' {int(r.integers(0, 60))}\"",
        f"{y}.{int(r.integers(1, 13))}.{int(r.integers(1, 31))}.{n % 400}", f"{y}-{n % 900}", f"{pick(r, ['Reg. No.', 'Acc. No.', 'Cat. No.', 'Neg. No.', 'No', 'N°', 'No.', 'Inv.', 'Inv. Nr.', 'Lot', 'Case', 'Frame'])} {n}{pick(r, ['', '', 'a', '/' + str(d)])}",
        f"{pick(r, string.ascii_uppercase)}.{n % 900}.{y}", f"£{n % 60}-{d % 20}-{y % 12}", f"£{n % 60} {d % 20}s {y % 12}d", f"{d % 20}s. {y % 12}d.", f"{pick(r, HABITATS)}{pick(r, ['', '.', ', ' + pick(r, TOWNS), ' nr. ' + surname(r)])}",
    ][k]


KIN = "mother father wife husband son daughter brother sister aunt uncle grandmother grandfather cousin friend nephew niece godmother".split()
COMMON = """the of and to in a is was it that for by with as at from on his her my this be not have which had or were are been he she they
their all one no if an but we so when there would will your our very much some most only any who what has him me up out than into its made
after before during about over under between since until where while also other same first last old new good great small large""".split()
NOTES = """{This} {picture} {came} {from} {place}|{This} {picture} {came} {from} {owner}|{got} of {owner}, {date}|{got} at {sale}, {date}|{got} from {owner} for {price}|
the property of {owner}|belongs to {owner}, {place}|given to me by my {kin} {date}|left to {owner} by {his} {kin}|painted by {owner} in {date}|
painted for my {kin} about {year}|said to be by {owner}|copied from the original at {place}|copy after {owner} by {owner}|hung in the {room} at {place}|
{room}, over the fireplace|this belonged to my {kin}|to be returned to {owner}, {place}|lent to the exhibition at {place} in {year}|please send to {owner} {place}|
cleaned and relined by {owner} {date}|relined {year} by {owner}|new frame made by {owner} {date}|frame {price}|cost {price} with the frame|paid {price} to {owner}|
sold to {owner} for {price}|for sale, price {price}|price {price} with frame|not to be sold|bought in at {price}|lot {n} in the sale of {owner}|{This} is the {kin} of {owner}|
portrait of my {kin} {owner}|taken in the year {year}|aged {n} years|born {date}, died {date}|view from the {room} window|exhibited at {place} {year} no. {n}|
see my letter of {date}|from the collection of the late {owner}|by descent to {his} {kin} {owner}|inherited from {owner} {year}|with {owner}, {place}, {year}|
{owner} dealer, of {place}, {got} in {year}|one of a pair, the other with {owner}|companion to no. {n}|signed on the back|never to leave the family|
for my {kin} on {his} wedding day|with the artist's compliments|to {owner} from {his} {kin}|in memory of {owner}|I {got} this of {owner}|do not varnish before {year}""".replace("\n", "").split("|")


def note(r):
    """What an owner, a dealer or a framer writes on a back."""
    fill = {
        "This": lambda: pick(r, ["this", "this", "the", "the above"]), "picture": lambda: pick(r, "picture painting portrait sketch drawing landscape panel canvas view".split()),
        "came": lambda: pick(r, ["came", "was bought", "was sent", "was purchased", "was had"]), "from": lambda: pick(r, ["from", "out of", "from the house of", "from the sale at"]),
        "got": lambda: pick(r, ["bought", "bought", "purchased", "had", "acquired", "received"]), "sale": lambda: f"{pick(r, ['the sale of', surname(r) + chr(39) + 's, the sale of', 'auction,'])} {surname(r)}",
        "owner": lambda: person(r) if r.random() < 0.7 else f"{pick(r, ['Mr', 'Mrs', 'Miss', 'Lady', 'Dr', 'the Rev.'])} {surname(r)}", "his": lambda: pick(r, ["his", "her"]), "kin": lambda: pick(r, KIN),
        "place": lambda: pick(r, [address(r), pick(r, TOWNS), f"{surname(r)} {pick(r, ['Hall', 'House', 'Park', 'Court', 'Lodge', 'Manor', 'Abbey'])}", f"{surname(r)}, {pick(r, TOWNS)}"]),
        "room": lambda: pick(r, "library dining-room hall study bedroom parlour staircase school-room drawing-room nursery gallery".split()), "date": lambda: date(r), "year": lambda: str(int(r.integers(1780, 1960))),
        "price": lambda: price(r), "n": lambda: str(int(r.integers(1, 400))),
    }
    out = pick(r, NOTES)
    for name, make in fill.items():
        while "{" + name + "}" in out:
            out = out.replace("{" + name + "}", make(), 1)
    return out[:1].upper() + out[1:] + pick(r, ["", "", ".", ".", ",", " —"]) if r.random() < 0.8 else out


def price(r):
    n = int(10 ** r.uniform(0.5, 4.2))
    return pick(r, [f"£{n}", f"£{n}.", f"£{n % 200}. {n % 20}. {n % 12}", f"£{n % 90} {n % 20}s", f"{n} gns", f"{n} guineas", f"{n} fr.", f"{n}", f"${n}.{n % 100:02}", f"{n % 20}/{n % 12}", f"{n % 20}/-", f"£{n % 900} - {n % 20} - {n % 12}", f"{n} francs", f"{n} M."])


def prose(r):
    """A stretch of running text, of the lines given or of the commonest words with others among them."""
    if PROSE and r.random() < 0.7:
        s = pick(r, PROSE).split()
        n = int(r.integers(2, 11))
        at = int(r.integers(0, max(1, len(s) - n + 1)))
        return " ".join(s[at : at + n])
    out = [pick(r, COMMON) if r.random() < 0.6 else pick(r, WORDS) for _ in range(int(r.integers(3, 10)))]
    if r.random() < 0.4:
        out[int(r.integers(len(out)))] += pick(r, [",", ",", ".", ";"])
    return " ".join(out)


def catalogue(r):
    """A line of a catalogue or price list: number and full stop, title or name, dots, dashes or a gap, price."""
    lead = pick(r, [f"{int(10 ** r.uniform(0, 3.4))}. ", f"{int(10 ** r.uniform(0, 3.4))}. ", f"{int(r.integers(1, 900))} ", f"No. {int(r.integers(1, 400))}. ", f"{int(r.integers(1, 99))}.", ""])
    who = pick(r, [title, title, person, lambda r: " ".join(word(r) for _ in range(int(r.integers(1, 4)))), lambda r: f"{surname(r)} ({pick(r, GIVEN)})", lambda r: surname(r).upper() + "."])(r)[:30]
    dots = int(r.integers(2, 14))
    gap = pick(r, [" ... ", "...", " .... ", "|", "|", "|", " — ", ". ", " " + ". " * dots, "." * dots + " ", "|" + "." * int(r.integers(2, 6)) + "|", "|. .|", " - "])
    tail = pick(r, [lambda: str(int(10 ** r.uniform(0.5, 4.5))), lambda: str(int(10 ** r.uniform(0.5, 4.5))), lambda: price(r), lambda: f"{int(10 ** r.uniform(0.5, 4.5)):,}", lambda: f"{int(r.integers(1, 400))} 00", lambda: "Id."])()
    k = r.random()
    out = lead + who + gap + tail if k < 0.75 else lead + who + pick(r, [".", ".", ". —", ".—", " —", "|", ";"]) if k < 0.95 else gap + tail
    return out + pick(r, ["", "", "", ".", ".", " —", ".—", " fr.", " »"])


def written(r):
    """One line as written by hand on a back: prose, notes, names, titles, addresses, dates, prices."""
    if r.random() < RUNNING:
        return trimmed(r, prose(r))
    k = r.random()
    s = prose(r) if k < 0.38 else note(r) if k < 0.62 else text(r) if k < 0.72 else pick(r, [person, address, date, title, price, number, office, collected])(r)
    return trimmed(r, s)


def text(r):
    """One line, 1 to about 60 signs; may hold `^` and `|`."""
    k = r.random()
    if k < 0.15:
        s = words(r)
    elif k < 0.185:
        s = prose(r)
    elif k < 0.225:
        s = note(r)
    elif k < 0.26:
        s = catalogue(r)
    elif k < 0.32:
        s = mess(r)
    elif k < 0.37:
        s = binomial(r)
    elif k < 0.435:
        s = collected(r)
    elif k < 0.45:
        s = place_on_earth(r)
    elif k < 0.55:
        s = person(r)
    elif k < 0.64:
        s = address(r)
    elif k < 0.71:
        s = pick(r, TRADES) + pick(r, ["", ".", ",", " " + pick(r, TRADES), ", " + pick(r, TOWNS)])
    elif k < 0.79:
        s = number(r)
    elif k < 0.85:
        s = date(r)
    elif k < 0.92:
        s = office(r)
    else:
        s = title(r)
    k = r.random()
    if k < 0.2 and "^" not in s:
        s = s.upper()
    elif k < 0.3:
        s = s[:1].upper() + s[1:]
    if len(s) > 4 and r.random() < 0.08:
        at = int(r.integers(1, len(s) - 1))
        s = s[at:] if r.random() < 0.5 else s[:at]
    return trimmed(r, s)


def trimmed(r, s):
    s = " ".join("".join(c for c in s if c in SIGNS or c in "^|").split())
    if r.random() < 0.75:
        s = s[:46]
    s = s.replace("^ ", " ").rstrip("^| ").lstrip("| ")
    return s[:64] if s.strip("^| ") else number(r)
