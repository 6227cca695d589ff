"""Made handwriting from stroke models: English round and running hands, without fonts.

A letter is a pen path through control points: x to the right, y up, in units of the x-height,
baseline 0. A word is written as one path, so that letters join as they do under a pen; dots and
crosses follow. A *writer* is a seed: it fixes slant, proportions, pen, looseness and its own lasting
change of each letter; every letter then varies a little each time it is written.
The forms are drawn up for this project after common copybook practice.
"""

import functools

import cv2
import numpy as np


def path(text):
    return np.array([[float(v) for v in p.split(",")] for p in text.split()])


# letter -> variants; a variant is a list of strokes, the first one joins on both sides
SMALL = {
    "a": ["0,.15 .5,.9 .68,.95 .3,1 .08,.5 .25,.02 .55,.3 .78,1 .76,.35 .88,.03 1.1,.3"],
    "b": ["0,.1 .4,1.2 .5,2.1 .3,2.2 .22,1.3 .2,.4 .4,0 .7,.3 .62,.85 .5,.95 .7,.8 1,.85"],
    "c": ["0,.1 .45,.9 .65,.85 .4,1 .1,.55 .25,.05 .55,.03 .85,.3"],
    "d": ["0,.15 .5,.9 .65,.92 .3,1 .08,.5 .25,.02 .55,.3 .85,1.4 .92,2.1 .82,1 .8,.2 .9,.02 1.12,.3",
          "0,.15 .4,.9 .5,.95 .2,.95 .06,.4 .25,0 .6,.3 .75,1.2 .5,2 .05,2.1 .3,1.8"],
    "e": ["0,.1 .4,.5 .6,.8 .42,1 .15,.7 .18,.2 .4,0 .7,.15 .9,.35", "0,.1 .3,.55 .45,.95 .2,.95 .15,.5 .2,.55 .12,.3 .3,0 .75,.3"],
    "f": ["0,.1 .4,1.1 .58,2 .42,2.2 .3,1.3 .22,0 .15,-1 .3,-1.1 .38,-.3 .3,.1 .55,.15 .85,.35"],
    "g": ["0,.15 .5,.9 .66,.95 .3,1 .08,.5 .25,.02 .55,.3 .78,1 .72,0 .6,-1 .3,-1.1 .3,-.7 .75,0 1.1,.3"],
    "h": ["0,.1 .4,1.2 .5,2.1 .32,2.2 .22,1.2 .18,0 .22,.35 .5,.95 .72,.85 .7,.3 .78,.02 1.05,.3"],
    "i": ["0,.1 .3,.95 .28,.4 .35,.03 .6,.3|.4,1.55 .43,1.58"],
    "j": ["0,.1 .35,.95 .32,0 .2,-1 0,-1.05 .05,-.6 .4,0 .65,.3|.45,1.55 .48,1.58"],
    "k": ["0,.1 .4,1.2 .5,2.1 .32,2.2 .22,1.2 .18,0 .2,.4 .6,.98 .65,.75 .3,.5 .55,.4 .7,.03 1,.3"],
    "l": ["0,.1 .35,1.1 .48,2.1 .32,2.2 .22,1.2 .25,.2 .4,0 .65,.3"],
    "m": ["0,.6 .15,.95 .2,.6 .15,0 .2,.4 .45,.97 .58,.7 .52,0 .58,.4 .85,.97 .98,.7 .95,.2 1.05,.02 1.3,.3"],
    "n": ["0,.6 .15,.95 .2,.6 .15,0 .2,.4 .48,.97 .62,.7 .6,.2 .7,.02 .95,.3", "0,.1 .2,.9 .22,.4 .2,0 .35,.6 .6,.95 .62,.3 .75,.02 .95,.3"],
    "o": ["0,.1 .4,.85 .5,.98 .2,.9 .08,.4 .3,0 .6,.3 .6,.8 .45,.97 .6,.82 .95,.9", "0,.2 .35,.9 .1,.6 .2,.05 .5,.15 .55,.75 .35,.95 .5,.8 .85,.85"],
    "p": ["0,.4 .25,1.1 .28,.5 .15,-.9 .1,-1.15 .2,.2 .45,.9 .68,.8 .65,.2 .45,0 .4,.1 .7,.05 .95,.3", "0,.3 .3,1.5 .25,0 .15,-1.1 .25,.3 .5,.95 .7,.6 .65,.1 .75,.03 1,.3"],
    "q": ["0,.15 .5,.9 .66,.95 .3,1 .08,.5 .25,.02 .55,.3 .78,1 .7,0 .62,-1.1 .75,-.9 .85,-.2 1.1,.3"],
    "r": ["0,.1 .25,.95 .3,1.1 .32,.9 .55,.88 .52,.4 .6,.02 .85,.3", "0,.5 .15,.95 .18,.4 .15,0 .2,.5 .45,.98 .62,.85 .9,.6"],
    "s": ["0,.1 .35,.9 .42,1.05 .45,.6 .4,.1 .15,.02 .2,.12 .5,.05 .85,.3", "0,.1 .5,.95 .25,.85 .45,.45 .3,.02 .05,.1 .4,.02 .75,.3"],
    "t": ["0,.1 .35,1.2 .4,1.6 .35,.8 .32,.2 .42,.02 .7,.3|.08,1.15 .65,1.2", "0,.1 .35,1.5 .3,.3 .4,.02 .7,.25|.25,1.2 .95,1.3"],
    "u": ["0,.1 .25,.95 .2,.4 .3,.02 .55,.3 .75,.95 .7,.4 .8,.02 1.05,.3"],
    "v": ["0,.6 .15,.95 .22,.5 .4,.02 .65,.5 .62,.95 .7,.8 1,.88"],
    "w": ["0,.1 .22,.95 .2,.3 .35,.02 .6,.4 .7,.9 .68,.3 .85,.02 1.1,.6 1.05,.97 1.15,.8 1.4,.88"],
    "x": ["0,.6 .15,.95 .35,.6 .45,.1 .65,.02 .9,.3|.7,1 .35,.5 .05,.02"],
    "y": ["0,.6 .15,.95 .2,.4 .35,.05 .6,.4 .75,.95 .68,0 .55,-1 .28,-1.1 .3,-.7 .7,0 1.05,.3"],
    "z": ["0,.5 .15,.95 .4,.95 .55,.85 .2,.1 .1,0 .4,.1 .5,-.5 .3,-1.1 .15,-.9 .5,-.1 .9,.3", "0,.8 .2,.95 .6,.9 .1,.05 .35,.1 .8,.1"],
}
LARGE = {
    "A": ["0,.2 .2,0 .6,.8 1.1,2.1 1.15,1.2 1.15,.2 1.3,.02 1.5,.3|.45,.75 .9,.85 1.25,.7", "-.1,.3 0,0 .4,.5 .95,2.2 1,1 1.05,0 1.3,.2|.3,.8 .6,.7 1.2,.9"],
    "B": ["0,1.6 .2,2 .5,1.9 .45,1 .35,.1 .1,.05 .3,.8 .5,1.8 .9,2.15 1.15,1.8 .9,1.3 .6,1.15 1,1.1 1.2,.6 .95,.05 .5,0 .4,.2"],
    "C": ["1.1,1.7 1.05,2.1 .7,2.1 .3,1.5 .1,.7 .35,.05 .8,.05 1.2,.4", "1.05,1.6 .95,2.15 .75,2.1 .85,1.6 .95,2.0 .55,1.9 .15,.9 .4,0 .9,.05 1.2,.4"],
    "D": ["0,1.9 .5,2.1 .55,1.2 .45,.2 .2,0 .1,.15 .5,.05 1,.2 1.25,1.1 1,1.95 .5,2.15 .1,1.9 .15,1.6"],
    "E": ["1,1.8 .8,2.15 .45,2 .35,1.5 .7,1.15 .35,1.1 .1,.5 .4,0 .8,.1 1.05,.4"],
    "F": ["0,1.8 .3,2.1 .8,1.95 1.3,2.15|.75,1.95 .65,1 .5,.2 .2,0 .05,.25|.45,1.05 .95,1.1"],
    "G": ["1,1.75 .95,2.1 .6,2.05 .2,1.3 .15,.6 .5,.4 .9,.8 1.05,1.2 1,.4 .7,-.1 .3,0 .2,.2"],
    "H": ["0,1.7 .2,2 .4,1.9 .35,.8 .15,0 0,.2|1.2,2.15 1,1.9 .95,.8 1,.1 1.2,.05 1.4,.3|.3,1 .6,1.15 .98,1.05"],
    "I": ["0,.5 .2,1 .6,1.6 .8,2.1 .6,2 .5,1 .35,.15 .05,.05 -.05,.3", "0,1.8 .3,2.1 .6,2 .5,1 .35,.1 .1,.05 .3,.2"],
    "J": ["0,.7 .3,1.3 .7,1.9 .8,2.15 .6,2 .5,.6 .4,-.6 .15,-1 0,-.7 .4,-.1 .8,.3", "0,1.8 .4,2.1 .7,2 .55,.6 .45,-.7 .1,-.9 .1,-.5 .8,.3"],
    "K": ["0,1.7 .2,2 .4,1.9 .35,.8 .15,0 0,.2|1.2,2.1 .9,1.7 .4,1.1 .7,.9 .9,.2 1.1,.02 1.3,.3"],
    "L": ["0,1.5 .3,1.4 .75,1.8 .7,2.15 .5,1.9 .5,1 .35,.2 .1,0 .1,.2 .5,.1 .9,.05 1.2,.4"],
    "M": ["0,.1 .2,.1 .5,1.2 .7,2.1 .7,1.2 .65,.1 .9,1 1.3,2.1 1.3,1 1.3,.15 1.45,.02 1.7,.3"],
    "N": ["0,.2 .15,.05 .4,.9 .7,2 .8,1.2 1,.05 1.2,1 1.4,1.9 1.6,2.15", "0,1.8 .2,2.1 .4,1.6 .3,0 .4,1 .7,2 .95,1.5 .9,.2 1.1,.02 1.3,.3"],
    "O": ["0.9,2.1 .5,2 .1,1.3 .15,.4 .5,0 .95,.4 1.15,1.2 .95,2 .6,1.95 .6,1.5 1.1,1.8"],
    "P": ["0,1.5 .1,1.9 .5,2.15 1,2 1.1,1.5 .8,1.1 .5,1.1|.55,2 .5,1 .35,.1 .1,.05 .05,.3"],
    "Q": ["0.2,1.6 .5,2.1 .95,1.9 1,1.2 .6,.3 .2,0 .05,.2 .4,.2 .9,0 1.3,.2"],
    "R": ["0,1.5 .1,1.9 .5,2.15 1,2 1.05,1.5 .75,1.15 .5,1.1 .8,.9 .95,.2 1.15,.02 1.35,.3|.55,2 .5,1 .35,.1 .1,.05 .05,.3"],
    "S": ["0,.2 .4,.8 .9,1.8 .85,2.15 .6,1.9 .75,1.2 .75,.4 .4,0 .05,.2 .2,.5", "1,1.8 .8,2.15 .5,1.9 .6,1.3 .8,.7 .6,.1 .2,0 .05,.3"],
    "T": ["0,1.7 .2,2.05 .7,1.9 1.3,2.15|.75,1.95 .65,1 .5,.2 .25,0 .05,.2"],
    "U": ["0,1.7 .2,2.1 .4,1.8 .3,.7 .5,.05 .9,.3 1.1,1.2 1.2,2.1 1.15,.8 1.2,.1 1.35,.02 1.55,.3"],
    "V": ["0,1.7 .2,2.1 .4,1.8 .45,.8 .55,0 .8,.7 1.05,1.8 1.4,2.15"],
    "W": ["0,1.7 .2,2.1 .4,1.7 .4,.7 .5,0 .8,.9 1,1.9 1,.8 1.1,0 1.4,.8 1.6,1.8 1.9,2.15"],
    "X": ["0,1.7 .3,2.1 .55,1.6 .7,.5 .95,.02 1.2,.3|1.2,2.1 .8,1.5 .4,.4 .1,0 0,.2"],
    "Y": ["0,1.7 .2,2.1 .4,1.7 .4,1.1 .6,.9 .9,1.2 1.1,2.1 1,.8 .8,-.6 .4,-1 .3,-.6 .8,0 1.3,.3"],
    "Z": ["0,1.7 .3,2.1 .7,2 1,2.1 .6,1.2 .1,.1 .4,.2 .6,-.4 .3,-1 .2,-.6 .7,0 1.1,.3", "0,1.8 .3,2.1 1,2.05 .5,1 0,.05 .5,.15 1.1,.1"],
}
FIGURES = {
    "0": ["0.6,1.6 .3,1.7 .08,.9 .25,.05 .6,.2 .75,.9 .6,1.55 .45,1.68"],
    "1": ["0.1,1.3 .35,1.65 .32,.8 .28,0"],
    "2": ["0.1,1.3 .35,1.68 .65,1.4 .4,.6 .05,.02 .3,.12 .75,.05"],
    "3": ["0.1,1.5 .4,1.68 .6,1.35 .3,.95 .62,.6 .4,.02 .05,.15", "0.1,1.65 .65,1.65 .3,1 .65,.6 .45,0 .05,.1"],
    "4": ["0.5,1.65 .25,1 .05,.55 .4,.5 .8,.6|.6,1.1 .5,.5 .45,-.1"],
    "5": ["0.2,1.6 .15,1 .45,1 .65,.5 .4,.02 .05,.15|.2,1.6 .5,1.6 .75,1.7"],
    "6": ["0.6,1.7 .3,1.3 .1,.5 .3,0 .6,.3 .55,.75 .25,.7 .12,.45"],
    "7": ["0.05,1.5 .2,1.65 .45,1.55 .8,1.65 .5,.8 .35,-.1"],
    "8": ["0.65,1.45 .4,1.68 .2,1.3 .5,.8 .6,.3 .3,0 .1,.35 .4,.85 .65,1.35 .55,1.6"],
    "9": ["0.6,1.5 .3,1.65 .1,1.2 .35,.85 .6,1.2 .65,1.6 .6,.8 .4,-.2"],
    ".": [".1,.05 .13,.08"], ",": [".12,.1 .14,0 .05,-.25"], ":": [".12,.1 .14,.12|.2,.75 .22,.78"],
    ";": [".12,.1 .14,0 .05,-.25|.2,.75 .22,.78"], "-": [".05,.5 .5,.55"], "—": [".05,.5 1.3,.55"],
    "'": [".15,2.1 .18,1.9 .1,1.7"], "\"": [".1,2.1 .08,1.7|.3,2.1 .28,1.7"], "!": [".25,1.9 .15,.5|.1,.05 .13,.08"],
    "?": ["0,1.6 .3,1.9 .55,1.5 .25,.9 .2,.5|.18,.05 .2,.08"], "/": ["0,-.2 .7,1.9"],
    "(": [".4,2 .1,1.2 .15,.2 .35,-.3"], ")": [".1,2 .4,1.2 .3,.2 .05,-.3"],
    "&": ["0.9,.9 .6,.2 .2,0 .05,.4 .5,1.2 .5,1.65 .25,1.6 .3,1.1 .7,.2 1,.1", "0.7,1.4 .3,1.6 .3,1.1 .5,.95 .1,.7 .2,.05 .8,.3"],
    "£": ["0.8,1.5 .6,1.75 .35,1.4 .4,.6 .1,.05 .4,.15 .8,.05|.1,.8 .7,.85"],
    "½": ["0.1,1.5 .25,1.75 .2,1|0,.75 .8,.9|.35,.5 .55,.6 .6,.35 .3,-.1 .7,-.05"], "=": [".05,.7 .6,.72|.05,.35 .6,.37"],
    "+": [".05,.6 .7,.6|.38,.95 .36,.25"], "°": [".2,2 .05,1.8 .2,1.6 .35,1.8 .22,2"], "*": [".1,1.2 .5,.6|.5,1.2 .1,.6|.3,1.3 .3,.5"],
}
MARKS = {"´": ".35,1.3 .6,1.7", "`": ".3,1.7 .5,1.35", "^": ".2,1.3 .4,1.65 .6,1.3", "¨": ".25,1.45 .28,1.48|.55,1.45 .58,1.48", "¸": ".4,0 .5,-.2 .3,-.4"}
ACCENTED = dict(zip("éèêëàâçôöùûüîïäáíóú", [(b, m) for b, m in zip("eeeeaacoouuuiiaaiou", "´`^¨`^¸^¨`^¨^¨¨´´´´")]))
FORMS = {**SMALL, **LARGE, **FIGURES}
PARSED = {k: [[path(s) for s in v.split("|")] for v in vs] for k, vs in FORMS.items()}
MARKED = {k: [path(s) for s in v.split("|")] for k, v in MARKS.items()}
SIGNS = set(PARSED) | set(ACCENTED) | {" "}


@functools.lru_cache(3000)
def writer(seed):
    """One hand: slant, proportions, pen and lasting changes of each letter."""
    r = np.random.default_rng(seed)
    upright = r.random() < 0.2
    running = r.random()
    hand = {
        "slant": r.normal(0.1, 0.12) if upright else r.uniform(0.25, 0.95),
        "wide": r.uniform(0.6, 1.25) * (1 + 0.25 * running * (r.random() < 0.4)),
        "rise": r.uniform(0.65, 1.2),
        "capitals": r.uniform(0.8, 1.25),
        "gap": r.uniform(-0.05, 0.3) if r.random() < 0.7 else r.uniform(0.2, 0.7),
        "space": r.uniform(0.5, 1.3),
        "pen": r.uniform(0.05, 0.13),
        "contrast": r.uniform(0.6, 2.6) if r.random() < 0.65 else r.uniform(0, 0.3),
        "loose": r.uniform(0.015, 0.05) + 0.035 * running**2,
        "waver": r.uniform(0, 0.08),
        "joined": r.random() < 0.85,
        "flourish": r.uniform(0, 1) ** 2 * 0.6,
        "flat": running**3 * r.uniform(0, 0.5),
        "letters": {},
    }
    for sign, variants in PARSED.items():
        v = int(r.integers(len(variants)))
        strength = r.uniform(0.02, 0.1)
        hand["letters"][sign] = [s + r.normal(0, strength, s.shape) * (1, 0.8) for s in variants[v]]
    return hand


def smooth(points, steps=7):
    """Catmull-Rom curve through the points."""
    if len(points) < 3:
        t = np.linspace(0, 1, steps)[:, None]
        return points[0] * (1 - t) + points[-1] * t
    p = np.vstack([2 * points[0] - points[1], points, 2 * points[-1] - points[-2]])
    t = (np.arange(steps) / steps)[None, :, None]
    a, b, c, d = (p[i : len(p) - 3 + i, None] for i in range(4))
    curve = 0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
    return np.vstack([curve.reshape(-1, 2), points[-1:]])


def write(text, seed, rng, height=44, pad=10):
    """Writes a line; `^` raises what follows up to the next space. -> ink [H, W] uint8, or None."""
    hand = writer(seed)
    strokes, x, running, base, raised = [], 0.3, [], 0.0, False
    scale = 1.0

    def place(points, letter):
        q = points * (hand["wide"] * letter, letter)
        tall = np.clip(q[:, 1] - 1, 0, None)
        q[:, 1] += tall * (hand["rise"] - 1)
        return q

    def flush():
        nonlocal running
        if running:
            strokes.append(np.vstack(running))
        running = []

    for i, sign in enumerate(text):
        if sign == "^":
            raised, scale = True, 0.6
            flush()
            continue
        if sign == " ":
            flush()
            raised, scale = False, 1.0
            x += hand["space"] * rng.uniform(0.7, 1.4)
            continue
        plain, mark = ACCENTED.get(sign, (sign, None))
        if plain not in PARSED:
            return None
        forms = hand["letters"][plain]
        if rng.random() < 0.1:
            forms = PARSED[plain][rng.integers(len(PARSED[plain]))]
        size = scale * (hand["capitals"] if plain.isupper() else 1.0) * rng.normal(1, 0.04)
        base += rng.normal(0, hand["waver"])
        base *= 0.9
        up = base + (0.75 if raised else 0)
        parts = [place(f + rng.normal(0, hand["loose"], f.shape), size) for f in forms]
        if hand["flat"] and plain in "nmuwirsev":
            parts[0][:, 1] = parts[0][:, 1] * (1 - hand["flat"]) + hand["flat"] * 0.4
        if plain.isupper() and rng.random() < hand["flourish"]:
            start = parts[0][0]
            parts[0] = np.vstack([start + (-rng.uniform(0.2, 0.9), rng.uniform(-0.5, 0.3)), start + (-rng.uniform(0.1, 0.5), rng.uniform(0.1, 0.5)), parts[0]])
        lowest = min(p[:, 0].min() for p in parts) if not plain.islower() else 0
        x -= min(0, lowest) * 0.7
        main = parts[0] + (x, up)
        joins = hand["joined"] and plain.islower() and rng.random() < 0.93
        if not joins:
            flush()
        if joins and running and plain.islower() and running[-1][-1][1] > up + 0.6:
            main = main[1:]
        running.append(main)
        if not plain.islower() and not (plain.isupper() and main[-1][1] < up + 0.5 and parts[0][-1, 0] > parts[0][:, 0].max() - 0.2):
            flush()
        for p in parts[1:]:
            strokes.append(p + (x, up))
        if mark:
            for m in MARKED[mark]:
                strokes.append(place(m + (0, 0.9 if plain.isupper() else 0), size) + (x, up))
        x += max(main[-1][0] - x if plain.islower() else max(p[:, 0].max() for p in parts), 0.1)
        x += (hand["gap"] if plain.islower() else max(hand["gap"], 0.12)) * hand["wide"] * scale * rng.uniform(0.5, 1.5)
    flush()
    if not strokes:
        return None
    curves = [smooth(s, 6) for s in strokes if len(s) > 1]
    curves = [c + np.stack([c[:, 1] * hand["slant"], np.zeros(len(c))], 1) for c in curves]
    every = np.vstack(curves)
    low, high = every.min(0), every.max(0)
    zoom = 3 * height / max(high[1] - low[1], 1.6)
    width = int((high[0] - low[0]) * zoom + 6 * pad)
    if width > 3 * 1010:
        return None
    big = np.zeros((3 * (height + 2 * pad), width), np.uint8)
    pen = hand["pen"] * min(1, 0.35 + 0.75 * hand["wide"]) * zoom * rng.uniform(0.7, 1.2)
    for c in curves:
        q = np.stack([(c[:, 0] - low[0]) * zoom + 3 * pad, (high[1] - c[:, 1]) * zoom + 3 * pad], 1)
        d = np.diff(q, axis=0)
        down = np.clip(d[:, 1] / (np.hypot(d[:, 0], d[:, 1]) + 1e-6), 0, 1)
        down = np.convolve(down, [0.25, 0.5, 0.25], "same")
        thick = np.clip(pen * (1 + hand["contrast"] * down) / (1 + 0.35 * hand["contrast"]), 2, 30)
        ends = np.round(q * 8).astype(np.int32)
        for a, b, t in zip(ends[:-1].tolist(), ends[1:].tolist(), np.round(thick).astype(int).tolist()):
            cv2.line(big, a, b, 255, t, cv2.LINE_AA, 3)
    return cv2.resize(big, (width // 3, height + 2 * pad), interpolation=cv2.INTER_AREA)
