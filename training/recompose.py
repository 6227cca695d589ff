"""Recomposed lines: words, letter runs and letters of one writer's real lines, set anew as other texts.

Pieces come from `aligned.py`: upright, of one size, on one baseline. A word is made of as few pieces as its
writer's lines allow; among the pieces that spell a run, the one is taken whose strokes meet those of the piece
before it at nearly the same height. Then the hand's slant is put back.
"""

import numpy as np

import forms
import lines
import texts
from aligned import ROOM, SURE, TALL, sheared

LONGEST_RUN = 9


class Writer:
    """One hand: where each run of signs stands on its lines."""

    def __init__(self, found):
        self.source, self.slant, self.lines, self.bare = found
        self.runs, self.gaps = {}, []
        for n, (_, said, places, sure) in enumerate(self.lines):
            for i in range(len(said)):
                if said[i] == " ":
                    self.gaps.append(int(places[i + 1] - places[i]))
                    continue
                for j in range(i + 1, min(len(said), i + LONGEST_RUN) + 1):
                    if said[j - 1] == " " or sure[j - 1] < SURE or places[j] - places[j - 1] < 2:
                        break
                    self.runs.setdefault(said[i:j], []).append((n, i, j))
        self.gaps = [g for g in self.gaps if 3 <= g <= 60] or [12]

    def parted(self, r, word):
        """A word as runs that this hand wrote, few and long, or None."""
        best = [0.0] + [1e9] * len(word)
        before = [0] * (len(word) + 1)
        for j in range(1, len(word) + 1):
            for i in range(max(0, j - LONGEST_RUN), j):
                run = word[i:j]
                if best[i] < 1e9 and run in self.runs:
                    whole = i == 0 and j == len(word)
                    # now and then shorter pieces than there might be, so that more comes of few lines
                    cost = best[i] + 1 + 0.7 * (j - i == 1) + r.exponential(0.45) + (r.exponential(1.0) if whole else 0)
                    if cost < best[j]:
                        best[j], before[j] = cost, i
        if best[-1] >= 1e9:
            return None
        out, j = [], len(word)
        while j:
            out.append(word[before[j] : j])
            j = before[j]
        return out[::-1]

    def piece(self, place):
        n, i, j = place
        dark, said, places, _ = self.lines[n]
        a, b = int(places[i]), int(places[j])
        tied_before = i > 0 and said[i - 1] != " "
        tied_behind = j < len(said) and said[j] != " "
        return Piece(dark, a, b, tied_before, tied_behind, said[i - 1] if i else " ", said[j] if j < len(said) else " ")


class Piece:
    """Columns a to b of a line; `enters` and `leaves`: height of the stroke at its edges, px, or None."""

    def __init__(self, dark, a, b, tied_before, tied_behind, before, behind):
        self.ink, self.before, self.behind = dark[:, a:b], before, behind
        self.enters = stroke(dark, a) if tied_before else None
        self.leaves = stroke(dark, b - 1) if tied_behind else None


def stroke(dark, x):
    """Middle of the ink of a column, or None where it is bare or holds much."""
    column = dark[:, max(0, x - 1) : x + 2].max(1)
    rows = np.flatnonzero(column > 90)
    if not len(rows) or rows[-1] - rows[0] > 16:
        return None
    return float(np.average(rows, weights=column[rows]))


def apart(left, right):
    """How badly two pieces join."""
    cost = 0.0
    if left.leaves is None or right.enters is None:
        cost += 2.5 * ((left.leaves is None) != (right.enters is None))
    else:
        cost += abs(left.leaves - right.enters)
    return cost


def chosen(r, writer, runs):
    """One piece for each run, each the one of up to eight that joins best to the one before."""
    out = []
    for n, run in enumerate(runs):
        places = writer.runs[run]
        some = [writer.piece(places[i]) for i in r.permutation(len(places))[:8]]
        wanted = runs[n - 1][-1] if n else " "
        following = runs[n + 1][0] if n + 1 < len(runs) else " "
        cost = [(apart(out[-1], p) if out else 0) - 1.5 * (p.before == wanted) - 1.0 * (p.behind == following) + r.exponential(0.6) for p in some]
        out.append(some[int(np.argmin(cost))])
    return out


def word_of(r, pieces):
    """Pieces side by side on [TALL + 2 ROOM, width]."""
    width = sum(p.ink.shape[1] for p in pieces) + 8
    out = np.zeros((TALL + 2 * ROOM, width), np.uint8)
    x, low = 0, 0.0
    for n, p in enumerate(pieces):
        if n:
            last = pieces[n - 1]
            if last.leaves is not None and p.enters is not None:
                low = float(np.clip(last.leaves + low - p.enters, -3, 3))
                x -= int(r.random() < 0.5)  # strokes overlap a little
            else:
                low *= 0.5
        k, ink = int(round(low)), p.ink
        moved = np.zeros_like(ink)
        moved[max(0, k) : len(ink) + min(0, k)] = ink[max(0, -k) : len(ink) + min(0, -k)]
        x = max(x, 0)
        out[:, x : x + ink.shape[1]] = np.maximum(out[:, x : x + ink.shape[1]], moved)
        x += ink.shape[1]
    return out[:, : max(x, 1)]


def written(r):
    # what can't be spelt falls out, and long lines are wanted too
    return " ".join(texts.written(r) for _ in range(int(r.integers(1, 4))))


def line(r, writer, text=written):
    """-> (dark [TALL + 2 ROOM, width], text) or None where the writer's letters don't spell the texts tried."""
    for _ in range(8):
        wanted = text(r)
        wanted = wanted.replace("^", "").replace("|", " ").split()
        found = [(w, writer.parted(r, w)) for w in wanted]
        kept = [(w, runs) for w, runs in found if runs]
        if sum(len(w) for w, _ in kept) >= max(2, 0.6 * sum(map(len, wanted))):
            break
    else:
        return None
    usual, some = float(np.median(writer.gaps)), []
    for n, (_, runs) in enumerate(kept):
        if n:
            gap = texts.pick(r, writer.gaps) if r.random() < 0.7 else usual * r.uniform(0.6, 1.6)
            some.append(np.zeros((TALL + 2 * ROOM, int(np.clip(gap, 4, 70))), np.uint8))
        some.append(np.roll(word_of(r, chosen(r, writer, runs)), int(np.clip(round(r.normal(0, 0.7)), -2, 2)), 0))
    dark = np.hstack(some)
    side = int(abs(writer.slant) * (TALL + 2 * ROOM) / 2) + 2
    dark = np.pad(dark, ((0, 0), (side, side)))
    dark = sheared(dark, -writer.slant)
    inked = np.flatnonzero(dark.max(0) > 60)
    if not len(inked):
        return None
    return dark[:, max(0, inked[0] - 2) : inked[-1] + 3], " ".join(w for w, _ in kept)


def blank(r, writer):
    """Bare paper of real lines, as long as a line: nothing is to be read."""
    wide = int(r.choice(lines.BUCKETS[:9]))
    some = []
    while sum(s.shape[1] for s in some) < wide:
        one = texts.pick(r, writer.bare)
        some.append(one[:, ::-1] if r.random() < 0.5 else one)
    mask = np.zeros((lines.TALL, wide), np.uint8)
    mask[8:56] = np.hstack(some)[:, :wide]
    return mask, wide, ""


def make(r, hands, fonts=None, filled_in=0.0):
    """-> (mask [64, bucket], ink width px, text) of one of the `hands` (Writers), or None.

    `filled_in`: share of lines on which printed headings (in faces of `fonts`) stand before what is written.
    """
    writer = texts.pick(r, hands)
    if writer.bare and r.random() < 0.025:
        return blank(r, writer)
    if r.random() < filled_in:
        found = forms.filled_in(r, fonts, lambda r, _: line(r, writer, forms.entry))
    else:
        found = line(r, writer)
    if found is None:
        return None
    dark, said = found
    before, after = (int(v) for v in r.integers(2, 14, 2))
    bucket = lines.bucket(dark.shape[1] + before + after)
    if bucket is None or len(said) * 5.2 > bucket:
        return None
    mask = np.zeros((lines.TALL, bucket), np.uint8)
    top = (lines.TALL - dark.shape[0]) // 2
    mask[top : top + dark.shape[0], before : before + dark.shape[1]] = dark
    return mask, before + dark.shape[1] + after, said
