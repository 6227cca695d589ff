"""Made lines: ink masks drawn from fonts and stroke models, and real lines, in fixed buckets.

A mask is 64 px high, ink 255, the lettering about 44 px of it; its width is one of `BUCKETS`, so
that a batch has one of a few fixed shapes. What ages a line (warp, wear, paper, blur) is added to
the masks later on the GPU (`ageing.py`), anew each time a mask is used.
"""

import csv
import functools
import io
import json
import os
import zipfile

import numpy as np
from PIL import Image, ImageDraw, ImageFont

import hands
import texts

TALL = 64
INK = 44
BUCKETS = [80, 128, 176, 224, 288, 352, 416, 480, 560, 640, 736, 832, 928, 1024]
CLASSES = ["print", "script", "hand", "made hand", "typewriter", "stencil", "blackletter", "real hand", "real typed"]
SHARES = {"print": 0.36, "script": 0.13, "hand": 0.11, "made hand": 0.24, "typewriter": 0.08, "stencil": 0.06, "blackletter": 0.02}
STYLES = {"grotesque": 0.28, "old style": 0.26, "didone": 0.17, "slab": 0.12, "caps": 0.05, "display": 0.12}
UNSEEN_WRITERS = 40  # seeds below it are never trained on
WRITERS = 1600
LEFT_OUT = ("cremma-mss-20", "lectaurep-mariages")  # sources whose hands are never trained on
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
    """Whether a face draws capitals for small letters (then what it shows is capitals)."""
    f = font(path, 64)
    same = 0
    for small in "aeghrt":
        pair = []
        for c in (small, small.upper()):
            box = f.getbbox(c)
            one = Image.new("L", (max(1, box[2] - box[0]), max(1, box[3] - box[1])), 0)
            ImageDraw.Draw(one).text((-box[0], -box[1]), c, font=f, fill=255)
            pair.append(np.asarray(one.resize((24, 24)), np.float32) / 255)
        a, b = pair
        same += np.minimum(a, b).sum() > 0.8 * np.maximum(a, b).sum()
    return same >= 4


def draw_font(r, fonts, kind, text):
    """-> (mask [h, w] uint8, truth) or None where it doesn't fit."""
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
    text = " ".join("".join(c for c in text if c in have or c == "^").split())
    if kind in ("script", "blackletter") and text.isupper() and len(text) > 3 and r.random() < 0.85:
        text = text.title()
    said = text.replace("^", "")
    if not said.strip():
        return None
    if small_caps or only_capitals(path):
        said = said.upper()
    probe = font(path, 48)
    plain = said if not small_caps else text.replace("^", "").upper()
    left, top, right, bottom = probe.getbbox(plain)
    rise, drop = probe.getmetrics()
    tall = (bottom - top) if r.random() < 0.75 else 0.5 * (bottom - top) + 0.5 * (rise + drop) * 0.8
    size = max(10, min(110, int(48 * INK * r.uniform(0.72, 1.0) / max(tall, 12))))
    squeeze = r.uniform(0.72, 1.25) if r.random() < 0.4 else 1.0
    spread = 0.0
    if kind in ("print", "stencil") and r.random() < 0.35:
        spread = r.uniform(-0.02, 0.32) * size
    f = font(path, size)
    width = (f.getlength(plain) + spread * len(plain)) * squeeze
    if width > BUCKETS[-1] - 24 or size * len(plain) > 9000:
        if width > 2.2 * BUCKETS[-1]:
            return None
        size = int(size * (BUCKETS[-1] - 30) / width)
        if size < 16:
            return None
        f = font(path, size)
        spread *= 0.7
    apart = bool(spread) or small_caps or stencilled or "^" in text or (kind == "typewriter" and r.random() < 0.5)
    room = 24 + size // 2
    total = int(f.getlength(plain) + (abs(spread) + 2) * len(plain)) + 2 * room
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
            if c == " ":
                raised = False
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
    return np.asarray(mask), " ".join(said.split())


def make(r, fonts, kind=None, unseen=False):
    """-> (mask [64, bucket], ink width px, text, class number) or None."""
    if kind is None:
        kind = r.choice(list(SHARES), p=np.array(list(SHARES.values())) / sum(SHARES.values()))
    text = texts.text(r)
    if kind == "made hand":
        said = "".join(c for c in text if c in hands.SIGNS or c == "^").strip()
        if said.isupper() and len(said) > 4 and r.random() < 0.85:
            said = said.title()
        if r.random() < 0.3 and "^" in said:
            said = said.replace("^", "")
        if not said.strip("^ "):
            return None
        who = int(r.integers(0, UNSEEN_WRITERS)) if unseen else int(r.integers(UNSEEN_WRITERS, WRITERS))
        ink = hands.write(said, who, r, height=int(INK * r.uniform(0.8, 1.08)), pad=2)
        if ink is None:
            return None
        said = " ".join(said.replace("^", "").split())
    else:
        drawn = draw_font(r, fonts, kind, text)
        if drawn is None:
            return None
        ink, said = drawn
    h, w = ink.shape
    before, after = int(r.integers(3, 14)), int(r.integers(3, 14))
    b = bucket(w + before + after)
    if b is None or not said or len(said) * 4 > b + 40 or not truth(said):
        return None
    mask = np.zeros((TALL, b), np.uint8)
    top = max(0, (TALL - h) // 2)
    mask[top : top + min(h, TALL), before : before + w] = ink[:TALL]
    return mask, before + w + after, truth(said), CLASSES.index(kind)


def numbered(text):
    return [NUMBER[c] for c in text]


def real(folder, part, share=0, of=1):
    """Yields (picture [48, w] uint8, text, class number, source) of the packed real lines.

    `folder` holds one zip of WebP pictures a source and `lines.tsv` (picture, kind, part, page,
    text). `part`: `train`, `check` (pages never trained on) or `left out` (whole sources).
    """
    rows = list(csv.DictReader(open(f"{folder}/lines.tsv", encoding="utf8"), delimiter="\t", quoting=csv.QUOTE_NONE))
    packs = {}
    for row in rows[share::of]:
        source, name = row["picture"].split("/")
        here = "left out" if source in LEFT_OUT else row["part"]
        if here != part or not os.path.exists(f"{folder}/{source}.zip"):
            continue
        said = truth(row["text"])
        if said is None:
            continue
        if source not in packs:
            packs[source] = zipfile.ZipFile(f"{folder}/{source}.zip")
        pack = packs[source]
        picture = np.asarray(Image.open(io.BytesIO(pack.read(name))).convert("L"))
        if picture.shape[1] < len(said) * 5.2:  # room for the steps of the network
            picture = np.asarray(Image.fromarray(picture).resize((int(len(said) * 5.2) + 4, 48), Image.BILINEAR))
        yield picture, said, CLASSES.index("real typed" if row["kind"] == "typed" else "real hand"), source
