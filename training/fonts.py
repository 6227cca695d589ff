"""Gathers the fonts of the line maker from unpacked npm and Debian packages and cuts them down.

    python fonts.py NODE_MODULES DEBIAN_DIR OUT_DIR

* NODE_MODULES: where `npm install` of the packages named in `fonts.csv` put them
* DEBIAN_DIR: one folder a Debian package, unpacked with `dpkg -x`
* OUT_DIR: gets one small font file a face and `fonts.json`: file, family, class, part

Writes `fonts.csv` beside this script: family, class, part (train, unseen), package, version,
licence. The part is drawn once a family from a fixed seed and read back from `fonts.csv` afterwards,
so that no face of an unseen family is ever trained on. Needs fonttools and brotli.
"""

import csv
import glob
import hashlib
import json
import os
import re
import sys

from fontTools import subset
from fontTools.ttLib import TTFont

HERE = os.path.dirname(os.path.abspath(__file__))
SIGNS = open(f"{HERE}/alphabet.txt", encoding="utf8").read().split("\n")[:-1]

SCRIPT = """alex-brush allura great-vibes herr-von-muellerhoff italianno monsieur-la-doulaise montecarlo
mr-de-haviland parisienne pinyon-script rochester tangerine sacramento birthstone corinthia ephesis
licorice ms-madi whisper dancing-script courgette cookie grand-hotel satisfy yellowtail damion
kaushan-script lobster lobster-two pacifico condiment marck-script bad-script oooh-baby smooch vibur
berkshire-swash typoscript z003 kristi romandeadfscriptstd rufscript
aguafina-script allison arizonia babylonica ballet bilbo bilbo-swash-caps birthstone-bounce bonheur-royale caramel carattere
charm charmonman clicker-script comforter comforter-brush dr-sugiyama eagle-lake engagement estonia euphoria-script explora
felipa fleur-de-leah fondamento fuggles grey-qo gwendolyn hurricane imperial-script ingrid-darling inspiration island-moments
jim-nightshade kapakana kings kolker-brush leckerli-one lovers-quarrel love-light lugrasimo luxurious-script mea-culpa meddon
meie-script merienda miss-fajardose molle moon-dance mr-bedfort mr-dafoe mrs-saint-delafield my-soul mynerve neonderthaw niconne
norican passions-conflict petit-formal-script princess-sofia puppies-play quintessential qwigley qwitcher-grypen redressed
romanesco rouge-script ruthie send-flowers sofia square-peg stalemate style-script the-nautigal updock
vujahday-script water-brush waterfall windsong yesteryear league-script""".split()
HAND = """stevehand delphine becauseweBuild joscelyn dkg dkgbd dkgit breip femkeklaver havana
domestic_manners winks it_wasn_t_me ecolier-court humor-sans tomsontalks isabella swift markedfool""".lower().split()
BLACKLETTER = """unifrakturcook unifrakturmaguntia germania-one medievalsharp uncial-antiqua blankenburg
purple-purse pirata-one grenze-gotisch new-rocker metamorphous""".split()
STENCIL = """black-ops-one saira-stencil-one wargames stardos-stencil sirin-stencil allerta-stencil emblema-one
keania-one""".split()
DIDONE = """abril-fatface bodoni-moda playfair playfair-display prata gfs-didot old-standard-tt rufina
dm-serif-display dm-serif-text yeseva-one shippori-mincho solidemirage c059 berenisadfpro gloock
nimbusroman libre-caslon-condensed""".split()
SLAB = """alfa-slab-one arvo besley bitter bree-serif graduate hepta-slab josefin-slab roboto-slab
rokkitt sanchez slabo-13px slabo-27px zilla-slab patua-one suez-one aleo mekanusadfstd
mekanusadftitlingstd""".split()
CAPS = "cormorant-sc im-fell-english-sc cinzel cinzel-decorative marcellus aboreto italiana".split()
TYPEWRITER = """special-elite gnutypewriter tlwgtypewriter nimbusmonops freemono liberationmono
monof55 monof56 cutive""".split()
LEFT_OUT = """modak monoton nosifer freehand creepster finger-paint fredericka-the-great cabin-sketch
bungee anybody d050000l standardsymbolsps penguinattack flatline junkyard progenisis balker
zainer-initials45mm unicode solidemiragemono spicy-rice coiny rammetto-one shantell-sans wargames
el_abogado_loco markedfool joscelyn""".split()
ALIKE = ("playwrite-", "edu-", "birthstone", "shadows-into-light")  # drawn like one that is trained on: none of them is unseen
WANTED_PARTS = {"print": 0.13, "script": 0.14, "hand": 0.14, "typewriter": 0.2, "stencil": 0.5, "blackletter": 0.2}


def kind_of(family, category, package):
    f = family.lower()
    if f in STENCIL:
        return "stencil"
    if f in BLACKLETTER or package == "fonts-gotico-antiqua":
        return "blackletter"
    if f in SCRIPT:
        return "script"
    if f in HAND or category == "handwriting" or package in ("fonts-bwht", "fonts-sjfonts"):
        return "hand"
    if f in TYPEWRITER or category == "monospace":
        return "typewriter"
    return "print"


def style_of(family, category):
    f = family.lower()
    for name, families in (("didone", DIDONE), ("slab", SLAB), ("caps", CAPS)):
        if f in families:
            return name
    return {"sans-serif": "grotesque", "display": "display"}.get(category, "old style")


def share(family):
    """Draws a family's fixed place between 0 and 1."""
    return int(hashlib.sha256(f"lines of the back {family}".encode()).hexdigest()[:8], 16) / 2**32


def cut(path, out):
    """Keeps the alphabet's glyphs, without hints or features but kerning; false if it can't serve."""
    font = TTFont(path, lazy=True)
    have = set(font.getBestCmap() or {})
    if not all(ord(c) in have for c in "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789.,"):
        return False
    options = subset.Options()
    options.layout_features = ["kern"]
    options.hinting = False
    options.desubroutinize = True
    options.notdef_outline = True
    options.name_IDs = []
    options.drop_tables += ["DSIG", "GSUB", "FFTM", "STAT", "meta", "MATH", "GDEF"]
    worker = subset.Subsetter(options)
    worker.populate(text="".join(SIGNS))
    font.flavor = None
    try:
        worker.subset(font)
        font.save(out)
    except Exception as fault:  # a broken font is left out and said
        print(f"{path}: {fault}; left out")
        return False
    return os.path.getsize(out) < 110_000


def npm_faces(root):
    for folder in sorted(glob.glob(f"{root}/@fontsource/*")):
        family = os.path.basename(folder)
        meta = json.load(open(f"{folder}/metadata.json"))
        version = json.load(open(f"{folder}/package.json"))["version"]
        licence = meta.get("license")
        licence = licence.get("type") if isinstance(licence, dict) else licence
        licence = json.load(open(f"{folder}/package.json")).get("license", licence)
        weights = meta["weights"]
        faces = [(400 if 400 in weights else weights[len(weights) // 2], "normal")]
        if meta["category"] == "serif":
            faces += [(w, "normal") for w in (700,) if w in weights]
            faces += [(faces[0][0], "italic")] if "italic" in meta["styles"] else []
        elif meta["category"] == "monospace" or (meta["category"] == "sans-serif" and share(family + "bold") < 0.5):
            faces += [(700, "normal")] if 700 in weights else []
        for weight, style in faces:
            path = f"{folder}/files/{family}-latin-{weight}-{style}.woff2"
            if os.path.exists(path):
                yield path, family, meta["category"], f"@fontsource/{family}", version, licence


def debian_faces(root):
    for folder in sorted(glob.glob(f"{root}/*")):
        package = os.path.basename(folder)
        version = ""
        for deb in glob.glob(f"{root}/../{package}_*.deb"):
            version = os.path.basename(deb).split("_")[1].replace("%3a", ":")
        words = open(glob.glob(f"{folder}/usr/share/doc/{package}/copyright")[0], encoding="utf8", errors="replace").read()
        licence = next((n for key, n in (("OFL", "OFL-1.1"), ("SIL", "OFL-1.1"), ("Bitstream", "Bitstream"), ("ADF", "GPL-2+ with font exception"), ("Font exception", "GPL with font exception"), ("Font Exception", "GPL with font exception"), ("FontException", "GPL with font exception"), ("public-domain", "public domain"), ("public domain", "public domain"), ("Apache", "Apache-2.0"), ("LGPL", "LGPL-2+"), ("GPL", "GPL")) if key in words), "see package")
        for path in sorted(glob.glob(f"{folder}/**/*.[ot]tf", recursive=True)):
            name = os.path.basename(path)[:-4]
            if re.search(r"Oblique|Math|Light|Medium|Semi|Expanded|Condensed|BoldItalic|BdItalic|BdIta|BI$|Ext|BoldCondIt|Demi(?!$)|half|Heavy|CondItalic|Style", name):
                continue
            family = re.sub(r"[-_]?(Regular|Bold|Italic|Roman|Book|Cond|ExtraBold|CondItalic|BoldCond|Narrow|Bd|It)$", "", name).lower()
            yield path, family, "serif", package, version, licence


def main():
    npm, debian, out = sys.argv[1:]
    os.makedirs(out, exist_ok=True)
    rows, faces, size = {}, [], 0
    for path, family, category, package, version, licence in [*npm_faces(npm), *debian_faces(debian)]:
        if family.lower() in LEFT_OUT:
            continue
        target = f"{out}/{len(faces):03}.ttf"
        if not cut(path, target):
            if os.path.exists(target):
                os.remove(target)
            continue
        kind = kind_of(family, category, package)
        style = style_of(family, category) if kind == "print" else kind
        size += os.path.getsize(target)
        faces.append({"file": os.path.basename(target), "family": family, "class": kind, "style": style})
        rows[family] = [family, kind, style, "train", package, version, licence]
    # a family keeps the part that it has, since a network that is trained on may have seen it; new ones are drawn
    known = {}
    if os.path.exists(f"{HERE}/fonts.csv"):
        with open(f"{HERE}/fonts.csv", newline="", encoding="utf8") as f:
            known = {row["family"]: row["part"] for row in csv.DictReader(f)}
    for family, row in rows.items():
        drawn = "unseen" if share(family) < WANTED_PARTS[row[1]] and not family.startswith(ALIKE) else "train"
        row[3] = known.get(family, drawn)
    for face in faces:
        face["part"] = rows[face["family"]][3]
    json.dump(faces, open(f"{out}/fonts.json", "w"), indent=0)
    with open(f"{HERE}/fonts.csv", "w", newline="", encoding="utf8") as f:
        w = csv.writer(f, lineterminator="\n")
        w.writerow(["family", "class", "style", "part", "package", "version", "licence"])
        w.writerows(rows[k] for k in sorted(rows))
    print(f"{len(faces)} faces of {len(rows)} families, {size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
