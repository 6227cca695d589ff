"""Draws monograms from a seed: interlaced, ligatured, mirrored, stacked, with a shared stem, enclosed.

    python monograms.py CUT_FONTS GLYPHS.npz          # capitals of every face as contours, once
    python monograms.py GLYPHS.npz SHEET.png PART     # a sheet of designs to look at

CUT_FONTS is the folder that `fonts.py` wrote. PART: `train`, `tune` and `check` (halves of the unseen families). A design is a clean
mask of SIDE × SIDE px, 255 where there is paint; `monogram_ageing.py` makes photographs of it.
"""

import hashlib
import json
import multiprocessing
import sys

import cv2
import numpy as np

SIDE = 144
CAPITALS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
BESIDE = "0123456789ecitpnxdlfv."
# Shares of initials among 12,788 artists (gazetteer/open), to the power 0.5: what a letter is drawn by. The program divides by them.
COUNTS = dict(A=9.1, B=8.3, C=9.4, D=5.2, E=5.6, F=5.8, G=6.4, H=6.9, I=1.6, J=9.6, K=2.7, L=6.0, M=7.4, N=2.5, O=1.6, P=6.4, Q=0.3,
              R=6.0, S=6.5, T=3.4, U=0.6, V=2.9, W=5.8, X=0.25, Y=0.6, Z=0.7)
DRAWN_BY = np.sqrt([COUNTS[c] for c in CAPITALS])
DRAWN_BY /= DRAWN_BY.sum()
# shares of designs without letters and of one to four letters
LENGTHS = [0.04, 0.06, 0.45, 0.42, 0.03]


def part_of(family, part):
    """`train`, or which half of the unseen families it belongs to."""
    if part == "train":
        return "train"
    return "tune" if int(hashlib.sha256(f"monogram {family}".encode()).hexdigest()[:4], 16) % 2 else "check"


def flatten(glyph_set, name):
    """Contours of a glyph as polygons, font units, y up."""
    from fontTools.pens.recordingPen import DecomposingRecordingPen

    pen = DecomposingRecordingPen(glyph_set)
    glyph_set[name].draw(pen)
    out, at = [], []
    for what, p in pen.value:
        if what == "moveTo":
            at = [p[0]]
        elif what == "lineTo":
            at.append(p[0])
        elif what == "curveTo" and len(p) == 3:
            a, (b, c, d) = np.array(at[-1]), map(np.array, p)
            t = np.linspace(0, 1, 7)[1:, None]
            at += list(map(tuple, (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t * t * (1 - t) * c + t**3 * d))
        elif what == "qCurveTo":
            points = list(p)
            if points[-1] is None:  # no point on the curve
                points = points[:-1]
                first = ((points[-1][0] + points[0][0]) / 2, (points[-1][1] + points[0][1]) / 2)
                at, points = [first], points + [first]
            for i in range(len(points) - 1):
                b = np.array(points[i])
                d = np.array(points[i + 1]) if i == len(points) - 2 else (b + np.array(points[i + 1])) / 2
                a, t = np.array(at[-1]), np.linspace(0, 1, 5)[1:, None]
                at += list(map(tuple, (1 - t) ** 2 * a + 2 * t * (1 - t) * b + t * t * d))
        elif what in ("closePath", "endPath") and len(at) > 2:
            out.append(np.array(at, np.float32))
    return out


def glyphs_of(job):
    """Contours of the capitals of a face: [(sign, [contour, ...]), ...]."""
    from fontTools.ttLib import TTFont

    font = TTFont(job, lazy=True)
    names, glyphs, scale = font.getBestCmap(), font.getGlyphSet(), 1 / font["head"].unitsPerEm
    found = [(c, flatten(glyphs, names[ord(c)])) for c in CAPITALS + BESIDE if ord(c) in names]
    return [(c, [k * scale * [1, -1] for k in contours]) for c, contours in found if contours]


def gather(folder, target):
    points, ends, index = [], [], []
    count = 0
    rows = json.load(open(f"{folder}/fonts.json"))
    with multiprocessing.Pool() as workers:
        faces = workers.map(glyphs_of, [f"{folder}/{row['file']}" for row in rows], 4)
    for face, (row, glyphs) in enumerate(zip(rows, faces)):
        part = {"train": 0, "tune": 1, "check": 2}[part_of(row["family"], row["part"])]
        for sign, contours in glyphs:
            first = len(ends)
            for contour in contours:
                points.append(contour)
                count += len(contour)
                ends.append(count)
            index.append((face, ord(sign), part, first, len(ends)))
    # steps from point to point, high and low bytes apart, come to half
    places = (np.concatenate(points) * 2000).round().astype(np.int16)
    steps = np.diff(places, axis=0, prepend=np.zeros((1, 2), np.int16))
    planes = np.ascontiguousarray(steps.T).view(np.uint8).reshape(2, -1, 2).transpose(0, 2, 1)
    np.savez_compressed(target, steps=planes, ends=np.array(ends, np.int32), index=np.array(index, np.int32))
    print(len(index), "glyphs of", len(rows), "faces")


class Faces:
    """Capitals of the faces of one part: `get(face, sign)` gives contours, unit em, y down."""

    def __init__(self, file, part):
        store = np.load(file)
        steps = np.ascontiguousarray(store["steps"].transpose(0, 2, 1)).view(np.int16)[..., 0]
        points, ends = np.cumsum(steps, 1, dtype=np.int16).T.astype(np.float32) / 2000, store["ends"]
        starts = np.concatenate([[0], ends[:-1]])
        self.by = {}
        for face, sign, p, a, b in store["index"]:
            if p == {"train": 0, "tune": 1, "check": 2}[part]:
                self.by.setdefault(int(face), {})[chr(sign)] = [points[starts[i]:ends[i]] for i in range(a, b)]
        self.faces = [f for f, g in self.by.items() if all(c in g for c in CAPITALS)]

    def draw(self, r):
        return self.by[self.faces[r.integers(len(self.faces))]]


def arc(cx, cy, rx, ry, a, b, n=14):
    t = np.radians(np.linspace(a, b, n))
    return np.stack([cx + rx * np.cos(t), cy + ry * np.sin(t)], 1)


def line(*p):
    return np.array(p, float)


# Strokes of drawn capitals, unit box, y down; several ways a letter. The last way of each letter that has three is kept for `tune` and `check`.
def strokes():
    s = {}
    s["A"] = [[line((0, 1), (.5, 0), (1, 1)), line((.2, .62), (.8, .62))], [line((0, 1), (.35, 0), (.65, 0), (1, 1)), line((.15, .6), (.85, .6))],
              [line((0, 1), (.5, 0), (1, 1)), line((.22, .58), (.5, .78), (.78, .58))]]
    s["B"] = [[line((0, 0), (0, 1)), np.vstack([line((0, 0)), arc(.5, .24, .38, .24, -90, 90), line((0, .48))]), np.vstack([line((0, .48)), arc(.5, .74, .5, .26, -90, 90), line((0, 1))])]]
    s["C"] = [[arc(.55, .5, .55, .5, -50, -310)], [arc(.6, .5, .6, .5, -75, -285)]]
    s["D"] = [[line((0, 0), (0, 1)), np.vstack([line((0, 0)), arc(.35, .5, .65, .5, -90, 90), line((0, 1))])]]
    s["E"] = [[line((1, 0), (0, 0), (0, 1), (1, 1)), line((0, .5), (.75, .5))], [np.vstack([arc(.55, .25, .5, .25, -40, -270), arc(.55, .75, .55, .25, -90, -320)])],
              [arc(.6, .5, .6, .5, -60, -300), line((0, .5), (.8, .5))]]
    s["F"] = [[line((1, 0), (0, 0), (0, 1)), line((0, .48), (.75, .48))]]
    s["G"] = [[np.vstack([arc(.55, .5, .55, .5, -50, -330), line((1, .55), (.6, .55))])], [arc(.5, .5, .5, .5, -50, -360), line((1, .5), (1, 1)), line((.6, .5), (1, .5))]]
    s["H"] = [[line((0, 0), (0, 1)), line((1, 0), (1, 1)), line((0, .5), (1, .5))]]
    s["I"] = [[line((.5, 0), (.5, 1))], [line((.5, 0), (.5, 1)), line((.2, 0), (.8, 0)), line((.2, 1), (.8, 1))]]
    s["J"] = [[np.vstack([line((.75, 0)), arc(.38, .72, .37, .28, 0, 160)])], [np.vstack([line((.2, 0), (.8, 0), (.8, .7)), arc(.4, .72, .4, .28, 0, 130)])]]
    s["K"] = [[line((0, 0), (0, 1)), line((1, 0), (0, .58)), line((.3, .42), (1, 1))]]
    s["L"] = [[line((0, 0), (0, 1), (.9, 1))]]
    s["M"] = [[line((0, 1), (0, 0), (.5, .7), (1, 0), (1, 1))], [line((0, 1), (.2, 0), (.5, 1), (.8, 0), (1, 1))], [np.vstack([line((0, 1)), arc(.25, .3, .25, .3, 180, 360), line((.5, 1))]), np.vstack([arc(.75, .3, .25, .3, 180, 360), line((1, 1))])]]
    s["N"] = [[line((0, 1), (0, 0), (1, 1), (1, 0))]]
    s["O"] = [[arc(.5, .5, .5, .5, 0, 360, 24)]]
    s["P"] = [[line((0, 0), (0, 1)), np.vstack([line((0, 0)), arc(.4, .27, .6, .27, -90, 90), line((0, .54))])]]
    s["Q"] = [[arc(.5, .48, .5, .48, 0, 360, 24), line((.55, .7), (1, 1.1))]]
    s["R"] = [[line((0, 0), (0, 1)), np.vstack([line((0, 0)), arc(.4, .25, .55, .25, -90, 90), line((0, .5))]), line((.4, .5), (1, 1))]]
    s["S"] = [[np.vstack([arc(.5, .25, .45, .25, -30, -270), arc(.5, .75, .5, .25, -90, 150)])]]
    s["T"] = [[line((0, 0), (1, 0)), line((.5, 0), (.5, 1))]]
    s["U"] = [[np.vstack([line((0, 0)), arc(.5, .6, .5, .4, 180, 0), line((1, 0))])], [np.vstack([line((0, 0)), arc(.5, .6, .5, .4, 180, 0), line((1, 0))]), line((1, 0), (1, 1))]]
    s["V"] = [[line((0, 0), (.5, 1), (1, 0))]]
    s["W"] = [[line((0, 0), (.25, 1), (.5, .2), (.75, 1), (1, 0))], [line((0, 0), (.35, 1), (.65, 0)), line((.35, 0), (.65, 1), (1, 0))]]
    s["X"] = [[line((0, 0), (1, 1)), line((1, 0), (0, 1))]]
    s["Y"] = [[line((0, 0), (.5, .5), (1, 0)), line((.5, .5), (.5, 1))]]
    s["Z"] = [[line((0, 0), (1, 0), (0, 1), (1, 1))], [line((0, 0), (1, 0), (0, 1), (1, 1)), line((.25, .5), (.75, .5))]]
    return s


STROKES = strokes()


class Hand:
    """A drawn manner: how far its strokes bend, lean, and swell. Writers of `train` differ from others by seed and by what they choose."""

    def __init__(self, r, unseen):
        self.r, self.unseen = r, unseen
        self.bend = r.uniform(0, 0.07)
        self.nib = r.uniform(0.25, 1) if r.random() < 0.5 else 1.0
        self.angle = r.uniform(0, np.pi)
        self.lean = r.normal(0, 0.12)
        self.serif = r.random() < 0.3

    def letter(self, c):
        ways = STROKES[c]
        if len(ways) == 3:
            ways = [ways[2], ways[0]] if self.unseen else ways[:2]
        out = []
        for s in ways[self.r.integers(len(ways))]:
            s = s + self.r.normal(0, self.bend, s.shape) * (0.35 if len(s) > 6 else 1)
            dense = np.concatenate([np.linspace(a, b, 9)[:-1] for a, b in zip(s[:-1], s[1:])] + [s[-1:]])
            k = 5
            smooth = np.stack([np.convolve(np.pad(dense[:, i], k // 2, mode="edge"), np.ones(k) / k, "valid") for i in (0, 1)], 1)
            smooth[:, 0] += self.lean * (1 - smooth[:, 1])
            out.append(smooth)
            if self.serif and len(s) < 6:
                for end in (smooth[0], smooth[-1]):
                    out.append(np.array([end - [0.09, 0], end + [0.09, 0]]))
        return out


class Sketch:
    """Collects shapes in unit coordinates, then paints them into a mask."""

    def __init__(self):
        self.shapes = []  # (kind, points, width, weave, nib)
        self.letters = []  # points of each letter

    def paint(self, r, fill):
        every = np.concatenate([p for s in self.shapes for p in s[1]])
        low, high = every.min(0), every.max(0)
        scale = fill * SIDE / max((high - low).max(), 1e-3)
        shift = SIDE / 2 - scale * (low + high) / 2
        out = np.zeros((SIDE, SIDE), np.uint8)
        fixed = lambda p: np.round((p * scale + shift) * 16).astype(np.int32)
        for kind, parts, width, weave, nib in self.shapes:
            own = np.zeros_like(out)
            if kind == "fill":
                cv2.fillPoly(own, [fixed(p) for p in parts], 255, cv2.LINE_AA, 4)
            else:
                w = max(width * scale, 1.2)
                for p in parts:
                    q = fixed(p)
                    if nib is None:
                        cv2.polylines(own, [q], False, 255, max(1, int(round(w))), cv2.LINE_AA, 4)
                        continue
                    ratio, angle = nib
                    turn = np.arctan2(*(p[1:] - p[:-1]).T[::-1])
                    widths = w * (ratio + (1 - ratio) * np.abs(np.sin(turn - angle)))
                    for a, b, t in zip(q[:-1], q[1:], widths):
                        cv2.line(own, tuple(map(int, a)), tuple(map(int, b)), 255, max(1, int(round(t))), cv2.LINE_AA, 4)
            if weave:
                out = np.where(cv2.dilate(own, np.ones((weave, weave), np.uint8)) > 100, 0, out).astype(np.uint8)
            np.maximum(out, own, out=out)
        self.places = np.zeros((4, 4), np.float32)
        for i, points in enumerate(self.letters):
            a, b = ((points.min(0) * scale + shift) / SIDE * 2 - 1), ((points.max(0) * scale + shift) / SIDE * 2 - 1)
            self.places[i] = *((a + b) / 2), *((b - a) / 2)
        return out


def placed(parts, box, turn=0.0, mirror=False):
    """Fits parts into a box (x, y, w, h)."""
    every = np.concatenate(parts)
    low, high = every.min(0), every.max(0)
    size = np.maximum(high - low, [0.12, 0.12])
    out = []
    for p in parts:
        q = (p - (low + high) / 2) / size
        if mirror:
            q = q * [-1, 1]
        q = q * box[2:]
        if turn:
            c, s = np.cos(turn), np.sin(turn)
            q = q @ np.array([[c, s], [-s, c]])
        out.append(q + np.array(box[:2]) + np.array(box[2:]) / 2)
    return out


def aspect(parts):
    every = np.concatenate(parts)
    w, h = every.max(0) - every.min(0)
    return float(np.clip(w / max(h, 1e-3), 0.22, 1.6))


LAYOUTS = ["side", "interlaced", "stacked", "middle", "nested", "stem", "back"]
SHARES = [0.24, 0.26, 0.1, 0.12, 0.1, 0.12, 0.06]


def boxes(r, layout, a):
    """Boxes of letters of aspects `a` in the order of the name, and that order's own places."""
    n = len(a)
    jit = lambda s: r.normal(0, s)
    if layout == "middle" and n == 3:  # the surname large between the others
        big = r.uniform(1.25, 1.8)
        gap = r.uniform(-0.15, 0.12)
        return [(0, (big - 1) * r.uniform(0, 1), a[0], 1), (a[0] + a[2] * big + 2 * gap, (big - 1) * r.uniform(0, 1), a[1], 1), (a[0] + gap, 0, a[2] * big, big)]
    if layout == "interlaced":
        out = []
        for x in a:
            w, h = max(x, 0.45) * r.uniform(0.9, 1.4), r.uniform(0.75, 1.2)
            out.append((jit(0.22) - w / 2, jit(0.14) - h / 2, w, h))
        return out
    if layout == "stacked":
        y, out = 0.0, []
        for x in a:
            h = r.uniform(0.8, 1.15)
            out.append((jit(0.12) - x * h / 2, y, x * h, h))
            y += h * r.uniform(0.75, 1.12)
        return out
    if layout == "nested" and n > 1:
        w = max(a[0], 0.7) * 1.1
        out = [(0, 0, w, 1)]
        for i, x in enumerate(a[1:]):
            h = r.uniform(0.34, 0.6)
            out.append((w * r.uniform(0.25, 0.6) + 0.3 * i - x * h / 2 + jit(0.05), r.uniform(0.25, 0.62), max(x, 0.4) * h, h))
        return out
    if layout == "stem" and n > 1:
        x0, out = 0.0, []
        for x in a:
            h = r.uniform(0.92, 1.08)
            out.append((x0, 1 - h, x * h, h))
            x0 += x * h * r.uniform(0.8, 0.95)
        return out
    if layout == "back" and n > 1:  # back to back or leaning on each other
        out, x0 = [], 0.0
        for x in a:
            out.append((x0, jit(0.08), max(x, 0.4), r.uniform(0.85, 1.15)))
            x0 += max(x, 0.4) * r.uniform(0.45, 0.75)
        return out
    x0, out = 0.0, []
    gap = r.uniform(-0.22, 0.18)
    for i, x in enumerate(a):
        h = r.uniform(1.2, 1.5) if i == n - 1 and r.random() < 0.12 else r.uniform(0.9, 1.08)
        out.append((x0, jit(0.04) + 1 - h, x * h, h))
        x0 += x * h + gap
    return out


def surround(r, sketch):
    """A ring, a shield or a square around what is there; often none."""
    what = r.choice(["", "ring", "two", "shield", "square", "lozenge"], p=[0.66, 0.14, 0.05, 0.08, 0.05, 0.02])
    if not what:
        return
    every = np.concatenate([p for s in sketch.shapes for p in s[1]])
    low, high = every.min(0), every.max(0)
    c, half = (low + high) / 2, (high - low).max() / 2
    w = half * r.uniform(0.04, 0.14)
    if what in ("ring", "two"):
        rad = np.linalg.norm(high - low) / 2 * r.uniform(0.9, 1.15)
        ring = arc(*c, rad, rad * r.uniform(0.85, 1.1), 0, 360, 48)
        sketch.shapes.append(("line", [ring], w, 0, None))
        if what == "two":
            sketch.shapes.append(("line", [(ring - c) * 1.16 + c], w * 0.7, 0, None))
    elif what == "shield":
        m = half * r.uniform(1.2, 1.5)
        p = np.vstack([line((-m, -m), (m, -m), (m, 0.1 * m)), arc(0, 0.1 * m, m, 1.35 * m, 0, 180, 20), line((-m, -m))]) + c
        sketch.shapes.append(("line", [p], w, 0, None))
    else:
        m = (high - low) / 2 * r.uniform(1.15, 1.4) if what == "square" else np.array([half, half]) * 1.9
        p = line((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)) if what == "square" else line((0, -1), (1, 0), (0, 1), (-1, 0), (0, -1))
        sketch.shapes.append(("line", [p * m + c], w, 0, None))


def beside(r, sketch, face):
    """A date, or fecit and pinxit, near the letters."""
    if r.random() > 0.16:
        return
    text = r.choice([str(r.integers(1600, 1950)), str(r.integers(10, 99)), "fecit", "pinx.", "f.", "p.", "del."], p=[0.4, 0.25, 0.09, 0.09, 0.07, 0.05, 0.05])
    every = np.concatenate([p for s in sketch.shapes for p in s[1]])
    low, high = every.min(0), every.max(0)
    h = (high - low)[1] * r.uniform(0.2, 0.4)
    if not all(c in face for c in text):
        return
    below = r.random() < 0.65
    x, y = (low[0] + r.uniform(0, 0.4), high[1] + h * r.uniform(0.2, 0.7)) if below else (high[0] + h * 0.3, high[1] - h * r.uniform(0.8, 1.8))
    for c in text:
        parts = face[c]
        w = aspect(parts) * h
        tall = h * (0.25 if c == "." else 0.7 if c in "ecinpxv" else 1)
        sketch.shapes.append(("fill", placed(parts, (x, y + h - tall, w if c != "." else tall, tall)), 0, 0, None))
        x += (w if c != "." else tall) + h * 0.12


def scrawl(r, sketch):
    """No letters: strokes, a blot, a flower, a rule."""
    for _ in range(r.integers(1, 6)):
        kind = r.integers(4)
        if kind == 0:
            p = np.cumsum(r.normal(0, 0.12, (r.integers(3, 20), 2)), 0)
            sketch.shapes.append(("line", [p], r.uniform(0.02, 0.1), 0, None))
        elif kind == 1:
            p = arc(*r.normal(0, 0.4, 2), *r.uniform(0.03, 0.3, 2), 0, 360, 16)
            sketch.shapes.append(("fill", [p + r.normal(0, 0.02, p.shape)], 0, 0, None))
        elif kind == 2:
            a = r.uniform(0, 6.3)
            d = np.array([np.cos(a), np.sin(a)]) * r.uniform(0.2, 1)
            c = r.normal(0, 0.4, 2)
            sketch.shapes.append(("line", [np.array([c - d, c + d])], r.uniform(0.02, 0.1), 0, None))
        else:
            n, c, s = r.integers(4, 8), r.normal(0, 0.3, 2), r.uniform(0.1, 0.4)
            t = np.linspace(0, 2 * np.pi, 60)
            rad = s * (0.7 + 0.3 * np.cos(n * t))
            sketch.shapes.append(("fill", [np.stack([c[0] + rad * np.cos(t), c[1] + rad * np.sin(t)], 1)], 0, 0, None))


def design(r, faces, unseen=False, letters=None):
    """A design: mask, its letters in the order of the name ("" where there are none that count), where each stands (middle and half size, -1 to 1)."""
    if letters is None:
        n = r.choice(5, p=LENGTHS)
        letters = "".join(CAPITALS[i] for i in r.choice(26, n, p=DRAWN_BY))
    sketch, face = Sketch(), faces.draw(r)
    if not letters:
        scrawl(r, sketch)
        return sketch.paint(r, r.uniform(0.5, 0.8)), "", sketch.places
    drawn = r.random() < 0.3
    hand = Hand(r, unseen)
    parts = [hand.letter(c) if drawn else face[c] for c in letters]
    if not drawn and r.random() < 0.08:  # each in a face of its own
        parts = [faces.draw(r)[c] for c in letters]
    layout = r.choice(LAYOUTS, p=SHARES)
    places = boxes(r, layout, [aspect(p) for p in parts])
    # what lies over one another is woven or drawn thin, or nobody could read it
    over = layout in ("interlaced", "nested", "back") and len(letters) > 1
    weave = int(r.integers(3, 8)) if r.random() < (0.75 if over else 0.25) else 0
    width = r.uniform(0.05, 0.17) * (0.6 if over else 1)
    hollow = not drawn and r.random() < 0.04
    sketch.letters = [None] * len(letters)
    order = r.permutation(len(letters)) if layout == "interlaced" else range(len(letters))
    for i in order:
        mirror = r.random() < 0.035 or layout == "back" and i == 0 and r.random() < 0.4
        shapes = placed(parts[i], places[i], r.normal(0, 0.05) + (r.normal(0, 0.25) if layout == "interlaced" and r.random() < 0.15 else 0), mirror)
        sketch.letters[i] = np.concatenate(shapes)
        if drawn or hollow:
            closed = [np.vstack([p, p[:1]]) for p in shapes] if hollow else shapes
            nib = (hand.nib, hand.angle) if drawn and hand.nib < 1 else None
            sketch.shapes.append(("line", closed, 0.03 if hollow else width, weave, nib))
        else:
            sketch.shapes.append(("fill", shapes, 0, weave, None))
    beside(r, sketch, face)
    surround(r, sketch)
    return sketch.paint(r, 0.8), letters, sketch.places


def main():
    if len(sys.argv) == 3:
        return gather(*sys.argv[1:])
    file, out, part = sys.argv[1:]
    r, faces = np.random.default_rng(7), Faces(file, part)
    rows = []
    for _ in range(8):
        made = [design(r, faces, part != "train") for _ in range(12)]
        rows.append(np.hstack([255 - cv2.putText(m.copy(), t, (2, 12), 0, 0.4, 120) for m, t, _ in made]))
    cv2.imwrite(out, np.vstack(rows))


if __name__ == "__main__":
    main()
