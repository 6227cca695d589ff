"""Order of the letters in label-like text, for marks on no list: writes src/proposals/order.txt.

    python training/letter_order.py NAMES src/proposals/vocabulary.rs > src/proposals/order.txt

NAMES: surnames with their shares, one a line (`SMITH 1.006 ...`), such as those of the 1990 census of the
United States (public domain). Of the vocabulary every word but the names of places is taken. No row of
a list is. Trigrams, smoothed by Witten and Bell's method (IEEE Transactions on Information Theory
37 (4), 1991) towards pairs and single letters.
"""

import collections
import re
import string
import sys
from math import log

NAMES, WORDS = 0.65, 0.35  # shares of the two sources, set by judgement
LETTERS = string.ascii_lowercase


def counts(names, vocabulary):
    """How often each letter follows each two, beginnings written as points; all together 60,000 words."""
    words = collections.Counter()
    rows = [l.split()[:2] for l in open(names) if l.strip()]
    # Rare names together are as telling as common ones: the root evens out
    weights = {n.lower(): max(float(s), 0.0005) ** 0.5 for n, s in rows if n.isalpha()}
    total = sum(weights.values())
    for n, w in weights.items():
        words[n] += 60_000 * NAMES * w / total
    text = open(vocabulary).read()
    text = re.sub(r"pub const PLACES.*?\];", "", text, flags=re.S)
    known = [w for q in re.findall(r'"([a-z ]+)"', text) for w in q.split() if len(w) > 1]
    for w in known:
        words[w] += 60_000 * WORDS / len(known)
    out = collections.defaultdict(lambda: collections.Counter())
    for w, n in words.items():
        w = ".." + w
        for i in range(2, len(w)):
            out[w[i - 2 : i]][w[i]] += n
            out[w[i - 1 : i] if w[i - 1] != "." else "."][w[i]] += n
            out[""][w[i]] += n
    return out


def smoothed(out, context):
    """Chances of the letters after a context."""
    if context == "":
        total = sum(out[""].values())
        return {c: (out[""][c] + 1) / (total + len(LETTERS)) for c in LETTERS}
    shorter = "." if context in ("..",) else context[1:]
    below = smoothed(out, shorter if shorter != context else "")
    seen = out[context]
    total, kinds = sum(seen.values()), sum(1 for c in seen.values() if c > 0.05)
    if total == 0:
        return below
    return {c: (seen[c] + kinds * below[c]) / (total + kinds) for c in LETTERS}


def main():
    out = counts(sys.argv[1], sys.argv[2])
    for a in "." + LETTERS:
        for b in "." + LETTERS:
            if b == "." and a != ".":
                continue
            chances = smoothed(out, a + b)
            signs = "".join(chr(33 + min(93, round(-8 * log(chances[c])))) for c in LETTERS)
            print(f"{a}{b} {signs}")


main()
