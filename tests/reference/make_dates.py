# Needs: Python 3 with convertdate 2.4.0, pycountry 24.6.1, Babel 2.16.0 and us 3.2.0 (PyPI).
#
# Writes republican.csv (days of the French republic) and published.csv (what published data say of states,
# currencies and statehood) beside it. Run: python3 make_dates.py
import csv
import os

import babel
import pycountry
import us
from babel.core import get_global
from convertdate import french_republican

here = os.path.dirname(os.path.abspath(__file__))
MONTHS = (
    "Vendémiaire Brumaire Frimaire Nivôse Pluviôse Ventôse Germinal Floréal Prairial Messidor "
    "Thermidor Fructidor"
).split()
ROMAN = "I II III IV V VI VII VIII IX X XI XII XIII XIV".split()


def write(name, head, rows):
    with open(os.path.join(here, name), "w", encoding="utf-8", newline="") as f:
        out = csv.writer(f, lineterminator="\n")
        out.writerow(head)
        out.writerows(rows)


rows = []
for year in range(1, 15):
    for k in range(12):
        day = (year * 7 + k * 5) % 30 + 1
        y, m, d = french_republican.to_gregorian(year, k + 1, day, method="equinox")
        rows.append([f"{day} {MONTHS[k]} an {ROMAN[year - 1]}", f"{y:04}-{m:02}-{d:02}"])
write("republican.csv", ["text", "edtf"], rows)

published = []
currencies = get_global("territory_currencies")


def money(wording, clue, territory, code, first):
    """first: whether the table's first date is that of the data."""
    for entry in currencies[territory]:
        if entry[0] == code:
            (_, start, end, _tender) = entry
            s = "-".join(f"{n:02}" for n in start) if start and first else ""
            e = "-".join(f"{n:02}" for n in end) if end else ""
            published.append([wording, clue, s, e, f"Unicode CLDR supplemental currency data (Babel {babel.__version__})"])


money("prix 450 NF", "nouveaux francs", "FR", "FRF", True)
money("45 Deutsche Mark", "Deutsche Mark", "DE", "DEM", True)
money("500 lire", "lire", "IT", "ITL", False)
money("20 gulden", "gulden", "NL", "NLG", False)
money("100 Schilling", "Austrian schilling", "AT", "ATS", False)

gdr = [c for c in pycountry.historic_countries if c.alpha_2 == "DD"][0]
published.append(
    ["Leipzig, DDR", "German Democratic Republic", "", gdr.withdrawal_date, f"ISO 3166-3 (pycountry {pycountry.__version__}): withdrawal"]
)
soviet = [c for c in pycountry.historic_countries if c.alpha_2 == "SU"][0]
published.append(["Moscow, U.S.S.R.", "Soviet Union", "", soviet.withdrawal_date, f"ISO 3166-3 (pycountry {pycountry.__version__}): withdrawal"])
for wording, clue, state in [
    ("Fargo, Dakota Territory", "Dakota Territory", "ND"),
    ("Seattle, Washington Territory", "Washington Territory", "WA"),
    ("Salt Lake City, Utah Territory", "Utah Territory", "UT"),
    ("Tucson, Arizona Territory", "Arizona or New Mexico Territory", "AZ"),
    ("Tulsa, Indian Territory", "Indian Territory", "OK"),
]:
    year = us.states.lookup(state).statehood_year
    published.append([wording, clue, "", str(year), "years of statehood (us 3.2.0)"])
write("published_data.csv", ["wording", "clue", "not_before", "not_after", "source"], published)
