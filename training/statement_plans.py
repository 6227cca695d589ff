"""Plans of marks: which lines stand on each kind, in many wordings and five languages. `{role}` a statement, `<role>` a heading.

Wordings are parted by `|`; each belongs to a fold (see `make_statements.py`).
"""


def maybe(k, chance, *lines):
    return list(lines) if k.m.p(chance) else []


def address_lines(k, n=""):
    """Where a firm stands."""
    a, t = f"{{address{n}}}", f"{{town{n}}}"
    en = f"{a}, {t}|{a}, {t}.|{a} / {t}|{a}, / {t}.|{a}. {t}|{a} {t}|{t}, {a}|{t} / {a}|at {a}, {t}|{a}, near the Bank, {t}|{a} (opposite the Church), {t}|{a} (next the Post Office), {t}|{a} (facing the Park), {t}|{a} (first floor), {t}|{a}, by the Bridge, {t}|{a}, over the Bank, {t}|{a}, top of the Hill, {t}|{a}, behind the Exchange, {t}|{a} [{t}]|{t}: {a}|at {a} in {t}|{a}, of {t}|No. {a}, {t}|{a}, {t}. W.|{a}|{t}|{t}.|of {t}|{a}; {t}|{a} — {t}|in {a}, {t}|{a}, in {t}|{a}, corner of the Market Place, {t}|{a}, {t}, England|Gallery: {a}, {t}|Works, {a}, {t}|{a}, {t}, S.W.|{t} ({a})|of {a}, {t}|{t}; {a}|{t}, at {a}|{a} in {t}|{a}; and at {t}"
    other = f"{a}, {t}|{a} / {t}|{a} - {t}|{t}, {a}|{t}|{a}|{t} / {a}|{a}, {t}.|{a} {t}|{t} — {a}"
    return k.say("address", en if k.lang == "en" else other).split(" / ")


def noises(k, most):
    return [k.noise() for _ in range(k.r.randrange(0, most + 1))]


def maker(k):
    lang = k.lang
    name = k.say("maker", "{maker},|{maker}|{maker}.|{maker}|{maker} late of {address3}|{maker}, late Mr. Ellis|{maker} successor to J. Rand|from {maker},|<maker> {maker}|{maker}, {trade},|{maker}, {trade}|{maker} ({trade})|The shop of {maker}|at {maker} 's|{trade}: {maker}|{trade} {maker}|{trade}, {maker}|{trade} — {maker}|{maker} removed from {address3}|{maker}, formerly of {address3}|{maker} from {address3}|{maker} (late {address3})|{maker}, many years at {address3}|{maker}, removed to|{maker}: {trade}|{maker} — {trade}|{maker}, the {trade}|{maker}; {trade}" if lang == "en" else "{maker}|{maker}|{maker},|<maker> {maker}|{maker}, {trade}|{maker} - {trade}|{trade} {maker}|{trade}: {maker}|{trade}, {maker}|{trade} — {maker}|{maker} ({trade})|{maker}. {trade}|{maker} {trade}|{trade} - {maker}|{trade}. {maker}")
    lines = [name]
    if "{trade}" not in name:
        t = k.say("trade", "{trade}|{trade},|{trade}.|{trade} to the Queen|Practical {trade}|{trade} &c.|General {trade}|{trade} to Her Majesty|Wholesale {trade}|Working {trade}|Manufacturing {trade}|Ornamental {trade}|{trade} to the Trade|{trade} to the King|{trade} to His Royal Highness|{trade} by appointment|Experienced {trade}|the old-established {trade}|{trade} etc.|{trade} for home and export|Fancy {trade}|Artistic {trade}|{trade} to the Nobility|Licensed {trade}" if lang == "en" else "{trade}|{trade},|{trade}|{trade}.|{trade} etc.|({trade})")
        lines += maybe(k, 0.72, t)
    if k.m.p(0.15):
        lines.reverse()
    where = address_lines(k) if k.m.p(0.9) else []
    middle = noises(k, 2) if k.m.p(0.35) else []
    lines += middle + where if k.m.p(0.5) else where + middle
    if k.m.p(0.12):
        lines += [k.say("also", "and at {address2}, {town2}|Also at {address2}, {town2}.|Branch: {address2}, {town2}|& {address2}, {town2}|and {town2}|also {town2}|Works: {address2}|{town2} and {town3}")]
    lines += maybe(k, 0.1, k.say("estab", "Established {estab}|Estabd {estab}|Established in {estab}|Est. {estab}|Estabd. {estab}.|Established A.D. {estab}|since {estab}|Founded {estab}" if lang == "en" else "{estab}|Fondée en {estab}|Gegründet {estab}|Opgericht {estab}|Fondata {estab}"))
    lines += maybe(k, 0.1, k.say("makerno", "No. {stock_number}|<stock_number> {stock_number}|Order No. {stock_number}|No {stock_number}|{unknown_number}"))
    lines += maybe(k, 0.06, "{maker2}, {town2}") if "maker" in str(lines) else []
    if k.m.p(0.1):
        extra = k.say("forwhom", "<owner> {owner}|<size> {size}|{size}|<date> {date}|{date}|<title> {title}|Framed for {owner}|To frame for {owner}, {date}|{owner}")
        lines.append(extra)
    return lines


def stamp(k):
    name = k.say("stamp", "{maker} / {town}|{maker} {town}|{maker} / {address} / {town}|{maker}, {address}, {town}|{maker} / {trade} / {address} / {town}|{maker}|Prepared by / {maker} / {address} / {town}|{maker} / prepared canvas / {town}|{trade} / {maker} / {town}|{maker} MAKER {town}|{maker} / {trade} / {town}|{town} / {maker}|Manufactured by {maker}, {town}|PREPARED BY {maker} {address} {town}|{maker} / {address}|{maker}'s panel")
    return name.split(" / ") + maybe(k, 0.12, "{size}") + maybe(k, 0.08, "{unknown_number}")


def dealer(k):
    name = k.say("dealer", "{dealer}, {trade}|{dealer} / {trade}|<dealer> {dealer}|{dealer} (Fine Art)|{dealer} / Works of Art|{trade} {dealer}|{trade} / {dealer}|{dealer} ({trade})|{dealer} — {trade}|<dealer> {dealer}|<dealer> {dealer} / {trade}|{dealer} / Old Masters|{dealer} / Pictures bought and sold|{dealer}: {trade}|{dealer}. {trade}|Sold and guaranteed by {dealer}|Exhibited for sale by {dealer}|Property of {dealer}, {trade}" if k.lang == "en" else "{dealer}, {trade}|{dealer} / {trade}|<dealer> {dealer}|{trade} {dealer}|{dealer} ({trade})|{trade} / {dealer}|{dealer} - {trade}")
    lines = name.split(" / ") + (address_lines(k) if k.m.p(0.75) else [])
    bits = []
    for chance, role in [(0.6, "stock_number"), (0.35, "artist"), (0.35, "title"), (0.12, "price"), (0.12, "size"), (0.1, "medium"), (0.1, "date"), (0.08, "owner")]:
        if k.m.p(chance):
            bits.append(field(k, role))
    if k.m.p(0.8):
        k.r.shuffle(bits)
    return lines + bits + maybe(k, 0.12, k.noise()) if k.m.p(0.7) else bits + lines


BARE = ["title", "artist", "price", "size", "medium", "date", "stock_number", "owner", "artist_address"]


def field(k, role):
    """A heading with its value, or the value alone where its look tells it."""
    if role in BARE and k.m.p(0.25):
        return k.say("bare" + role, f"{{{role}}}|{{{role}}}.|({{{role}}})|{{{role}}}|{{{role}}},")
    return k.say("field" + role, f"<{role}> {{{role}}}|<{role}>: {{{role}}}|<{role}> {{{role}}}|<{role}> / {{{role}}}|<{role}>. {{{role}}}|<{role}> — {{{role}}}|<{role}> {{{role}}}.|<{role}> ... {{{role}}}|<{role}> = {{{role}}}|<{role}>, {{{role}}}")


def split(lines):
    return [b for l in lines for b in l.split(" / ")]


def exhibition_head(k):
    if k.lang == "en":
        return k.say("exhead", "{exhibition} / EXHIBITION {exhibition_year}|{exhibition} / <exhibition_year> {exhibition_year}|{exhibition} {exhibition_year}|{exhibition}, {exhibition_year}|{exhibition_year} / {exhibition}|{exhibition}|{exhibition} / {address}, {town} / {exhibition_year}|{exhibition} / {town}|EXHIBITION OF THE {exhibition} / {exhibition_year}|{exhibition} / Summer Exhibition, {exhibition_year}|{exhibition} / Annual Exhibition {exhibition_year}|{exhibition} / {town} / Season {exhibition_year}|<exhibition> {exhibition} {exhibition_year}|The {exhibition}, {town}, {exhibition_year}|{exhibition} / Fiftieth Exhibition / {exhibition_year}|{exhibition} / Winter, {exhibition_year}|Exhibition {exhibition_year} / {exhibition}|{exhibition} Exhibition {exhibition_year}|{exhibition}. / {exhibition_year}.|EXHIBITION, {exhibition_year}.|Loan Exhibition {exhibition_year} / {exhibition}|{exhibition} Exhibition, / {exhibition_year}|Spring Exhibition of {exhibition_year} / {exhibition}|{town} {exhibition_year} / {exhibition}|Exhibited at the {exhibition}, {exhibition_year}").split(" / ")
    return k.say("exheadx", "{exhibition} / {exhibition_year}|{exhibition} {exhibition_year}|{exhibition} / <exhibition_year> {exhibition_year}|<exhibition_year> {exhibition_year} / {exhibition}|{exhibition}|{exhibition}, {town}, {exhibition_year}|<exhibition> {exhibition} {exhibition_year}|{exhibition_year} / {exhibition}").split(" / ")


def exhibition(k):
    head = exhibition_head(k) if k.m.p(0.9) else []
    roles = [(0.65, "catalogue_number"), (0.85, "title"), (0.85, "artist"), (0.55, "artist_address"), (0.5, "price"), (0.15, "owner"), (0.12, "lender"), (0.15, "consignee"), (0.15, "medium"), (0.1, "size"), (0.05, "date")]
    bits = []
    for chance, role in roles:
        if k.m.p(chance):
            bits.append(f"<{role}> {{{role}}}" if k.m.p(0.5) else field(k, role))
            if role in ("owner", "lender", "consignee") and k.m.p(0.5):
                bits[-1] += k.say("whereto", ", {address3}, {town3}| / {address3}, {town3}|, {town3}| of {town3}")
            if k.m.p(0.04):
                bits.append(f"<{k.r.choice(['price', 'size', 'medium', 'owner', 'lender', 'date'])}>")
    if k.m.p(0.45):
        k.r.shuffle(bits)
    if k.m.p(0.15):
        bits = [" ".join(bits[i : i + 2]) for i in range(0, len(bits), 2)]
    tail = noises(k, 1)
    return head + split(bits) + tail if k.m.p(0.88) else split(bits) + head + tail


def terse(k):
    """Exhibition slips without headings."""
    return k.say("terse", "{catalogue_number} / {title} / {artist} / {price}|{catalogue_number}. {title} / {artist}|{exhibition} / {catalogue_number} / {title} / {artist}|No. {catalogue_number} / {title} / by {artist}|{title} / {artist} / {artist_address}|{artist} / {artist_address} / {title} / {price}|No. {catalogue_number} {title} {artist} {price}|{exhibition} {exhibition_year} / No. {catalogue_number} / {artist}|{artist} / {title} / {exhibition}, {exhibition_year}|{exhibition_year} {exhibition} no. {catalogue_number}|{exhibition} {exhibition_year} No. {catalogue_number}|{title} / by {artist} / {artist_address}|{title}. {artist}. {price}|{exhibition} {exhibition_year} ({catalogue_number})|({catalogue_number}) {title} / {artist}, {artist_address}|No. 1 {title} / {artist} / {artist_address} / {price}|{artist} / {title}|{title} / {artist}|{artist}, {title}, {exhibition} {exhibition_year}, no. {catalogue_number}|{title}, {price}|{title} / {price} / {artist}|{artist} — {title}|{exhibition} / {catalogue_number}|{exhibition_year} / {catalogue_number}|{title} / {artist}, {artist_address}").split(" / ")


def lender(k):
    lines = k.say("lend", "<lender> {lender}|<lender> {lender}, {town3}|<lender> {lender}, / {address3}, {town3}|<lender> {lender} / {town3}|<lender> {lender} of {town3}|<lender> / {lender}|{exhibition} / <lender> {lender}|{exhibition}, {exhibition_year} / <lender> {lender}|Loan Exhibition / {exhibition} {exhibition_year} / <lender> {lender} / <title> {title} / <artist> {artist}|<title> {title} / <artist> {artist} / <lender> {lender} / <consignee> {consignee}|<lender> {lender} / <catalogue_number> {catalogue_number}|{exhibition} / {catalogue_number} / {title} / {artist} / <lender> {lender}|{title} / <lender> {lender}|{lender} (<lender>)|{exhibition} / Lender's name and address / {lender} / {address3}, {town3}|<lender> {lender}, {date}|{artist} / {title} / <lender> {lender}|<lender> {lender} / <price> {price}").split(" / ")
    return lines


def consignee(k):
    return k.say("consign", "<consignee> {consignee}|<consignee> {consignee}, {address3}, {town3}|<consignee> / {consignee} / {address3} / {town3}|<consignee> {consignee} / {town3}|<consignee> {consignee}, {town3}|<consignee> {consignee}, / {address3}, / {town3}.|{instruction} / <consignee> {consignee}, {town3}|<consignee> {consignee} per rail / {town3}|<owner> {owner} / <consignee> {consignee}|<consignee> {consignee} / {instruction}|{artist} / {title} / <consignee> {consignee}, {address3}|<consignee> {consignee} / carriage paid / {town3}|{title} / <consignee> {consignee}, {town3}|{consignee} / {address3} / {town3} / {instruction}|<consignee> / {consignee}|<consignee> {consignee} by goods train|<consignee> {consignee} at {town3}|<consignee> {consignee}, {address3}|{title} / <consignee> / {consignee} / {town3}|<consignee> {consignee}; {address3}; {town3}|<consignee> {consignee} (carriage forward)|{instruction} / {consignee} / {address3}, {town3}").split(" / ")


def sale(k):
    if k.lang == "en":
        return k.say("sale", "{sale} / {sale_date} / <lot> {lot}|{sale} / <lot> {lot}|<lot> {lot} / {sale_date}|<lot> {lot}|{sale} {sale_date} <lot> {lot}|{sale}, {town} / {sale_date} / <lot> {lot}|<sale> {sale} {sale_date} <lot> {lot}|{sale} / {trade} / {address}, {town} / <lot> {lot}|{sale} / {trade} / {town} / {sale_date} / <lot> {lot}|<sale> {sale} / {sale_date}|{sale} / Sale {sale_date} / <lot> {lot}|{lot} / {sale_date}|<lot> {lot} {sale}|{sale} / {lot}|{stock_number}|{sale} stencil {stock_number}|bt at {sale} {sale_date} for {price}|Bought at {sale}, {sale_date}, lot {lot}|Bought at {sale} sale by {owner}|sold {sale} {sale_date} lot {lot} {price}|<lot> {lot} / {title} / {artist}|{sale} <lot> {lot} {price}|{sale_date} / lot {lot}|{sale} {sale_date} ({lot})|sale of {sale_date} / lot {lot}|<lot> {lot} / {sale} / {trade} / {town}|Executors of {owner} / {sale} / {lot}|{sale}, {sale_date}, <lot> {lot}, {price}|{sale} / Day 2 / <lot> {lot}|{sale} / on {sale_date} / No. {lot} in catalogue|{sale} / {sale_date} / No. {lot}|{sale}, {sale_date}, No. {lot}|{sale} catalogue of {sale_date}, {lot}|No. {lot} in the sale of {sale_date} / {sale}|<lot> {lot} / <price> {price}|{artist}, {title}, {sale} {sale_date} lot {lot}|lot {lot} / {sale}, {town} / {sale_date}").split(" / ")
    return k.say("salex", "{sale} / {sale_date} / <lot> {lot}|<lot> {lot}|<sale> {sale} / {sale_date} / <lot> {lot}|{sale} / <lot> {lot}|<sale_date> {sale_date} / {sale} / <lot> {lot}|<sale> {sale}, {town}, {sale_date}, <lot> {lot}|{sale}, {town} / {sale_date} / <lot> {lot}|<sale_date> {sale_date} <lot> {lot}").split(" / ")


def chalk(k):
    return k.say("chalk", "<lot> {lot}|{stock_number}|{unknown_number}|{unknown_number} {unknown_number2}|{unknown_number} / {unknown_number2}|{stock_number} / {stock_number2}|{lot} lot|{size}|{unknown_number} / {size}|{price}|{date}|{size} / {unknown_number}|{price} / {unknown_number}|{unknown_number} / {date}|{sale_date} / {unknown_number}|{town}|<lot> {lot} / {unknown_number}|{part}|{owner}|{size} {medium}|No. {unknown_number}|{unknown_number} x|{part} / {unknown_number}|{owner} / {unknown_number}|{owner} / {town3}|{owner}, {date}").split(" / ")


def owner(k):
    if k.lang == "en":
        return k.say("owner", "<owner> {owner}|<owner> {owner}, {town3}|<owner> {owner} / {address3}, {town3}|<owner> {owner} / {date}|{owner} / {town3}|Given to {owner} by {owner2} {date}|<owner> {owner}, {date}|Presented to {owner} by the artist|Presented to {owner} / {date}|{owner} / {address3} / {town3}|<title> {title} / <owner> {owner}|{title} / <owner> {owner}|Bought of {dealer}, {town} / {date} / {owner}|Bought from {dealer} {date} for {price}|Left to {owner} by her aunt|Bequeathed by {owner}, {date}|<owner> {owner}, No. {stock_number}|{title} / by {artist} / <owner> {owner}|{artist} / {title} / purchased by {owner} {date}|This picture belongs to {owner}|This picture belongs to {owner} of {town3}|From the collection of {owner}, {town3}|{owner}'s picture|{owner} / Front Parlour|{owner}, Drawing Room|Purchased at the {exhibition}, {exhibition_year}, by {owner}|{owner}, from his father, {date}|bought by {owner} at {sale} {sale_date}|To {owner} from {artist}|{owner} his picture {date}|Collection / {owner} / {stock_number}|Purchased by {owner} from the artist|Painted for {owner} by {artist}, {date}|{owner} bought this of {dealer} {date}|By descent to {owner}|{owner} from {owner2}|wedding present from {owner} to {owner2}, {date}").split(" / ")
    return k.say("ownerx", "<owner> {owner}|<owner> {owner}, {town3}|<owner> {owner} / {date}|<owner> {owner} / {address3}, {town3}|{owner}, {town3}|<owner> {owner} / <title> {title}|<title> {title} / <owner> {owner}|<owner> {owner} / <stock_number> {stock_number}").split(" / ")


def inscription(k):
    if k.lang == "en":
        return k.say("insc", "{title} / by {artist} / {date}|{title} / {artist} / {date}|{artist} {date}|{artist} pinxt {date}|{artist} pinxit|{title} / painted by {artist} in {date}|{title} by {artist}|{title}|{artist}|{title} {date}|Painted by {artist} {date}|{title}, painted at {town3} by {artist}|Painted at {town3}, {date}|{artist}, {artist_address}|{artist} / {artist_address}|{artist} / {artist_address} / {title}|{title} / {medium} / {artist}|{artist} del. {date}|{title} after {artist}|copied from {artist} by {owner}|Portrait by {artist}, {date}|{title} / {town3} / {date}|{title} from nature {date}|Signed {artist} {date}|{title}, {medium}, {size}|{medium} by {artist}|{title} / {medium} / {size}|{artist} / {title} / {medium} / {size}|No. {unknown_number} {title} / {artist}|{title} / sketched by {artist}, {town3}, {date}|{artist} fecit {date}|{town3} {date}|{town3}, {date} / {artist}|Attributed to {artist}|{title} ({artist})|Painted by {artist} of {town3}|original by {artist}|By {artist}|{date} / {artist}|{title}, exhibited at {town3} {exhibition_year}|{title} / by {artist} / exhibited at the {exhibition} {exhibition_year}|{artist}, {town3}|engraved from the picture by {artist}|{title} by {artist}, {medium}|{artist} of {town3} / {title} / {date}|{title} / exh. {town3} {exhibition_year}").split(" / ")
    return k.say("inscx", "{title} / {artist} / {date}|<artist> {artist} {date}|{title} / <artist> {artist}|{artist} {date}|{title}|{artist} / {artist_address}|{artist} / {title} / {medium}|{town3} {date}|{artist} / {title} / {size}|{title} / {medium} / {size}|{artist} fecit {date}|{title}, {date}").split(" / ")


def customs(k):
    return k.say("customs", "DOUANE CENTRALE / EXPORTATION / {town}|DOUANE / {town} / {date}|DOUANES FRANÇAISES {town}|Zollamt {town}|DOGANA DI {town}|Customs {town} {date}|ZOLL / {town} / {unknown_number}|CHEMINS DE FER DU NORD / {town}|Passed by H.M. Customs {town}|L. & N.W. Railway / {town}|G.W.R. / {town} to {town2}|Great Northern Railway / From {town} to {town2}|{town} to {town2}|GEPRÜFT Hauptzollamt {town}|Ufficio Esportazione / {town}|from {town} / to {town2} / {instruction}|{instruction} / {town}|Bagages {town}|Parcels Office {town} / {unknown_number}|Visto per l'esportazione {town} {date}|Importation temporaire / {town}|Exportation {town} No {unknown_number}|{town} / {date}|Vu au départ {town}|{town} Station").split(" / ")


def instruction(k):
    return k.say("instr", "{instruction}|{instruction} / {instruction2}|{instruction} {instruction2}|{part}|{instruction} / {part}|{part} / {title}|{instruction} / {unknown_number}|{title} / {part}|{part} {size}|{medium}|{size}|{instruction} / {date}|{part}, {title}, {artist}|{part} / {owner}|{medium} / {size}").split(" / ")


def nothing(k):
    return noises(k, 2) + [k.noise()]


def running(k):
    """Sentences of notes by owners, heirs and clerks."""
    return k.say("running", "{artist} painted this at {town3} in {date} for {owner}|This picture was bought at {sale} in {town} on {sale_date}|Exhibited at the {exhibition} in {exhibition_year} as {title}|Exhibited {exhibition}, {exhibition_year}, No. {catalogue_number}|Exhibited at {town3} {exhibition_year}|Shown at {town3} {exhibition_year} and at {town2} {exhibition_year2}|{title} by {artist}, exhibited {exhibition}, {exhibition_year}|Framed by {maker}, {town}, for {owner}|Frame made by {maker} of {town} {date}|Framed by {maker} {date}, {price}|Cleaned and relined by {maker}, {town} {date}|{owner} of {town3} lent this to the {exhibition} {exhibition_year}|Sold by {dealer} of {town} to {owner} in {date}|{title}, by {artist}. Property of {owner}, {town3}|Bought of {dealer}, {town}, {date}, {price}|Bought by {owner} at {town3}, {date}|This was painted by {artist} when he lived at {town3}|Relined by {maker} {date}|exhibited at {town3} {exhibition_year}, lent by {lender}|The property of {owner}; lent to {town3} Exhibition {exhibition_year}|Lent by {lender} to {exhibition}, {town}, {exhibition_year}|Bt. of {dealer} {date} {price}|from {town3} to {town2}, {date}|{maker}, {town}. For {owner}, {town3}|Supplied by {maker} of {town}, sold by {dealer}, {town2}|{maker} of {town} made the frame and {dealer} sold the picture|frame by {maker}, {town}; picture by {artist}, {town3}|painted by {artist}, framed by {maker}, {address}|{artist}, born at {town3}, died {date}|Sent from {town3} to the {exhibition} {exhibition_year}|Purchased at {town3} by {owner} of {town2}|{owner} bought it at {sale} for {price}|drawn as a prize by {owner} of {town3}, {date}|{owner} had it of {artist} in {date}|My father {owner} bought this from {dealer}, {town}|Exchanged with {dealer} {date}|Restored by {maker}, {address}, {date}|Sent to {consignee} at {town3}, {date}|{artist} gave this to {owner} at {town3}|{title}: sold to {owner}, {date}|Frame from {maker}, {town}; glass by {maker2}|Varnished by {maker} {date}|Lent to the {exhibition}, {exhibition_year}, by {lender} of {town3}|Returned from {exhibition} {exhibition_year}|{sale}, {town}: sold {sale_date}, lot {lot}, to {dealer}|Room 4, {title}, {artist}, {price}|{owner}'s sale, {sale_date}, lot {lot}, bought {dealer}").split(" / ")


def form(k):
    """A printed form: headings in their own order, some left empty, what was written in beside, below or run on."""
    roles = ["catalogue_number", "title", "artist", "artist_address", "price", "medium", "size", "owner", "lender", "consignee", "date", "exhibition_year"]
    chosen = [x for x in roles if k.m.p(0.45)]
    if k.m.p(0.3):
        k.r.shuffle(chosen)
    lines = exhibition_head(k) if k.m.p(0.5) else []
    below = k.m.p(0.15)
    for role in chosen:
        if k.m.p(0.08):
            lines.append(f"<{role}>")
            continue
        lines += [f"<{role}>", f"{{{role}}}"] if below else [f"<{role}> {{{role}}}"]
    if k.m.p(0.12):
        lines = [" ".join(lines)]
    return lines + noises(k, 1)


PLANS = [("written_label", 9, form), ("printed_label", 24, maker), ("stamp", 9, stamp), ("printed_label", 9, dealer), ("printed_label", 18, exhibition), ("written_label", 8, terse), ("written_label", 5, lender), ("printed_label", 4, consignee),
    ("printed_label", 8, sale), ("stencil", 5, chalk), ("inscription", 7, owner), ("inscription", 9, inscription), ("stamp", 4, customs), ("printed_label", 4, instruction), ("printed_label", 4, nothing), ("inscription", 9, running)]
