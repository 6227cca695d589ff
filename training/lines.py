"""Made lines: ink masks drawn from fonts and stroke models, and real lines, in fixed buckets.

A mask is 64 px high, ink 255, the lettering about 44 px of it; its width is one of `BUCKETS`, so
that a batch has one of a few fixed shapes. What ages a line (warp, wear, paper, blur) is added to
the masks later on the GPU (`ageing.py`), anew each time a mask is used.
"""

import csv
import functools
import hashlib
import io
import json
import os
import zipfile

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

import forms
import hands
import texts

TALL = 64
INK = 44
BUCKETS = [80, 128, 176, 224, 288, 352, 416, 480, 560, 640, 736, 832, 928, 1024]
CLASSES = ["print", "script", "hand", "made hand", "typewriter", "stencil", "blackletter", "real hand", "real typed", "real print"]
SHARES = {"print": 0.27, "script": 0.2, "hand": 0.19, "made hand": 0.22, "typewriter": 0.06, "stencil": 0.04, "blackletter": 0.02}
STYLES = {"grotesque": 0.28, "old style": 0.26, "didone": 0.17, "slab": 0.12, "caps": 0.09, "display": 0.12}
UNSEEN_WRITERS = 40  # seeds below it are never trained on
WRITERS = 4000
FILLED_IN = 0.05  # share of made lines that are a printed heading filled in (kind "filled in")
LEFT_OUT = ("cremma-mss-20", "lectaurep-mariages")  # sources whose hands are never trained on
# writers never trained on either, by whom runs are chosen and stopped, so that the others stay a measure: whole
# sources, and of some sources one training page in sixteen
TUNE, TUNE_PAGES = ("berlioz", "celestine"), ("loc-letters", "loc-more", "copiste", "cremma-mss-18")
# of these, all of whose training pages the kept network has seen, one check page in three
TUNE_CHECKS = ("cremma-mss-19", "lectaurep-repertoires", "testaments-de-poilus", "timeus")
NUMBER = {s: i + 1 for i, s in enumerate(texts.SIGNS)}
ALIKE = str.maketrans({"’": "'", "‘": "'", "`": "'", "´": "'", "“": '"', "”": '"', "„": '"', "–": "—", "─": "—", "ӓ": "ä", "Ӓ": "Ä", "ӧ": "ö", "ſ": "s", "×": "x", "…": ".", "^": None, "⟦": None, "⟧": None, "|": None, "<": None, ">": None, "_": None, "~": None})


def truth(text):
    """The text as the network is to write it, or None where it holds a sign that it lacks."""
    text = " ".join(text.translate(ALIKE).split())
    return text if text and all(c in NUMBER for c in text) else None


def bucket(width):
    return next((b for b in BUCKETS if b >= width), None)


class Fonts:
    def __init__(self, folder, part):
        faces = [f for f in json.load(open(f"{folder}/fonts.json")) if f["part"] == part]
        self.folder = folder
        self.by = {}
        for f in faces:
            key = f["style"] if f["class"] == "print" else f["class"]
            self.by.setdefault(key, {}).setdefault(f["family"], []).append(f)

    def face(self, r, key):
        families = self.by[key]
        return texts.pick(r, families[texts.pick(r, list(families))])


@functools.lru_cache(2500)
def font(path, size):
    return ImageFont.truetype(path, size, layout_engine=ImageFont.Layout.BASIC)


@functools.lru_cache(1000)
def covers(path, _=None):
    from fontTools.ttLib import TTFont

    return frozenset(chr(c) for c in TTFont(path, lazy=True).getBestCmap())


@functools.lru_cache(1000)
def only_capitals(path):
    """Whether a face draws capitals, large or lesser, for small letters (then what it shows is capitals).

    Softened pictures of each pair, brought to one size, are correlated; over all faces of `fonts.csv` the
    measure parts the two kinds at 0.74 with four pairs or more above 0.8 (narrow grotesques come nearest).
    """
    f = font(path, 64)
    found = []
    for small in "abdeghnqrt":
        pair = []
        for c in (small, small.upper()):
            box = f.getbbox(c)
            one = Image.new("L", (max(1, box[2] - box[0]), max(1, box[3] - box[1])), 0)
            ImageDraw.Draw(one).text((-box[0], -box[1]), c, font=f, fill=255)
            pair.append(np.asarray(one.resize((24, 24)).filter(ImageFilter.GaussianBlur(1.5)), np.float32).ravel())
        if min(p.std() for p in pair) > 0:
            found.append(np.corrcoef(*pair)[0, 1])
    return len(found) > 5 and float(np.median(found)) > 0.74 and sum(v > 0.8 for v in found) >= 4


def bent(r, ink):
    """Another hand of the same letters: slanted, and each letter pushed about by a smooth field."""
    h, w = ink.shape
    lean = r.normal(0, 0.2)
    side = int(abs(lean) * h / 2) + 4
    wide = w + 2 * side
    cell = r.uniform(14, 40)
    push = r.normal(0, 1, (2, max(3, int(h / cell) + 2), max(3, int(wide / cell) + 2))) * r.uniform(0, 0.075) * cell
    dx, dy = (cv2.resize(p.astype(np.float32), (wide, h), interpolation=cv2.INTER_CUBIC) for p in push)
    ys, xs = np.mgrid[:h, :wide].astype(np.float32)
    return cv2.remap(np.ascontiguousarray(ink), xs - side + lean * (ys - h / 2) + dx, ys + dy, cv2.INTER_LINEAR, borderValue=0)


def draw_font(r, fonts, kind, text, bend=True):
    """-> (mask [h, w] uint8, truth) or None where it doesn't fit. `bend`: letters of hands may be bent further."""
    small_caps = stencilled = hollow = False
    if kind == "print":
        face = fonts.face(r, r.choice(list(STYLES), p=np.array(list(STYLES.values())) / sum(STYLES.values())))
        small_caps = r.random() < 0.07
        hollow = r.random() < 0.03
    elif kind == "stencil":
        stencilled = r.random() < 0.8
        face = fonts.face(r, texts.pick(r, ["grotesque", "didone", "slab", "old style"]) if stencilled else "stencil")
        if r.random() < 0.75:
            text = text.upper()
    elif kind == "typewriter":
        face = fonts.face(r, "typewriter")
    else:
        face = fonts.face(r, kind)
    path = f"{fonts.folder}/{face['file']}"
    have = covers(path)
    text = " ".join("".join(c for c in text if c in have or c in "^|").split())
    if kind in ("script", "blackletter") and text.isupper() and len(text) > 3 and r.random() < 0.85:
        text = text.title()
    said = " ".join(text.replace("^", "").replace("|", " ").split())
    if not said:
        return None
    if small_caps or only_capitals(path):
        said = said.upper()
    probe = font(path, 48)
    plain = said if not small_caps else said.upper()
    left, top, right, bottom = probe.getbbox(plain)
    rise, drop = probe.getmetrics()
    tall = (bottom - top) if r.random() < 0.75 else 0.5 * (bottom - top) + 0.5 * (rise + drop) * 0.8
    size = max(10, min(110, int(48 * INK * r.uniform(0.72, 1.0) / max(tall, 12))))
    squeeze = r.uniform(0.72, 1.25) if r.random() < 0.4 else 1.0
    spread = 0.0
    if kind in ("print", "stencil") and r.random() < 0.35:
        spread = (r.uniform(-0.02, 0.32) if r.random() < 0.75 else r.uniform(0.3, 1.1)) * size
    f = font(path, size)
    gaps = [r.uniform(0.8, 7) * size for c in text if c == "|"]
    width = (f.getlength(plain) + spread * len(plain) + sum(gaps)) * squeeze
    if width > BUCKETS[-1] - 24 or size * len(plain) > 9000:
        if width > 2.2 * BUCKETS[-1]:
            return None
        size = int(size * (BUCKETS[-1] - 30) / width)
        if size < 16:
            return None
        f = font(path, size)
        spread *= 0.7
        gaps = [g * 0.5 for g in gaps]
    apart = bool(spread) or small_caps or stencilled or "^" in text or bool(gaps) or (kind == "typewriter" and r.random() < 0.5)
    room = 24 + size // 2
    total = int(f.getlength(plain) + (abs(spread) + 2) * len(plain) + sum(gaps)) + 2 * room
    canvas = Image.new("L", (total, 2 * size + 60), 0)
    pen = ImageDraw.Draw(canvas)
    y = size // 2 + 20
    outline = {"stroke_width": 2, "fill": 0, "stroke_fill": 255} if hollow and size > 30 else {"fill": 255}
    if not apart:
        pen.text((room, y), text.replace("^", ""), font=f, **outline)
    else:
        x, raised = float(room), False
        lesser = font(path, max(8, int(size * r.uniform(0.7, 0.85))))
        least = font(path, max(8, int(size * 0.6)))
        shift = rise * size / 48
        for c in text:
            if c == "^":
                raised = True
                continue
            if c in " |":
                raised = False
            if c == "|":
                x += gaps.pop()
                continue
            g, dy = f, 0.0
            if raised:
                g, dy = least, -0.06 * size
            elif small_caps and c.islower():
                g, dy, c = lesser, (f.getmetrics()[0] - lesser.getmetrics()[0]), c.upper()
                if len(c) > 1:
                    return None
            if kind == "typewriter":
                dy += r.normal(0, 0.025) * size
                if r.random() < 0.7:
                    outline = {"fill": int(r.uniform(130, 256))}
            at = (x, y + dy)
            if stencilled and c.strip():
                one = Image.new("L", (int(g.getlength(c)) + size + 8, 2 * size + 40), 0)
                ImageDraw.Draw(one).text((size // 2, 20), c, font=g, fill=255)
                box = one.getbbox()
                if box and c in "ABDOPQRabdegopq04689CGQU&S@£35":
                    cutter = ImageDraw.Draw(one)
                    bar = max(2, int(size * 0.06))
                    m = (box[0] + box[2]) // 2 + (int(0.08 * size) if c in "DPRBbp" else 0)
                    if r.random() < 0.8:
                        cutter.rectangle((m - bar // 2, 0, m + (bar - 1) // 2, one.height), fill=0)
                    else:
                        m = (box[1] + box[3]) // 2
                        cutter.rectangle((0, m - bar // 2, one.width, m + (bar - 1) // 2), fill=0)
                canvas.paste(255, (int(x) - size // 2, int(at[1]) - 20), one)
            else:
                pen.text(at, c, font=g, **outline)
            x += g.getlength(c) + spread
    box = canvas.getbbox()
    if not box:
        return None
    mask = canvas.crop(box)
    w = max(2, int(mask.width * squeeze))
    h = mask.height
    zoom = min(1.0, (INK + 8) / h)
    if squeeze != 1 or zoom < 1:
        mask = mask.resize((max(2, int(w * zoom)), max(2, int(h * zoom))), Image.BILINEAR)
    ink = np.asarray(mask)
    if bend and kind in ("script", "hand") and r.random() < 0.6:
        ink = bent(r, ink)
    return ink, " ".join(said.split())


def ornament(r, width, height):
    """A stretch of printed border or flourish that is no lettering: -> ink [height, width] uint8."""
    n = 3  # drawn larger, so that edges are smooth
    tall, wide = n * height, n * max(6, width)
    canvas = Image.new("L", (wide, tall), 0)
    pen = ImageDraw.Draw(canvas)
    kind = int(r.integers(9))
    size = int(tall * r.uniform(0.35, 0.95))
    step = max(n * 2, int(size * r.uniform(0.55, 1.7)))
    thick = max(n, int(size * r.uniform(0.06, 0.2)))
    y = (tall - size) // 2
    if kind == 8:  # rules only
        for at in r.uniform(0.1, 0.9, int(r.integers(1, 4))):
            pen.line((0, at * tall, wide, at * tall), fill=255, width=int(r.integers(1, thick + 2)))
        return np.asarray(canvas.resize((max(6, width), height), Image.BOX))
    for x in range(-int(r.integers(0, step)), wide, step):
        box = (x, y, x + size, y + size)
        m = (x + size / 2, y + size / 2)
        if kind == 0:
            pen.ellipse(box, outline=255, width=thick)
            if step > size and size > 24:
                pen.ellipse((m[0] - thick, m[1] - thick, m[0] + thick, m[1] + thick), fill=255)
        elif kind == 1:
            pen.ellipse((m[0] - size / 4, m[1] - size / 4, m[0] + size / 4, m[1] + size / 4), fill=255)
        elif kind == 2:
            pen.polygon([(m[0], y), (x + size, m[1]), (m[0], y + size), (x, m[1])], outline=255, fill=255 if step % 2 else 0)
        elif kind == 3:
            pen.arc(box, 180, 360, fill=255, width=thick)
            pen.arc((x + step / 2, y, x + step / 2 + size, y + size), 0, 180, fill=255, width=thick)
        elif kind == 4:
            pen.line((x, y, x + size, y + size), fill=255, width=thick)
            if step % 2:
                pen.line((x + size, y, x, y + size), fill=255, width=thick)
        elif kind == 5:  # leaves on a stem
            pen.line((x, m[1], x + step, m[1]), fill=255, width=thick)
            pen.ellipse((x, y, x + size / 2, m[1]), fill=255)
            pen.ellipse((x + size / 2, m[1], x + size, y + size), fill=255)
        elif kind == 6:  # keys
            pen.line([(x, y + size), (x, y), (x + step * 0.7, y), (x + step * 0.7, m[1]), (x + step * 0.35, m[1])], fill=255, width=thick)
        else:  # stars
            points = [(m[0] + (size / 2 if i % 2 else size / 5) * np.cos(i * np.pi / 5), m[1] + (size / 2 if i % 2 else size / 5) * np.sin(i * np.pi / 5)) for i in range(10)]
            pen.polygon(points, fill=255)
    return np.asarray(canvas.resize((max(6, width), height), Image.BOX))


def nothing(r, fonts):
    """A mask without lettering: bare ground, a border, rules, blots or neighbours' tails. The network is to write nothing."""
    b = int(r.choice(BUCKETS[:10]))
    mask = np.zeros((TALL, b), np.uint8)
    k = r.random()
    if k < 0.15:
        for edge in ("above", "below"):
            drawn = draw_font(r, fonts, texts.pick(r, ["print", "script", "hand"]), texts.text(r)) if r.random() < 0.6 else None
            if drawn is not None:
                ink, at = drawn[0][:, : b - 8], int(r.integers(2, 7))
                tails = ink[-at:] if edge == "above" else ink[:at]
                rows = slice(4, 4 + len(tails)) if edge == "above" else slice(TALL - 4 - len(tails), TALL - 4)
                mask[rows, 4 : 4 + ink.shape[1]] = tails
    elif k < 0.45:
        h = int(r.integers(12, 52))
        top = int(r.integers(0, TALL - h))
        mask[top : top + h] = ornament(r, b, h)[:, :b]
    elif k < 0.75:
        canvas = Image.new("L", (b, TALL), 0)
        pen = ImageDraw.Draw(canvas)
        for _ in range(int(r.integers(1, 14))):
            x, y, w, h = r.uniform(0, b), r.uniform(0, TALL), r.exponential(9) + 1, r.exponential(7) + 1
            if r.random() < 0.5:
                pen.ellipse((x, y, x + w, y + h), fill=int(r.integers(60, 256)))
            else:
                pen.line((x, y, x + r.normal(0, 40), y + r.normal(0, 9)), fill=int(r.integers(60, 256)), width=int(r.integers(1, 4)))
        mask = np.array(canvas)
    return mask, b - 4, "", 0


def handwritten(r, text, unseen, tall):
    """-> (ink, truth) in a made hand, or None."""
    said = "".join(c for c in text.replace("|", " ") if c in hands.SIGNS or c == "^").strip()
    who = int(r.integers(0, UNSEEN_WRITERS)) if unseen else int(r.integers(UNSEEN_WRITERS, WRITERS))
    if said.isupper() and len(said) > 4 and r.random() < (0.2 if hands.writer(who)["unjoined"] else 0.85):
        said = said.title()
    if r.random() < 0.3 and "^" in said:
        said = said.replace("^", "")
    if not said.strip("^ "):
        return None
    ink = hands.write(said, who, r, height=tall, pad=2)
    return None if ink is None else (ink, " ".join(said.replace("^", "").split()))


def make(r, fonts, kind=None, unseen=False):
    """-> (mask [64, bucket], ink width px, text, class number) or None.

    Without a `kind` (one of `SHARES`, or "filled in") one is drawn, now and then a line without lettering (text "") or one of two classes.
    """
    dressed = False
    drawn = None
    if kind is None:
        k = r.random()
        if k < 0.055:
            return nothing(r, fonts)
        kind = r.choice(list(SHARES), p=np.array(list(SHARES.values())) / sum(SHARES.values()))
        if k < 0.055 + FILLED_IN:
            kind = "filled in"
        dressed = r.random() < 0.06
    if kind == "filled in":
        drawn, kind = forms.filled_in(r, fonts, forms.by_drawn_hand(fonts, unseen)), "print"
        if drawn is None:
            return None
    if drawn is None:
        text = texts.written(r) if kind in ("made hand", "script", "hand") and r.random() < max(0.4, texts.RUNNING) else texts.text(r)
        if kind == "made hand":
            drawn = handwritten(r, text, unseen, int(INK * r.uniform(0.8, 1.08)))
        else:
            drawn = draw_font(r, fonts, kind, text, not unseen)
        if drawn is None:
            return None
    ink, said = drawn
    if dressed:  # a stretch of border or a flourish beside the lettering
        tall = int(r.integers(min(12, ink.shape[0]), max(13, ink.shape[0]) + 1))
        piece = ornament(r, int(r.integers(8, 48)), min(tall, ink.shape[0]))
        gap = int(r.integers(6, 36))
        beside = np.zeros((ink.shape[0], piece.shape[1] + gap), np.uint8)
        top = (ink.shape[0] - piece.shape[0]) // 2
        if r.random() < 0.5:
            beside[top : top + piece.shape[0], : piece.shape[1]] = piece
            ink = np.hstack([beside, ink] + ([beside[:, ::-1]] if r.random() < 0.4 else []))
        else:
            beside[top : top + piece.shape[0], gap:] = piece
            ink = np.hstack([ink, beside])
    h, w = ink.shape
    wide = r.random() < 0.12  # cut too long, as when a row reaches over blank ground
    before, after = (int(v) for v in r.integers(3, 70 if wide else 14, 2))
    b = bucket(w + before + after)
    if b is None or not said or len(said) * 4 > b + 40 or not truth(said):
        return None
    mask = np.zeros((TALL, b), np.uint8)
    top = max(0, (TALL - h) // 2)
    mask[top : top + min(h, TALL), before : before + w] = ink[:TALL]
    return mask, before + w + after, truth(said), CLASSES.index(kind)


def numbered(text):
    return [NUMBER[c] for c in text]


def darkness_of(picture):
    """Real line [48, w], grey -> its darkness [48, w]: paper 0, ink 255, as made masks are."""
    p = picture.astype(np.float32)
    some = np.sort(p.ravel()[::7])
    paper, ink = some[int(0.85 * (len(some) - 1))], some[int(0.005 * (len(some) - 1))]
    return np.clip((paper - p) / max(paper - ink, 12) * 255, 0, 255).astype(np.uint8)


def part_of(row):
    """train, tune, check (pages never trained on) or left out (whole sources) of a row of `lines.tsv`."""
    source = row["picture"].split("/")[0]
    if source in LEFT_OUT:
        return "left out"
    drawn = int(hashlib.sha256(f"{source} {row['page']}".encode()).hexdigest()[:8], 16) / 2**32
    if source in TUNE or (row["part"] == "train" and source in TUNE_PAGES and drawn < 1 / 16) or (row["part"] == "check" and source in TUNE_CHECKS and drawn < 1 / 3):
        return "tune"
    return row["part"]


def rows_of(folder):
    return list(csv.DictReader(open(f"{folder}/lines.tsv", encoding="utf8"), delimiter="\t", quoting=csv.QUOTE_NONE))


def real(folder, part, share=0, of=1):
    """Yields (picture [48, w] uint8, text, class number, source, page) of the packed real lines.

    `folder` holds one zip of pictures a source and `lines.tsv` (picture, kind, part, page, text). A picture is
    one line, or a page of lines one below another (`strip` in the table: the line's number and width on it).
    `part`: see `part_of`. `share`, `of`: every so many-th page.
    """
    pages, packs, last = {}, {}, (None, None)
    for row in rows_of(folder):
        source, name = row["picture"].split("/")
        if part_of(row) != part or not os.path.exists(f"{folder}/{source}.zip"):
            continue
        if pages.setdefault((source, row["page"]), len(pages)) % of != share:
            continue
        said = truth(row["text"])
        if said is None:
            continue
        if source not in packs:
            packs[source] = zipfile.ZipFile(f"{folder}/{source}.zip")
        if last[0] != row["picture"]:
            last = row["picture"], np.asarray(Image.open(io.BytesIO(packs[source].read(name))).convert("L"))
        picture = last[1]
        if row.get("strip"):
            at, wide = map(int, row["strip"].split())
            picture = picture[48 * at : 48 * at + 48, :wide]
        if picture.shape[1] < len(said) * 5.2:  # room for the steps of the network
            picture = np.asarray(Image.fromarray(picture).resize((int(len(said) * 5.2) + 4, 48), Image.BILINEAR))
        yield picture, said, CLASSES.index({"typed": "real typed", "print": "real print"}.get(row["kind"], "real hand")), source, row["page"]
