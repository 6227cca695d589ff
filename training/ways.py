"""All ways through a line, weighed with the wording: what `src/readings/hands/ways.rs` does, to fit how much the wording counts.

Sums are over ways that agree in their last five signs; the 16 likeliest groups go on from step to step.
"""

import functools
import math
import struct

import numpy as np

import texts

KEPT, LEAST, NEAR, CONTEXT = 16, math.log(1e-3), 3, 5
NEVER = -math.inf


def reader(path):
    """What follows what, of a file that `wording.py` wrote: (the last signs, a sign) -> log-chance."""
    data, at, records = open(path, "rb").read(), 5, []
    for _ in range(data[4]):
        count = struct.unpack_from("<I", data, at)[0]
        rows = np.frombuffer(data, "<u8", count, at + 4)
        records.append(dict(zip((rows >> np.uint64(16)).tolist(), (rows & np.uint64(0xFFFF)).tolist())))
        at += 4 + 8 * count

    @functools.lru_cache(1_000_000)
    def follows(before, sign):
        cost = 0.0
        for length in range(min(len(before), data[4] - 1), -1, -1):
            last = functools.reduce(lambda key, s: key << 8 | s, before[len(before) - length :], 0)
            row = records[length].get(last << 8 | sign)
            if row is not None and row >> 8 < 255:
                return -cost - (row >> 8) / 16
            if length:
                cost += (records[length - 1].get(last, 0) & 255) / 16
        return -cost - 16

    return follows


def plus(a, b):
    if a < b:
        a, b = b, a
    return a if b == NEVER else a + math.log1p(math.exp(b - a))


def forward(y, follows, share, usual):
    """-> the last ends {signs: [mass on "no sign", mass on the sign, placed]}, and by step what leads from end to end."""
    ends, steps = {(0,): [0.0, NEVER, None]}, []
    for t, row in enumerate(y):
        stand = [(int(c), float(row[c])) for c in np.flatnonzero(row > LEAST)]
        new, overs = {}, []

        def add(where, to, mass, placed):
            own = new.setdefault(to, [NEVER, NEVER, None, NEVER])
            own[where] = plus(own[where], mass)
            if mass > own[3]:
                own[2:] = [placed, mass]

        for before, (blank, sign, placed) in ends.items():
            both = plus(blank, sign)
            for c, log in stand:
                if c == 0:
                    add(0, before, both + log, placed)
                    overs.append((before, "all", before, None, both, log))
                    continue
                again = before[-1] == c
                if again and sign > NEVER:
                    add(1, before, sign + log, placed)
                    overs.append((before, "sign", before, 0, sign, log))
                source = blank if again else both
                if source > NEVER:
                    weight = log + share * (follows(before, c) + usual)
                    to = (*before, c)[-CONTEXT:]
                    add(1, to, source + weight, (c, t, placed))
                    overs.append((before, "blank" if again else "all", to, c, source, weight))
        kept = sorted(new.items(), key=lambda e: -plus(*e[1][:2]))[:KEPT]
        ends = {before: end[:3] for before, end in kept}
        steps.append(overs)
    return ends, steps


def begun(steps, onwards, whole):
    """By step: {sign: chance that it begins there}."""
    out = [{} for _ in steps]
    for t in range(len(steps) - 1, -1, -1):
        back = {}
        for before, which, to, c, source, weight in steps[t]:
            if to not in onwards:
                continue
            on = weight + onwards[to][c is not None]
            own = back.setdefault(before, [NEVER, NEVER])
            for i, not_of in enumerate(("sign", "blank")):
                if which != not_of:
                    own[i] = plus(own[i], on)
            if c:
                out[t][c] = out[t].get(c, 0.0) + math.exp(min(0.0, source + on - whole))
        onwards = back
    return out


def ways(y, follows, share, usual):
    """Log-chances [steps, labels], each step of sum 1 -> [(sign, step, {sign: chance there})] of the likeliest way; it leads."""
    ends, steps = forward(y, follows, share, usual)
    last = {before: share * (follows(before, 0) + usual) for before in ends}
    masses = {before: plus(*end[:2]) + last[before] for before, end in ends.items()}
    begins = begun(steps, {before: [m, m] for before, m in last.items()}, functools.reduce(plus, masses.values()))
    placed, way = ends[max(masses, key=masses.get)][2], []
    while placed:
        way.append(placed[:2])
        placed = placed[2]
    way.reverse()
    out = []
    for i, (c, t) in enumerate(way):
        before, behind = way[i - 1] if i else None, way[i + 1] if i + 1 < len(way) else None
        first = max(t - NEAR, (before[1] + t) // 2 + 1 if before else 0)
        past = min(t + NEAR, (t + behind[1] - 1) // 2 if behind else len(y) - 1)
        chances = {}
        for step in begins[min(first, t) : max(past, t) + 1]:
            for sign, chance in step.items():
                chances[sign] = chances.get(sign, 0.0) + chance
        # its own as far as its neighbours, where those are others
        low = max(t - NEAR, before[1] + 1) if before and before[0] != c else first
        high = min(t + NEAR, behind[1] - 1) if behind and behind[0] != c else past
        chances[c] = min(1.0, sum(step.get(c, 0.0) for step in begins[min(low, t) : max(high, t) + 1]))
        most = max(chances, key=chances.get)
        chances[most], chances[c] = chances[c], chances[most]
        chances[0] = min(max(1 - sum(chances.values()), 1e-9), chances[c])
        out.append((c, t, chances))
    while out and texts.SIGNS[out[0][0] - 1] == " ":
        out.pop(0)
    while out and texts.SIGNS[out[-1][0] - 1] == " ":
        out.pop()
    return out


def text(way):
    return "".join(texts.SIGNS[c - 1] for c, *_ in way)
