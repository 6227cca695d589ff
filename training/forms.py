"""Lines of printed forms filled in by hand: headings in type, what was written behind them, the rule below.

What is written comes of a function `write(r, text) -> (ink [h, w] uint8, truth) or None`: a drawn hand, a script face, or
a real hand whose words are set anew (`recompose.py`).
"""

import numpy as np
from PIL import Image

import lines
import texts

ENTRIES = [texts.number, texts.person, texts.person, texts.date, texts.title, texts.title, texts.address, texts.price]


def entry(r):
    return texts.pick(r, ENTRIES)(r)[: int(r.integers(8, 34))].strip()


def stands_on(ink):
    """Row on which the letters stand: the lowest with half as much ink as the fullest."""
    rows = np.convolve(ink.sum(1, dtype=np.float64), [0.25, 0.5, 0.25], "same")
    return int(np.flatnonzero(rows >= 0.5 * rows.max())[-1])


def heading(r, fonts, last=False):
    """-> (ink, truth) in type, or None."""
    text = texts.pick(r, texts.OFFICES) if not last else texts.pick(r, ["£", "s.", "d.", "in.", "ft.", "gns.", "19", "18", "No.", ".", ")", "Esq."])
    if not last:
        text = text.upper() if r.random() < 0.15 else text
        text += texts.pick(r, ["", "", "", ":", ":", ".", ",", " ...", " —"])
    kind = texts.pick(r, ["print", "print", "print", "typewriter"])
    drawn = lines.draw_font(r, fonts, kind, text)
    if drawn is None:
        return None
    ink, small = drawn[0], r.uniform(0.42, 0.95)
    size = max(2, int(ink.shape[1] * small)), max(2, int(ink.shape[0] * small))
    return np.asarray(Image.fromarray(ink).resize(size, Image.BILINEAR)), drawn[1]


def plan(r):
    """Which pieces stand on the line: p in type, w written."""
    return texts.pick(r, ["pw"] * 10 + ["pwpw", "pwpw", "pwt", "pwt", "wp", "wt", "w", "w", "p"])


def ruled(r, ink, low, begins):
    """A rule or dots to write on, at row `low` from column `begins`."""
    dots, thick, dark = r.random() < 0.6, int(r.integers(1, 3)), int(r.integers(90, 256))
    step = int(r.integers(4, 10))
    columns = np.arange(begins, ink.shape[1])
    columns = columns[(columns % step) < thick] if dots else columns
    rows = slice(max(0, min(low, ink.shape[0] - thick)), max(0, min(low, ink.shape[0] - thick)) + thick)
    ink[rows, columns] = np.maximum(ink[rows, columns], dark)


def filled_in(r, fonts, write):
    """-> (ink [h, w], truth) of one line, or None where a piece of it can't be drawn."""
    some = []
    for kind in plan(r):
        one = write(r, entry(r)) if kind == "w" else heading(r, fonts, kind == "t")
        if one is None or not one[1]:
            return None
        some.append((kind, *one, stands_on(one[0])))
    shift = [0 if k == "w" else int(round(r.normal(0, 2))) for k, *_ in some]
    over = max(on + s for (*_, on), s in zip(some, shift))
    under = max(ink.shape[0] - on - s for (_, ink, _, on), s in zip(some, shift))
    out, begins, said = np.zeros((over + under + 2, 0), np.uint8), None, []
    for (kind, ink, truth, on), s in zip(some, shift):
        gap = int(r.integers(6, 46)) if out.shape[1] else 0
        if kind == "w" and begins is None:
            begins = out.shape[1] + gap // 3
        at, low = out.shape[1] + gap, over - on - s
        low = min(max(0, low), out.shape[0] - ink.shape[0])
        out = np.pad(out, ((0, 0), (0, gap + ink.shape[1])))
        out[low : low + ink.shape[0], at:] = ink
        said.append(truth)
    if r.random() < 0.3:
        out = np.pad(out, ((0, 0), (0, int(r.integers(4, 90)))))
    if r.random() < 0.5:
        ruled(r, out, over + int(r.integers(0, 5)), begins or 0)
    if out.shape[0] > lines.TALL:
        out = np.asarray(Image.fromarray(out).resize((max(2, out.shape[1] * lines.TALL // out.shape[0]), lines.TALL), Image.BILINEAR))
    return out, " ".join(said)


def by_drawn_hand(fonts, unseen):
    def write(r, text):
        kind = texts.pick(r, ["made hand", "made hand", "script", "script", "hand", "typewriter"])
        tall = int(lines.INK * r.uniform(0.7, 1.05))
        return lines.handwritten(r, text, unseen, tall) if kind == "made hand" else lines.draw_font(r, fonts, kind, text, not unseen)

    return write
