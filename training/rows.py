"""Made sheets with rows of lettering for the network that finds rows, and where their letters stand.

A *cell* is the place of a letter between its foot and the height of an x: four corners. A *sample* is a
grey picture of SIDE px a side and three maps of half its size: the core of the rows (the middle of the cells),
the height of an x (8 steps an octave from 2 px on) and the direction (degrees modulo 180).

    python rows.py FONTS LINES BACKS OUT SEED SECONDS

writes files of samples to OUT until SECONDS are over. FONTS and LINES as for the recogniser; BACKS holds what
`make_samples --smaller 2 --bands` wrote, or nothing.
"""

import glob
import json
import math
import os
import sys
import time

import cv2
import numpy as np
from PIL import Image, ImageDraw

import hands
import lines
import texts

SIDE = 640
CORE = 0.6  # share of the height of an x that is core
LEAST = 3.0  # rows with a lower x aren't asked for, px
CLASSES = {"print": 0.5, "typewriter": 0.14, "script": 0.08, "hand": 0.08, "made hand": 0.12, "blackletter": 0.02, "stencil": 0.06}


def cap(x):
    return int(np.clip(round(8 * math.log2(max(x, 2.0) / 2.0)), 0, 62)) + 1


class Maker:
    def __init__(self, r, fonts, real):
        self.r, self.fonts, self.real = r, fonts, real

    def between(self, low, high):
        return float(self.r.uniform(low, high))

    def face(self, kind):
        if kind == "print":
            kind = self.r.choice(list(lines.STYLES), p=np.array(list(lines.STYLES.values())) / sum(lines.STYLES.values()))
        while kind not in self.fonts.by:
            kind = texts.pick(self.r, list(self.fonts.by))
        return f"{self.fonts.folder}/{self.fonts.face(self.r, kind)['file']}"

    def printed(self, path, text, x_height, spread, most):
        """-> (ink [h, w], [(x0, x1, ink?)], foot y, x-height) or None."""
        probe = lines.font(path, 60)
        x60 = -probe.getbbox("x", anchor="ls")[1]
        if x60 < 12:
            return None
        size = int(np.clip(round(60 * x_height / x60), 6, 300))
        f = lines.font(path, size)
        have = lines.covers(path)
        text = " ".join("".join(c for c in text if c in have and c != "^").split())
        if not text:
            return None
        gap = spread * size
        while f.getlength(text) + gap * len(text) > most and " " in text:
            text = text.rsplit(" ", 1)[0]
        total = f.getlength(text) + gap * len(text)
        if total > most:
            return None
        room = size
        canvas = Image.new("L", (int(total) + 2 * room, 3 * size), 0)
        pen = ImageDraw.Draw(canvas)
        foot = 2 * size
        cells, x = [], float(room)
        if abs(gap) < 0.5:
            pen.text((room, foot), text, font=f, fill=255, anchor="ls")
        for i, c in enumerate(text):
            if abs(gap) >= 0.5:
                pen.text((x, foot), c, font=f, fill=255, anchor="ls")
                step = f.getlength(c) + gap
            else:
                step = room + f.getlength(text[: i + 1]) - x
            cells.append((x, x + step, c != " "))
            x += step
        return np.asarray(canvas), cells, foot, size * x60 / 60

    def found(self, ink):
        """Cells of handwriting from where its ink is densest: (cells, foot, x-height)."""
        profile = (ink > 90).sum(1).astype(np.float32)
        profile = np.convolve(profile, np.ones(3) / 3, "same")
        if profile.max() <= 0:
            return None
        rows = np.nonzero(profile > 0.42 * profile.max())[0]
        top, foot = int(rows[0]), int(rows[-1]) + 1
        if foot - top < 3 or foot - top > 0.85 * len(profile):
            return None
        columns = np.nonzero((ink > 90).sum(0))[0]
        # Words: columns with ink, gaps of up to an x and a half closed.
        cells, x = [], foot - top
        start = last = int(columns[0])
        for c in columns[1:]:
            if c - last > 1.8 * x:
                cells += [(start, last, True), None]
                start = c
            last = int(c)
        cells.append((start, last, True))
        return cells, foot, float(x)

    def written(self, text, x_height, most):
        if self.real and self.r.random() < 0.4:
            ink = texts.pick(self.r, self.real)
            ink = ink[:, : int(self.between(0.3, 1) * ink.shape[1])] if self.r.random() < 0.6 else ink
        else:
            got = lines.handwritten(self.r, text, False, 60)
            if got is None:
                return None
            ink = got[0]
        got = self.found(ink)
        if got is None:
            return None
        cells, foot, x = got
        zoom = x_height / x
        h, w = ink.shape
        if w * zoom > most or w * zoom < 3:
            return None
        ink = cv2.resize(ink, (max(2, int(w * zoom)), max(2, int(h * zoom))), interpolation=cv2.INTER_AREA if zoom < 1 else cv2.INTER_LINEAR)
        return ink, [c and (c[0] * zoom, c[1] * zoom, c[2]) for c in cells], foot * zoom, x * zoom

    def line(self, style, x_height, most, text=None):
        kind, path, spread, upper = style
        text = text or texts.text(self.r).replace("^", "")
        if upper:
            text = text.upper()
        if kind == "made hand":
            return self.written(text, x_height, most)
        return self.printed(path, text, x_height, spread, most)

    def style(self, kind=None):
        kind = kind or str(self.r.choice(list(CLASSES), p=np.array(list(CLASSES.values())) / sum(CLASSES.values())))
        spread = self.between(0.05, 0.5) if kind in ("print", "stencil") and self.r.random() < 0.2 else 0.0
        return kind, None if kind == "made hand" else self.face(kind), spread, kind == "stencil" or (kind == "print" and self.r.random() < 0.35)

    def block(self, most_w, most_h, x_height):
        """A sheet's lettering: -> (ink [h, w], bands [[cell quad, ink?]...]) trimmed."""
        r = self.r
        W, H = int(most_w), int(most_h)
        ink = np.zeros((H, W), np.uint8)
        bands = []
        margin = x_height * self.between(0.3, 2.5)

        def put(got, x, foot):
            picture, cells, own, xh = got
            x0, y0 = int(round(x)), int(round(foot - own))
            y1, x1 = max(0, y0), max(0, x0)
            y2, x2 = min(H, y0 + picture.shape[0]), min(W, x0 + picture.shape[1])
            if y2 <= y1 or x2 <= x1 or foot > H - 1 or foot - xh < 0:
                return False
            part = ink[y1:y2, x1:x2]
            np.maximum(part, picture[y1 - y0 : y2 - y0, x1 - x0 : x2 - x0], out=part)
            band = []
            for c in cells:
                if c is None:
                    bands.append((band, xh))
                    band = []
                    continue
                a, b = x0 + c[0], x0 + c[1]
                if b <= 0 or a >= W:
                    continue
                band.append(([[a, foot], [b, foot], [b, foot - xh], [a, foot - xh]], c[2]))
            bands.append((band, xh))
            return True

        form = r.random() < 0.28
        styles = [self.style() for _ in range(int(r.integers(1, 4)))]
        leading = self.between(1.5, 3.4) if r.random() < 0.8 else self.between(3, 6)
        align = r.choice(3, p=[0.45, 0.4, 0.15])
        rows = int(r.integers(1, 12)) if r.random() < 0.8 else 1
        foot = margin + 2.2 * x_height
        pen_thick = max(1, int(round(x_height * self.between(0.05, 0.16))))
        for _ in range(rows):
            style = styles[int(r.integers(len(styles)))] if r.random() < 0.5 else styles[0]
            tall = x_height * (1.0 if r.random() < 0.65 else math.exp(self.between(-0.4, 0.9)))
            got = None
            if form or r.random() < 0.06:
                columns = 1 if r.random() < 0.6 else 2
                for k in range(columns):
                    left = margin + k * (W - margin) / columns
                    right = margin + (k + 1) * (W - margin) / columns - x_height
                    prompt = texts.pick(r, texts.OFFICES) + texts.pick(r, ["", ":", "."])
                    a = self.line(styles[0], tall * self.between(0.6, 1), (right - left) * 0.7, prompt)
                    if a is None or not put(a, left - a[1][0][0], foot):
                        continue
                    x = left + a[1][-1][1] - a[1][0][0] + x_height * self.between(0.5, 3)
                    if r.random() < 0.75:
                        entry = texts.pick(r, [texts.number, texts.person, texts.date, texts.title, texts.address, texts.words])(r)
                        kind = texts.pick(r, ["made hand", "made hand", "typewriter", "typewriter", "script", "hand", "print"])
                        b = self.line(self.style(kind), tall * self.between(0.8, 1.3), right - x, entry.replace("^", ""))
                        if b is not None:
                            first = next(c for c in b[1] if c)
                            put(b, x - first[0], foot + x_height * self.between(-0.3, 0.25))
                    if r.random() < 0.6:
                        y = int(foot + x_height * self.between(0.05, 0.5))
                        dotted = r.random() < 0.3
                        for xx in range(int(x), int(right), 4 if dotted else max(1, int(right - x))):
                            cv2.line(ink, (xx, y), (xx + (1 if dotted else int(right - x)), y), 200, max(1, pen_thick // 2))
                foot += tall * leading * 1.1
                continue
            for _try in range(3):
                got = self.line(style, tall, W - 2 * margin)
                if got is not None:
                    break
            if got is None:
                continue
            cells = [c for c in got[1] if c]
            left, right = cells[0][0], cells[-1][1]
            width = right - left
            x = margin if align == 0 else (W - width) / 2 if align == 1 else margin + self.between(0, max(0.0, W - 2 * margin - width))
            if bands and foot - got[3] * 2 < 0:
                continue
            put(got, x - left, foot)
            # A second column beside it.
            if r.random() < 0.12 and x + width + 3 * tall < W - margin:
                beside = self.line(style, tall, W - margin - (x + width + 2.5 * tall))
                if beside is not None:
                    first = next(c for c in beside[1] if c)
                    put(beside, x + width + tall * self.between(2.6, 6) - first[0], foot)
            if r.random() < 0.06:  # underlined or struck out
                y = int(foot + tall * (0.3 if r.random() < 0.7 else -0.5))
                cv2.line(ink, (int(x), y), (int(x + width), y + int(r.integers(-2, 3))), 220, pen_thick)
            foot += max(tall, x_height * 0.8) * leading
            if foot > H - margin:
                break
            if r.random() < 0.06:
                a = int(W * self.between(0.02, 0.4))
                cv2.line(ink, (a, int(foot - tall * leading * 0.5)), (W - a, int(foot - tall * leading * 0.5)), 220, pen_thick)
        bands = [b for b in bands if b[0]]
        if not bands:
            return None
        points = np.array([p for band, _ in bands for quad, _ in band for p in quad])
        low = np.maximum(points.min(0) - (margin, margin + x_height), 0).astype(int)
        high = np.minimum(points.max(0) + (margin, margin + x_height * 0.6), (W, H)).astype(int)
        ink = ink[low[1] : high[1], low[0] : high[0]]
        bands = [([(np.array(q) - low, i) for q, i in band], xh) for band, xh in bands]
        h, w = ink.shape
        if h < 4 or w < 4:
            return None
        k = r.random()
        if k < 0.22:  # a border
            ink = np.pad(ink, int(x_height * self.between(0.5, 1.5)))
            pad = (ink.shape[0] - h) // 2
            bands = [([(q + pad, i) for q, i in band], xh) for band, xh in bands]
            h, w = ink.shape
            for n in range(int(r.integers(1, 3))):
                at = 1 + n * (pen_thick + 3)
                cv2.rectangle(ink, (at, at), (w - 1 - at, h - 1 - at), 230, pen_thick)
        elif k < 0.3:  # a barcode or a stretch of ornament above or below
            tall = int(x_height * self.between(1.5, 5))
            if r.random() < 0.5:
                bars = np.repeat((r.random(w // 2 + 1) < 0.5).astype(np.uint8) * 255, int(r.integers(1, 4)))[:w]
                extra = np.zeros((tall, w), np.uint8)
                extra[: int(tall * 0.85), : len(bars)] = bars
            else:
                extra = lines.ornament(r, w, tall)[:, :w]
                extra = np.pad(extra, ((0, 0), (0, w - extra.shape[1])))
            if r.random() < 0.5:
                ink = np.vstack([extra, ink])
                bands = [([(q + (0, tall), i) for q, i in band], xh) for band, xh in bands]
            else:
                ink = np.vstack([ink, extra])
        elif k < 0.34:  # a ring, as round a stamp
            cv2.ellipse(ink, (w // 2, h // 2), (int(w * self.between(0.3, 0.6)), int(h * self.between(0.3, 0.6))), 0, 0, 360, 230, pen_thick)
        return ink, bands


def noise(r, h, w, cells):
    small = r.standard_normal((max(2, int(h / cells[0]) + 2), max(2, int(w / cells[1]) + 2))).astype(np.float32)
    return cv2.resize(small, (w, h), interpolation=cv2.INTER_CUBIC)


def ground(r):
    """What lies under everything, grey 0 to 255."""
    base = r.uniform(15, 240)
    g = np.full((SIDE, SIDE), base, np.float32)
    g += noise(r, SIDE, SIDE, (r.uniform(60, 400), r.uniform(60, 400))) * r.uniform(0, 18)
    k = r.random()
    if k < 0.3:  # wood
        a = noise(r, SIDE, SIDE, (r.uniform(2, 9), r.uniform(60, 400))) * r.uniform(3, 22)
        b = noise(r, SIDE, SIDE, (r.uniform(10, 40), r.uniform(150, 600))) * r.uniform(2, 16)
        g += (a + b) if r.random() < 0.6 else (a + b).T
    elif k < 0.45:  # weave
        y, x = np.mgrid[0:SIDE, 0:SIDE].astype(np.float32)
        p = r.uniform(3, 9)
        g += (np.sin(2 * np.pi * x / p + noise(r, SIDE, SIDE, (50, 50))) + np.sin(2 * np.pi * y / (p * r.uniform(0.9, 1.1)) + noise(r, SIDE, SIDE, (50, 50)))) * r.uniform(2, 12)
    elif k < 0.6:  # pores, specks
        n = int(r.uniform(50, 1500))
        sign = -1 if r.random() < 0.75 else 1
        for x, y, s, v in zip(r.uniform(0, SIDE, n), r.uniform(0, SIDE, n), r.exponential(1.2, n) + 0.7, r.uniform(5, 90, n)):
            cv2.ellipse(g, (int(x), int(y)), (max(1, int(s)), max(1, int(s * r.uniform(0.5, 1.5)))), float(r.uniform(0, 180)), 0, 360, float(g[int(y), int(x)] + sign * v), -1)
    elif k < 0.72:  # paper or felt
        g += noise(r, SIDE, SIDE, (2, 2)) * r.uniform(1, 14)
    return g


def things(r, g):
    """What is no lettering: leaves, insects, nails, tape, edges, scratches, stains."""
    for _ in range(int(r.integers(0, 7))):
        k = r.integers(8)
        x, y, s = r.uniform(0, SIDE), r.uniform(0, SIDE), math.exp(r.uniform(1.2, 5))
        v = float(r.uniform(0, 255))
        if k == 0:  # a body with legs
            for _ in range(int(r.integers(2, 10))):
                a = r.uniform(0, 6.3)
                points = [(x, y)]
                for _ in range(4):
                    a += r.normal(0, 0.6)
                    points.append((points[-1][0] + math.cos(a) * s * 0.35, points[-1][1] + math.sin(a) * s * 0.35))
                cv2.polylines(g, [np.array(points, np.int32)], False, v, max(1, int(s / 18)), cv2.LINE_AA)
            cv2.ellipse(g, (int(x), int(y)), (int(s * 0.4) + 1, int(s * 0.18) + 1), float(r.uniform(0, 180)), 0, 360, v, -1, cv2.LINE_AA)
        elif k == 1:  # leaves on a stem
            a = r.uniform(0, 6.3)
            for i in range(int(r.integers(2, 9))):
                px, py = x + math.cos(a) * s * 0.5 * i, y + math.sin(a) * s * 0.5 * i
                cv2.line(g, (int(x), int(y)), (int(px), int(py)), v, max(1, int(s / 20)), cv2.LINE_AA)
                cv2.ellipse(g, (int(px), int(py)), (int(s * 0.35) + 1, int(s * 0.14) + 1), math.degrees(a) + float(r.uniform(-80, 80)), 0, 360, v + float(r.uniform(-20, 20)), -1, cv2.LINE_AA)
        elif k == 2:  # nail or pin
            cv2.circle(g, (int(x), int(y)), int(s * 0.15) + 2, v, -1, cv2.LINE_AA)
            cv2.circle(g, (int(x + 1), int(y + 1)), int(s * 0.06) + 1, 255 - v, -1, cv2.LINE_AA)
        elif k == 3:  # an edge
            a = r.uniform(0, math.pi)
            dx, dy = math.cos(a) * 2000, math.sin(a) * 2000
            if r.random() < 0.5:
                side = np.array([(x - dx, y - dy), (x + dx, y + dy), (x + dx - dy, y + dy + dx), (x - dx - dy, y - dy + dx)], np.int32)
                over = g.copy()
                cv2.fillPoly(over, [side], v)
                cv2.addWeighted(over, 0.85, g, 0.15, 0, g)
            cv2.line(g, (int(x - dx), int(y - dy)), (int(x + dx), int(y + dy)), 255 - v, int(r.integers(1, 6)), cv2.LINE_AA)
        elif k == 4:  # scratches
            for _ in range(int(r.integers(1, 8))):
                a = r.uniform(0, 6.3)
                q = np.cumsum(np.stack([np.cos(a + np.cumsum(r.normal(0, 0.2, 12))), np.sin(a + np.cumsum(r.normal(0, 0.2, 12)))], 1) * s * 0.3, 0) + r.uniform(0, SIDE, 2)
                cv2.polylines(g, [q.astype(np.int32)], False, v, int(r.integers(1, 3)), cv2.LINE_AA)
        elif k == 5:  # blots
            for _ in range(int(r.integers(1, 14))):
                cv2.ellipse(g, (int(x + r.normal(0, s)), int(y + r.normal(0, s))), (int(r.exponential(s * 0.2)) + 1, int(r.exponential(s * 0.2)) + 1), float(r.uniform(0, 180)), 0, 360, v, -1, cv2.LINE_AA)
        elif k == 6:  # ticks of a scale
            n, step, a = int(r.integers(5, 40)), s * 0.2 + 3, r.uniform(-0.2, 0.2) + texts.pick(r, [0, math.pi / 2])
            for i in range(n):
                px, py = x + math.cos(a) * step * i, y + math.sin(a) * step * i
                l = s * (0.5 if i % 5 else 0.9)
                cv2.line(g, (int(px), int(py)), (int(px - math.sin(a) * l), int(py + math.cos(a) * l)), v, max(1, int(step / 6)), cv2.LINE_AA)
        else:  # tape or a patch
            w, h, a = s * r.uniform(1, 4), s * r.uniform(0.5, 2), float(r.uniform(0, 180))
            box = cv2.boxPoints(((x, y), (w, h), a)).astype(np.int32)
            over = g.copy()
            cv2.fillPoly(over, [box], v)
            b = r.uniform(0.3, 1)
            cv2.addWeighted(over, b, g, 1 - b, 0, g)


def maps(bands):
    """bands on the picture [( [(quad, ink?)...], x-height )] -> core, height, direction [SIDE/2, SIDE/2] uint8."""
    half = SIDE // 2
    core, tall, way = (np.zeros((half, half), np.uint8) for _ in range(3))
    shift = 4

    def fill(on, q, v):
        cv2.fillPoly(on, [np.round((np.asarray(q) / 2 - 0.25) * (1 << shift)).astype(np.int32)], v, cv2.LINE_8, shift)

    for band, xh in bands:
        inked = [i for i, (_, ink) in enumerate(band) if ink]
        if not inked:
            continue
        lost = xh < LEAST
        for i in range(inked[0], inked[-1] + 1):
            q = np.asarray(band[i][0], np.float32)
            if i and i > inked[0]:  # up to the letter before it, where the two are near
                before = np.asarray(band[i - 1][0], np.float32)
                if np.hypot(*(q[0] - before[1])) < 1.8 * xh:
                    q[0], q[3] = before[1], before[2]
                if not band[i][1] and np.hypot(*(q[1] - q[0])) > 2.4 * xh:
                    continue
            mid = (1 - CORE) / 2
            c = np.array([q[0] + (q[3] - q[0]) * mid, q[1] + (q[2] - q[1]) * mid, q[2] + (q[1] - q[2]) * mid, q[3] + (q[0] - q[3]) * mid])
            fill(core, c, 2 if lost else 1)
            if not lost:
                a, b = (c[0] + c[3]) / 4 - 0.25, (c[1] + c[2]) / 4 - 0.25
                cv2.line(core, tuple(np.round(a).astype(int).tolist()), tuple(np.round(b).astype(int).tolist()), 1, 1)
            run = q[1] - q[0]
            fill(tall, q, cap(xh))
            fill(way, q, int(round(math.degrees(math.atan2(run[1], run[0])))) % 180)
    return core, tall, way


def weather(r, g):
    """Camera: light, blur, noise, JPEG."""
    if r.random() < 0.5:
        g = g * (1 + noise(r, SIDE, SIDE, (300, 300)) * r.uniform(0, 0.15))
    if r.random() < 0.55:
        g = cv2.GaussianBlur(g, (0, 0), math.exp(r.uniform(-1.2, 0.5)))
    low, high = r.uniform(0, 40), r.uniform(190, 255)
    if r.random() < 0.4:
        a, b = np.percentile(g, (1, 99))
        g = (g - a) / max(b - a, 20) * (high - low) + low
    g = g + r.standard_normal(g.shape).astype(np.float32) * r.uniform(0, 7)
    g = np.clip(g, 0, 255).astype(np.uint8)
    if r.random() < 0.4:
        g = cv2.imdecode(cv2.imencode(".jpg", g, [cv2.IMWRITE_JPEG_QUALITY, int(r.integers(35, 90))])[1], 0)
    return g


def composed(m):
    r = m.r
    g = ground(r)
    things(r, g)
    inverted = r.random() < 0.1
    close = r.random() < 0.45  # one sheet that fills the picture, as a mark does that is cut out
    bands, taken = [], np.zeros((SIDE // 8, SIDE // 8), np.uint8)
    common = r.uniform(-180, 180) if r.random() < 0.3 else r.normal(0, 2.5)
    for n in range(1 if close else int(r.integers(1, 8))):
        x_height = math.exp(m.between(math.log(3.2), math.log(34 if close else 22)))
        got = m.block(SIDE * m.between(0.3, 1.1) if not close else SIDE * 1.05, SIDE * (1.05 if close else m.between(0.1, 0.8)), x_height)
        if got is None:
            continue
        ink, own = got
        h, w = ink.shape
        k = r.random()
        angle = r.normal(0, 1.2) if close else common + (r.normal(0, 2.5) if k < 0.6 else r.normal(0, 15) if k < 0.85 else texts.pick(r, [90, -90, 180]) + r.normal(0, 3))
        # Perspective: corners moved a little.
        turn = math.radians(angle)
        c, s = math.cos(turn), math.sin(turn)
        cx, cy = (SIDE / 2, SIDE / 2) if close else r.uniform(0, SIDE, 2)
        corners = np.array([(-w / 2, -h / 2), (w / 2, -h / 2), (w / 2, h / 2), (-w / 2, h / 2)])
        zoom = min(SIDE * m.between(0.55, 1.05) / max(w, h), 70 / x_height) if close and r.random() < 0.75 else 1.0
        to = zoom * corners @ np.array([[c, s], [-s, c]]) + (cx, cy) + r.normal(0, 0.012 * min(w, h), (4, 2))
        H = cv2.getPerspectiveTransform((corners + (w / 2, h / 2)).astype(np.float32), to.astype(np.float32))
        place = np.zeros_like(taken)
        cv2.fillPoly(place, [np.round(to / 8).astype(np.int32)], 1)
        if not close and (place & taken).sum() > 0.02 * max(1, place.sum()):
            continue
        taken |= place
        paper = r.random() < (0.9 if close else 0.72)
        if paper:
            grown = to + (to - to.mean(0)) / np.maximum(1, np.linalg.norm(to - to.mean(0), axis=1, keepdims=True)) * x_height * m.between(0.1, 2)
            over = np.zeros_like(g)
            jag = np.round(grown * 16).astype(np.int32)
            if r.random() < 0.6:
                shade = np.zeros_like(g)
                cv2.fillPoly(shade, [jag + int(16 * r.uniform(1, 5))], 1.0, cv2.LINE_AA, 4)
                g *= 1 - cv2.GaussianBlur(shade, (0, 0), 2) * m.between(0.1, 0.5)
            cv2.fillPoly(over, [jag], 1.0, cv2.LINE_AA, 4)
            tone = m.between(25, 90) if inverted else m.between(110, 252)
            sheet = tone + noise(r, SIDE, SIDE, (r.uniform(40, 200), r.uniform(40, 200))) * m.between(0, 12) + noise(r, SIDE, SIDE, (2.5, 2.5)) * m.between(0, 5)
            if r.random() < 0.3:  # foxing, dirt
                for _ in range(int(r.integers(1, 25))):
                    cv2.circle(sheet, (int(r.uniform(0, SIDE)), int(r.uniform(0, SIDE))), int(r.exponential(5)) + 1, tone * m.between(0.5, 0.95), -1, cv2.LINE_AA)
                sheet = cv2.GaussianBlur(sheet, (0, 0), 1.2)
            g = g * (1 - over) + sheet * over
        dens = cv2.warpPerspective(ink, H, (SIDE, SIDE), flags=cv2.INTER_LINEAR).astype(np.float32) / 255
        if r.random() < 0.35:  # patchy
            dens *= np.clip(1 + noise(r, SIDE, SIDE, (r.uniform(4, 40), r.uniform(4, 40))) * m.between(0.1, 0.5), 0.15, 1)
        # Fewer than about 8 grey values of contrast nobody sees.
        local = float(np.clip(np.median(g[dens > 0.5]), 0, 255)) if (dens > 0.5).any() else 128.0
        if paper:
            target = m.between(150, 255) if inverted else m.between(0, 0.82 * local)
        else:
            target = local + m.between(45, 200) if local < 100 or (local < 150 and r.random() < 0.5) else local * m.between(0, 0.7)
        dens *= m.between(0.75, 1)
        g = g * (1 - dens) + target * dens
        if r.random() < 0.12:  # a stain or a second stamp across it
            x, y = to.mean(0) + r.normal(0, 0.3 * min(w, h), 2)
            cv2.ellipse(g, (int(x), int(y)), (int(w * 0.3) + 2, int(h * 0.3) + 2), float(r.uniform(0, 180)), 0, 360, float(local * 0.7), int(r.integers(1, 6)), cv2.LINE_AA)
        scale = math.sqrt(abs(np.linalg.det(H[:2, :2])))
        for band, xh in own:
            placed = [(cv2.perspectiveTransform(np.asarray(q, np.float32)[None], H)[0], i) for q, i in band]
            bands.append((placed, xh * scale))
    if close and r.random() < 0.3:  # a mark's edges: what it lies on
        b = int(r.uniform(3, 50))
        frame = np.ones((SIDE, SIDE), bool)
        sides = r.integers(0, 2, 4) * b
        frame[sides[0] : SIDE - sides[1], sides[2] : SIDE - sides[3]] = False
        back = ground(r)
        g = np.where(frame, back, g)
    return weather(r, g), *maps(bands)


def of_back(r, picture, marks, many):
    """Pieces of a made photograph, turned and scaled."""
    h, w = picture.shape
    cells = [np.array([c for _, c in line], np.float32).reshape(-1, 4, 2) for mark in marks for line in mark]
    inks = [[bool(i) for i, _ in line] for mark in marks for line in mark]
    full = [k for k, c in enumerate(cells) if len(c)]
    for _ in range(many):
        scale = math.exp(r.uniform(math.log(0.4), math.log(1.5)))
        turn = math.radians(r.uniform(-180, 180) if r.random() < 0.3 else r.normal(0, 6))
        if full and r.random() < 0.85:
            mid = cells[texts.pick(r, full)].mean((0, 1)) + r.normal(0, 100, 2) / scale
        else:
            mid = r.uniform(0, 1, 2) * (w, h)
        c, s = math.cos(turn) * scale, math.sin(turn) * scale
        M = np.array([[c, -s, SIDE / 2 - c * mid[0] + s * mid[1]], [s, c, SIDE / 2 - s * mid[0] - c * mid[1]]])
        flags = cv2.INTER_LINEAR if scale > 0.7 else cv2.INTER_AREA
        src = picture if scale > 0.7 else cv2.GaussianBlur(picture, (0, 0), 0.35 / scale)
        g = cv2.warpAffine(src, M, (SIDE, SIDE), flags=flags, borderMode=cv2.BORDER_CONSTANT, borderValue=int(r.integers(256))).astype(np.float32)
        bands = []
        for line, ink in zip(cells, inks):
            if len(line):
                q = line @ M[:, :2].T.astype(np.float32) + M[:, 2].astype(np.float32)
                xh = float(np.median(np.linalg.norm(q[:, 3] - q[:, 0], axis=1)))
                if ((q > -50) & (q < SIDE + 50)).all((1, 2)).any():
                    bands.append(([(a, i) for a, i in zip(q, ink)], xh))
        g *= r.uniform(0.75, 1.15)
        yield weather(r, g), *maps(bands)


def main():
    fonts_dir, lines_dir, backs, out, seed, seconds = sys.argv[1:]
    r = np.random.default_rng(int(seed))
    cv2.setNumThreads(1)
    fonts = lines.Fonts(fonts_dir, "train")
    real = []
    if os.path.isdir(lines_dir):
        for grey, *_ in lines.real(lines_dir, "train", int(seed) % 16, 16):
            if 60 < grey.shape[1] < 1000:
                paper = np.percentile(grey, 85)
                ink = np.clip((paper - grey) / max(20.0, paper - np.percentile(grey, 2)) * 1.3 - 0.2, 0, 1)
                real.append((ink * 255).astype(np.uint8))
            if len(real) >= 700:
                break
    m = Maker(r, fonts, real)
    begun, part = time.time(), 0
    files = sorted(glob.glob(f"{backs}/**/*.bands.json", recursive=True))
    while time.time() - begun < float(seconds):
        got = []
        while len(got) < 64 and time.time() - begun < float(seconds):
            if files and r.random() < 0.05:
                f = texts.pick(r, files)
                picture = cv2.imread(f.replace(".bands.json", ".jpg"), cv2.IMREAD_GRAYSCALE)
                if picture is not None:
                    got += of_back(r, picture, json.load(open(f)), 8)
            else:
                got.append(composed(m))
        if got:
            pack = [np.stack([g[k] for g in got]) for k in range(4)]
            np.savez(f"{out}/.{seed}-{part}.npz", picture=pack[0], core=pack[1], tall=pack[2], way=pack[3])
            os.rename(f"{out}/.{seed}-{part}.npz", f"{out}/{seed}-{part}.npz")
            part += 1


if __name__ == "__main__":
    main()
